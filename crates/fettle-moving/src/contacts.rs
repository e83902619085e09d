//! Contacts as a table of owners: vCard 3 (RFC 2426) and vCard 4 (RFC 6350), one row a card.

use calcard::{
    Entry, Parser,
    vcard::{VCard, VCardParameterName, VCardProperty, VCardValue},
};

use crate::{
    encoding::Written,
    problem::Problem,
    table::{Row, Table},
};

/// The columns: the fields of owners by their names.
const HEADINGS: [&str; 5] = ["name", "email", "phone", "address", "note"];

/// Reads every card. A group of people (`KIND:group`) is no owner and left out.
pub(crate) fn read(text: &str, written: Written) -> Result<Table, Vec<Problem>> {
    let mut rows = Vec::new();
    let mut problems = Vec::new();
    for (n, card) in cards(text).into_iter().enumerate() {
        let place = (u32::try_from(n + 1).unwrap_or(u32::MAX), card.line);
        if !card.ended {
            let why = "the card that begins here has no END:VCARD";
            problems.push(Problem::at(place, why, "save the contacts again"));
            continue;
        }
        match Parser::new(&card.text).entry() {
            Entry::VCard(vcard) if is_group(&vcard) => {}
            Entry::VCard(vcard) => rows.push(Row {
                row: place.0,
                line: place.1,
                cells: cells(&vcard).to_vec(),
            }),
            _ => problems.push(Problem::at(
                place,
                "this is not a card",
                "save the contacts again as vCard 3 or 4",
            )),
        }
    }
    if rows.is_empty() && problems.is_empty() {
        problems.push(Problem::whole(
            "the file holds no card",
            "choose a file of contacts (vCard 3 or 4), whose cards begin with BEGIN:VCARD",
        ));
    }
    if !problems.is_empty() {
        return Err(problems);
    }
    Ok(Table {
        headings: HEADINGS.map(str::to_owned).to_vec(),
        rows,
        separator: None,
        written,
    })
}

struct Card {
    line: u32,
    text: String,
    ended: bool,
}

/// The text from each `BEGIN:VCARD` to its end, so that every card is told with its line.
fn cards(text: &str) -> Vec<Card> {
    let text = text.replace("\r\n", "\n").replace('\r', "\n");
    let is = |line: &str, what: &str| line.trim().eq_ignore_ascii_case(what);
    let mut cards: Vec<Card> = Vec::new();
    for (n, line) in text.trim_start_matches('\u{FEFF}').split('\n').enumerate() {
        let begins = is(line, "BEGIN:VCARD");
        if begins {
            cards.push(Card {
                line: u32::try_from(n + 1).unwrap_or(u32::MAX),
                text: String::new(),
                ended: false,
            });
        }
        if let Some(card) = cards.last_mut().filter(|card| !card.ended) {
            card.text.push_str(line);
            card.text.push_str("\r\n");
            card.ended = is(line, "END:VCARD");
        }
    }
    cards
}

fn is_group(card: &VCard) -> bool {
    card.properties(&VCardProperty::Kind)
        .any(|entry| entry.values.iter().any(|value| text(value) == "group"))
}

fn cells(card: &VCard) -> [String; 5] {
    let all = |name: &VCardProperty| all(card, name);
    let mut name = all(&VCardProperty::Fn)
        .into_iter()
        .next()
        .unwrap_or_default();
    let organisation = all(&VCardProperty::Org)
        .into_iter()
        .next()
        .unwrap_or_default();
    if name.is_empty() {
        name = parts_of_name(card);
    }
    let mut note = all(&VCardProperty::Note).join("\n");
    if name.is_empty() {
        name.clone_from(&organisation);
    } else if !organisation.is_empty() && organisation != name {
        add(&mut note, &organisation);
    }
    let mut emails = all(&VCardProperty::Email).into_iter();
    let mut phones = all(&VCardProperty::Tel).into_iter();
    let mut addresses = addresses(card).into_iter();
    let (email, phone) = (
        emails.next().unwrap_or_default(),
        phones.next().unwrap_or_default(),
    );
    let address = addresses.next().unwrap_or_default();
    // An owner has one of each; the others are not lost.
    for (what, more) in [("mail", emails), ("telephone", phones)] {
        more.for_each(|more| add(&mut note, &format!("{what}: {more}")));
    }
    for more in addresses {
        add(&mut note, &format!("address: {}", more.replace('\n', ", ")));
    }
    [name, email, phone, address, note]
}

/// The values of a property, preferred ones first.
fn all(card: &VCard, name: &VCardProperty) -> Vec<String> {
    let mut values: Vec<(u32, String)> = card
        .properties(name)
        .map(|entry| {
            let texts: Vec<String> = entry.values.iter().map(text).collect();
            let joined = texts.join(", ");
            let plain = joined
                .strip_prefix("tel:")
                .or(joined.strip_prefix("mailto:"));
            (rank(entry), plain.unwrap_or(&joined).trim().to_owned())
        })
        .filter(|(_, value)| !value.is_empty())
        .collect();
    values.sort_by_key(|(rank, _)| *rank);
    values.into_iter().map(|(_, value)| value).collect()
}

/// `PREF=1` of vCard 4 and `TYPE=pref` of vCard 3 come first.
fn rank(entry: &calcard::vcard::VCardEntry) -> u32 {
    let of_four = entry
        .parameters(&VCardParameterName::Pref)
        .find_map(|value| value.as_integer()?.iana().copied());
    let of_three = entry.parameters(&VCardParameterName::Type).any(|value| {
        value
            .as_text()
            .is_some_and(|text| text.eq_ignore_ascii_case("pref"))
    });
    match (of_four, of_three) {
        (Some(rank), _) => rank,
        (None, true) => 0,
        (None, false) => 1000,
    }
}

fn text(value: &VCardValue) -> String {
    match value {
        VCardValue::Component(parts) => parts.join(" "),
        VCardValue::Kind(_) => value_word(value),
        other => other.as_text().unwrap_or_default().to_owned(),
    }
}

fn value_word(value: &VCardValue) -> String {
    value
        .clone()
        .into_text()
        .map(|text| text.to_lowercase())
        .unwrap_or_default()
}

/// Given names before the family name: `N:Halvarsen;Marit;Lise;Dr.;`.
fn parts_of_name(card: &VCard) -> String {
    let Some(entry) = card.property(&VCardProperty::N) else {
        return String::new();
    };
    let part = |n: usize| entry.values.get(n).map(text).unwrap_or_default();
    let parts = [part(3), part(1), part(2), part(0), part(4)];
    let words: Vec<&str> = parts
        .iter()
        .flat_map(|part| part.split_whitespace())
        .collect();
    words.join(" ")
}

/// Addresses in lines, preferred first: box and house, street, code and town, region, country.
fn addresses(card: &VCard) -> Vec<String> {
    let mut found: Vec<(u32, String)> = Vec::new();
    for entry in card.properties(&VCardProperty::Adr) {
        let part = |n: usize| entry.values.get(n).map(text).unwrap_or_default();
        let town = format!("{} {}", part(5), part(3));
        let lines = [part(0), part(1), part(2), town, part(4), part(6)];
        let mut address = String::new();
        for line in lines
            .iter()
            .map(|line| line.trim())
            .filter(|line| !line.is_empty())
        {
            add(&mut address, line);
        }
        if !address.is_empty() {
            found.push((rank(entry), address));
        }
    }
    found.sort_by_key(|(rank, _)| *rank);
    found.into_iter().map(|(_, address)| address).collect()
}

fn add(text: &mut String, line: &str) {
    if !text.is_empty() {
        text.push('\n');
    }
    text.push_str(line);
}

#[cfg(test)]
mod tests {
    use crate::{Reading, table::Table};

    fn read(text: &str) -> Table {
        Table::contacts(text.as_bytes(), &Reading::default()).unwrap()
    }

    #[test]
    fn cards_of_version_3_and_4_become_rows_of_owners() {
        let table = read(
            "BEGIN:VCARD\r\nVERSION:3.0\r\nN:Halvarsen;Marit;;;\r\nFN:Marit Halvarsen\r\n\
             EMAIL;TYPE=INTERNET:second@example.org\r\nEMAIL;TYPE=INTERNET,PREF:marit@example.org\r\n\
             TEL;TYPE=CELL:+00 1 23\r\nADR;TYPE=HOME:;;Quay 3\\, left;Saltmere;;1234;Norland\r\n\
             NOTE:two\\nlines and a very lo\r\n ng one\r\nEND:VCARD\r\n\
             begin:vcard\nversion:4.0\nfn:Übel\\; Ærø & Sønner\nemail:b@example.org\n\
             item1.tel;value=uri;pref=1:tel:+00-4-56\ntel:789\nORG:The Yard;Dock\nend:vcard\n",
        );
        let cells: Vec<_> = table.rows.iter().map(|row| row.cells.as_slice()).collect();
        assert_eq!(
            cells[0],
            [
                "Marit Halvarsen",
                "marit@example.org",
                "+00 1 23",
                "Quay 3, left\n1234 Saltmere\nNorland",
                "two\nlines and a very long one\nmail: second@example.org",
            ]
        );
        assert_eq!(
            cells[1],
            [
                "Übel; Ærø & Sønner",
                "b@example.org",
                "+00-4-56",
                "",
                "The Yard, Dock\ntelephone: 789"
            ]
        );
        assert_eq!((table.rows[1].row, table.rows[1].line), (2, 12));
    }

    #[test]
    fn a_card_without_a_full_name_is_called_by_its_parts_or_its_organisation() {
        let table = read(
            "BEGIN:VCARD\nVERSION:3.0\nN:Berg;Ana;Lu;Dr.;\nEND:VCARD\n\
             BEGIN:VCARD\nVERSION:3.0\nORG:The Yard\nEND:VCARD\n",
        );
        assert_eq!(table.rows[0].cells[0], "Dr. Ana Lu Berg");
        assert_eq!(table.rows[1].cells[0], "The Yard");
    }

    #[test]
    fn a_group_is_no_owner() {
        let card = "BEGIN:VCARD\nVERSION:4.0\nKIND:group\nFN:Friends\nEND:VCARD\n\
                    BEGIN:VCARD\nVERSION:4.0\nKIND:individual\nFN:Ana\nEND:VCARD\n";
        let table = read(card);
        assert_eq!(table.rows.len(), 1);
        assert_eq!(
            (table.rows[0].row, table.rows[0].cells[0].as_str()),
            (2, "Ana")
        );
    }

    #[test]
    fn a_card_that_never_ends_is_told_with_its_line_and_so_is_a_file_without_any() {
        let wrong = |text: &str| Table::contacts(text.as_bytes(), &Reading::default()).unwrap_err();
        let open = wrong("BEGIN:VCARD\nFN:A\nEND:VCARD\n\nBEGIN:VCARD\nFN:B\n");
        assert_eq!((open[0].row, open[0].line), (Some(2), Some(5)));
        assert!(wrong("name,town\n")[0].why.contains("no card"));
    }
}
