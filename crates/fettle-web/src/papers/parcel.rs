//! What goes with the parcel: the packing list and the declaration of its contents.

use fettle_bench::{Currency, Decimal, Packed, written};
use fettle_papers::{
    ContentsDeclaration, DeclaredContent, DeclaredParty, PackedCamera, PackedItem, PackingList,
    Pdf, SendingCategory, contents_declaration,
};

use super::{From, lines};

const NOT_PACKED: &str = "it is not packed yet: tick off what goes into the parcel first";

fn packed<'a>(from: &From<'a>) -> Result<&'a Packed, String> {
    let packed = from.view.packed.as_ref().map(|kept| &kept.what);
    packed.ok_or_else(|| NOT_PACKED.to_owned())
}

pub(super) fn packing_list(from: &From<'_>) -> Result<Pdf, String> {
    let packed = packed(from)?;
    let sent = from.view.sent.last().map(|kept| &kept.what);
    let came = packed.ticks.iter().map(|tick| PackedItem {
        what: tick.item.clone(),
        came: true,
        packed: tick.packed,
        note: String::new(),
    });
    let list = PackingList {
        language: from.language,
        bench: from.bench(),
        owner: from.owner(),
        issued: from.today,
        carrier: sent.map(|it| it.carrier.clone()).unwrap_or_default(),
        tracking: sent.map(|it| it.tracking.clone()).unwrap_or_default(),
        weight_g: packed.weight_g,
        cameras: vec![PackedCamera {
            visit: from.visit(),
            camera: from.camera(),
            items: came.collect(),
        }],
        has_cells: packed.has_cells,
        notes: lines(&packed.note),
    };
    fettle_papers::packing_list(&list, from.size).map_err(|error| error.to_string())
}

pub(super) fn declaration(from: &From<'_>) -> Result<Pdf, String> {
    let packed = packed(from)?;
    let first = packed.declared.first();
    let first = first.ok_or("nothing was declared of its contents: write it where it is packed")?;
    let currency = first.value.currency;
    let declaration = ContentsDeclaration {
        language: from.language,
        bench: from.bench(),
        sender: sender(from),
        addressee: addressee(from),
        issued: from.today,
        reference: from.visit(),
        category: SendingCategory::ReturnedGoods,
        contents: packed
            .declared
            .iter()
            .map(|item| DeclaredContent {
                what: item.what.clone(),
                quantity: item.quantity,
                weight_g: item.weight_g,
                value: written(item.value.amount, item.value.currency),
                hs: item.hs.clone(),
                origin: item.origin.clone(),
            })
            .collect(),
        total_value: written(total(packed, currency)?, currency),
        currency: currency.to_string(),
        gross_weight_g: packed.weight_g,
        papers: from
            .view
            .bills
            .iter()
            .map(|bill| bill.id.to_string())
            .collect(),
        has_cells: packed.has_cells,
        remarks: Vec::new(),
    };
    contents_declaration(&declaration, from.size).map_err(|error| error.to_string())
}

/// The sum of the values, which must be of one currency.
fn total(packed: &Packed, currency: Currency) -> Result<Decimal, String> {
    let mut total = Decimal::ZERO;
    for item in &packed.declared {
        if item.value.currency != currency {
            return Err(format!(
                "values are declared in {currency} and {}: declare all in one currency",
                item.value.currency
            ));
        }
        total = total
            .checked_add(item.value.amount)
            .ok_or("the values add up to more than exact decimals can hold")?;
    }
    Ok(total)
}

fn sender(from: &From<'_>) -> DeclaredParty {
    let settings = from.settings;
    DeclaredParty {
        name: settings.name.clone(),
        lines: lines(&settings.address),
        country: settings.country.clone(),
        customs_number: settings.tax_number.clone(),
        ..DeclaredParty::default()
    }
}

fn addressee(from: &From<'_>) -> DeclaredParty {
    let details = &from.view.owner.details;
    DeclaredParty {
        name: details.name.clone(),
        lines: lines(&details.address),
        country: details.country.clone(),
        phone: details.phone.clone(),
        email: details.email.clone(),
        customs_number: String::new(),
    }
}
