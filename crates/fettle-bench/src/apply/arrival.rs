//! Writes the bench itself, owners, cameras and arrivals.

use rust_decimal::Decimal;

use super::{
    check::{
        check_count, check_country, check_days, check_id, check_line, check_money, check_percent,
        check_prose, check_tax,
    },
    door::{Column, Door, Outcome, Refusal},
};
use crate::{
    change::{
        ArrivalCorrected, ArrivalDetails, BenchSettings, CameraCorrected, CameraDetails,
        OwnerCorrected, OwnerDetails, VisitOpened,
    },
    ids::{CameraId, OwnerId, VisitId},
    journal::Made,
    money::Money,
    words::{Language, Stage},
};

pub(crate) fn settle(door: &mut Door<'_>, it: BenchSettings) -> Result<Outcome, Refusal> {
    check_line("name", &it.name, true)?;
    check_line("place", &it.place, false)?;
    check_prose("address", &it.address, false)?;
    check_prose("contact", &it.contact, false)?;
    check_money(
        "hourly_rate",
        it.hourly_rate.map(|rate| Money::new(rate, it.currency)),
    )?;
    check_tax(it.tax_percent, &it.tax_name)?;
    check_line("tax_number", &it.tax_number, false)?;
    check_percent("deposit_percent", it.deposit_percent)?;
    if let Some(step) = it.round_to
        && step <= Decimal::ZERO
    {
        return Err(Refusal::rule(
            "round_to",
            format!("is {step}: give more than 0, or leave it out"),
        ));
    }
    check_days("quote_days", it.quote_days)?;
    check_days("guarantee_repair_days", it.guarantee_repair_days)?;
    check_days("guarantee_overhaul_days", it.guarantee_overhaul_days)?;
    check_prose("payment", &it.payment, false)?;
    check_days("pay_days", it.pay_days)?;
    check_country("country", &it.country)?;
    let text = |amount: Option<Decimal>| amount.map(|amount| amount.to_string());
    let (rate, tax) = (text(it.hourly_rate), text(it.tax_percent));
    let (deposit, step) = (text(it.deposit_percent), text(it.round_to));
    let columns: &[Column<'_>] = &[
        ("name", &it.name),
        ("place", &it.place),
        ("address", &it.address),
        ("contact", &it.contact),
        ("currency", &it.currency.as_str()),
        ("hourly_rate", &rate),
        ("tax_name", &it.tax_name),
        ("tax_percent", &tax),
        ("tax_number", &it.tax_number),
        ("deposit_percent", &deposit),
        ("round_to", &step),
        ("quote_days", &it.quote_days),
        ("guarantee_repair_days", &it.guarantee_repair_days),
        ("guarantee_overhaul_days", &it.guarantee_overhaul_days),
        ("payment", &it.payment),
        ("pay_days", &it.pay_days),
        ("country", &it.country),
        ("language", &it.language.as_str()),
        ("paper_size", &it.paper_size.as_str()),
    ];
    let settled = door
        .connection
        .prepare_cached("SELECT 1 FROM bench WHERE id = 1")?
        .exists([])?;
    if settled {
        door.update("bench", 1, columns)?;
    } else {
        let mut all: Vec<Column<'_>> = vec![("id", &1)];
        all.extend_from_slice(columns);
        door.insert("bench", &all)?;
    }
    Ok(Outcome::new(it, Made::Nothing))
}

pub(crate) fn add_owner(door: &mut Door<'_>, it: OwnerDetails) -> Result<Outcome, Refusal> {
    check_owner(&it)?;
    let language = it.language.map(Language::as_str);
    let id = OwnerId::new(door.insert("owner", &owner_columns(&it, &language))?);
    let mut outcome = Outcome::new(it, Made::Owner(id));
    outcome.owner = Some(id);
    Ok(outcome)
}

pub(crate) fn correct_owner(
    door: &mut Door<'_>,
    mut it: OwnerCorrected,
) -> Result<Outcome, Refusal> {
    it.owner = door.known("owner", it.owner)?;
    check_owner(&it.details)?;
    let language = it.details.language.map(Language::as_str);
    let columns = owner_columns(&it.details, &language);
    door.update("owner", it.owner.get(), &columns)?;
    let owner = it.owner;
    let mut outcome = Outcome::new(it, Made::Nothing);
    outcome.owner = Some(owner);
    Ok(outcome)
}

fn check_owner(it: &OwnerDetails) -> Result<(), Refusal> {
    check_line("name", &it.name, true)?;
    check_line("email", &it.email, false)?;
    check_line("phone", &it.phone, false)?;
    check_prose("address", &it.address, false)?;
    check_prose("note", &it.note, false)?;
    check_country("country", &it.country)
}

fn owner_columns<'v>(it: &'v OwnerDetails, language: &'v Option<&'static str>) -> [Column<'v>; 7] {
    [
        ("name", &it.name),
        ("email", &it.email),
        ("phone", &it.phone),
        ("address", &it.address),
        ("note", &it.note),
        ("language", language),
        ("country", &it.country),
    ]
}

pub(crate) fn add_camera(door: &mut Door<'_>, it: CameraDetails) -> Result<Outcome, Refusal> {
    check_camera(&it)?;
    let id = CameraId::new(door.insert("camera", &camera_columns(&it))?);
    write_serials(door, id, &it)?;
    let mut outcome = Outcome::new(it, Made::Camera(id));
    outcome.camera = Some(id);
    Ok(outcome)
}

pub(crate) fn correct_camera(
    door: &mut Door<'_>,
    mut it: CameraCorrected,
) -> Result<Outcome, Refusal> {
    it.camera = door.known("camera", it.camera)?;
    check_camera(&it.details)?;
    let camera = it.camera;
    door.update("camera", camera.get(), &camera_columns(&it.details))?;
    door.delete_of("serial", "camera_id", camera.get())?;
    write_serials(door, camera, &it.details)?;
    let mut outcome = Outcome::new(it, Made::Nothing);
    outcome.camera = Some(camera);
    Ok(outcome)
}

fn check_camera(it: &CameraDetails) -> Result<(), Refusal> {
    check_line("maker", &it.maker, false)?;
    check_line("model", &it.model, true)?;
    it.notes_id
        .as_deref()
        .map_or(Ok(()), |id| check_id("notes_id", id))?;
    check_prose("note", &it.note, false)?;
    check_count("serials", it.serials.len())?;
    for serial in &it.serials {
        check_line("serials", &serial.number, true)?;
        check_line("serials", &serial.at, false)?;
    }
    Ok(())
}

fn camera_columns(it: &CameraDetails) -> [Column<'_>; 4] {
    [
        ("maker", &it.maker),
        ("model", &it.model),
        ("notes_id", &it.notes_id),
        ("note", &it.note),
    ]
}

fn write_serials(door: &mut Door<'_>, id: CameraId, it: &CameraDetails) -> rusqlite::Result<()> {
    for serial in &it.serials {
        door.insert(
            "serial",
            &[
                ("camera_id", &id.get()),
                ("place", &serial.at),
                ("number", &serial.number),
            ],
        )?;
    }
    Ok(())
}

pub(crate) fn open_visit(door: &mut Door<'_>, mut it: VisitOpened) -> Result<Outcome, Refusal> {
    it.camera = door.known("camera", it.camera)?;
    let here: Option<i64> = door
        .connection
        .prepare_cached("SELECT max(id) FROM visit WHERE camera_id = ?1 AND stage <> 'home'")?
        .query_row([it.camera.get()], |row| row.get(0))?;
    if let Some(here) = here {
        return Err(Refusal::rule(
            "camera",
            format!(
                "camera {} is still here at visit {here}: that visit goes home first",
                it.camera
            ),
        ));
    }
    check_arrival(door, it.camera, None, &mut it.arrival)?;
    let money = MoneyText::new(it.arrival.declared);
    let days = Days::new(&it.arrival);
    let camera = it.camera.get();
    let at = door.at.clone();
    let mut columns = arrival_columns(&it.arrival, &money, &days).to_vec();
    let owner = it.arrival.owner.get();
    let guarantee = it.arrival.guarantee_of.map(VisitId::get);
    let stage = Stage::Arrived.as_str();
    columns.extend_from_slice(&[
        ("owner_id", &owner),
        ("guarantee_of_id", &guarantee),
        ("camera_id", &camera),
        ("stage", &stage),
        ("stage_since_utc", &at),
        ("unrepaired", &false),
    ]);
    let id = VisitId::new(door.insert("visit", &columns)?);
    write_items(door, id, &it.arrival)?;
    let visit = door.visit(id)?;
    Ok(Outcome::new(it, Made::Visit(id)).at(&visit))
}

pub(crate) fn correct_arrival(
    door: &mut Door<'_>,
    mut it: ArrivalCorrected,
) -> Result<Outcome, Refusal> {
    let visit = door.visit(it.visit)?;
    it.visit = visit.id;
    check_arrival(door, visit.camera, Some(visit.id), &mut it.arrival)?;
    let money = MoneyText::new(it.arrival.declared);
    let days = Days::new(&it.arrival);
    let mut columns = arrival_columns(&it.arrival, &money, &days).to_vec();
    let owner = it.arrival.owner.get();
    let guarantee = it.arrival.guarantee_of.map(VisitId::get);
    columns.extend_from_slice(&[("owner_id", &owner), ("guarantee_of_id", &guarantee)]);
    door.update("visit", visit.id.get(), &columns)?;
    door.delete_of("came_with", "visit_id", visit.id.get())?;
    write_items(door, visit.id, &it.arrival)?;
    let visit = door.visit(visit.id)?;
    Ok(Outcome::new(it, Made::Nothing).at(&visit))
}

fn check_arrival(
    door: &Door<'_>,
    camera: CameraId,
    visit: Option<VisitId>,
    it: &mut ArrivalDetails,
) -> Result<(), Refusal> {
    it.owner = door.known("owner", it.owner)?;
    check_prose("words", &it.words, false)?;
    check_prose("wanted", &it.wanted, false)?;
    check_prose("condition", &it.condition, false)?;
    check_count("came_with", it.came_with.len())?;
    for item in &it.came_with {
        check_line("came_with", item, true)?;
    }
    check_money("declared", it.declared)?;
    if let Some(promised) = it.promised
        && promised < it.arrived
    {
        return Err(Refusal::rule(
            "promised",
            format!("is {promised}, before it arrived on {}", it.arrived),
        ));
    }
    if let Some(earlier) = it.guarantee_of {
        let earlier = door.known("guarantee_of", earlier)?;
        it.guarantee_of = Some(earlier);
        if visit.is_some_and(|visit| earlier >= visit) || door.visit(earlier)?.camera != camera {
            return Err(Refusal::rule(
                "guarantee_of",
                format!("visit {earlier} is not an earlier visit of this camera"),
            ));
        }
    }
    Ok(())
}

/// An amount and its currency as stored.
pub(crate) struct MoneyText {
    pub(crate) amount: Option<String>,
    pub(crate) currency: Option<String>,
}

impl MoneyText {
    pub(crate) fn new(money: Option<Money>) -> Self {
        Self {
            amount: money.map(|money| money.amount.to_string()),
            currency: money.map(|money| money.currency.to_string()),
        }
    }
}

struct Days {
    arrived: String,
    promised: Option<String>,
}

impl Days {
    fn new(it: &ArrivalDetails) -> Self {
        Self {
            arrived: it.arrived.to_string(),
            promised: it.promised.map(|promised| promised.to_string()),
        }
    }
}

fn arrival_columns<'v>(
    it: &'v ArrivalDetails,
    money: &'v MoneyText,
    days: &'v Days,
) -> [Column<'v>; 7] {
    [
        ("arrived_on", &days.arrived),
        ("words", &it.words),
        ("wanted", &it.wanted),
        ("condition", &it.condition),
        ("declared_amount", &money.amount),
        ("declared_currency", &money.currency),
        ("promised_on", &days.promised),
    ]
}

fn write_items(door: &mut Door<'_>, visit: VisitId, it: &ArrivalDetails) -> rusqlite::Result<()> {
    for item in &it.came_with {
        door.insert("came_with", &[("visit_id", &visit.get()), ("item", item)])?;
    }
    Ok(())
}
