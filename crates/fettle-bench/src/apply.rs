//! The one door: checks each change, alters the tables, writes the journal.

mod arrival;
mod attach;
mod bill;
mod check;
mod donor;
mod door;
mod finding;
mod going;
mod lot;
mod movement;
mod pieces;
mod quote;
mod stock;
mod undo;
mod work;

use jiff::Timestamp;
use rusqlite::{Connection, TransactionBehavior, params};

pub use self::check::{LINE_MAX_BYTES, PROSE_MAX_BYTES};
use self::door::{Door, Outcome};
pub(crate) use self::{check::check_line, door::Refusal};
use crate::{
    change::Change,
    error::BenchError,
    files::Folder,
    ids::EntryId,
    journal::{Applied, Hand},
    store::Store,
};

/// Applies changes in one transaction.
pub(crate) fn apply(
    store: &Store,
    folder: &Folder,
    by: &Hand,
    at: Timestamp,
    changes: Vec<Change>,
) -> Result<Applied, BenchError> {
    if changes.is_empty() {
        return Ok(Applied::default());
    }
    apply_together(store, folder, |apply| apply(by, at, changes))
}

/// What applies changes as one group within a transaction.
pub(crate) type ApplyOne<'a> =
    dyn FnMut(&Hand, Timestamp, Vec<Change>) -> Result<Applied, BenchError> + 'a;

/// Applies groups of changes in one transaction: all of them, or none when `tell` gives an error.
pub(crate) fn apply_together<T, E: From<BenchError>>(
    store: &Store,
    folder: &Folder,
    tell: impl FnOnce(&mut ApplyOne<'_>) -> Result<T, E>,
) -> Result<T, E> {
    let mut writer = store.writer();
    let transaction = writer
        .transaction_with_behavior(TransactionBehavior::Immediate)
        .map_err(|error| store.error(&error))?;
    let mut spoiled = false;
    let told = tell(&mut |by, at, changes| {
        let applied = apply_group(store, folder, &transaction, by, at, changes);
        spoiled |= applied.is_err();
        applied
    })?;
    if spoiled {
        // What was refused half-way must not stand, so nothing of it does.
        return Err(E::from(BenchError::Database {
            db: store.path().to_owned(),
            why: "changes were refused and what came after them was told all the same".to_owned(),
        }));
    }
    transaction.commit().map_err(|error| store.error(&error))?;
    Ok(told)
}

fn apply_group(
    store: &Store,
    folder: &Folder,
    transaction: &Connection,
    by: &Hand,
    at: Timestamp,
    changes: Vec<Change>,
) -> Result<Applied, BenchError> {
    let Some(first) = changes.first() else {
        return Ok(Applied::default());
    };
    let refuse = |index: usize, kind: &'static str, refusal: Refusal| match refusal {
        Refusal::Rule { field, why } => BenchError::Rule {
            index,
            kind,
            field,
            why,
        },
        Refusal::Bench(error) => error,
        Refusal::Sql(error) => store.error(&error),
    };
    check_line("hand", by.as_str(), true).map_err(|refusal| refuse(0, first.kind(), refusal))?;
    let mut applied = Applied::default();
    let group = next_entry(transaction).map_err(|error| store.error(&error))?;
    let mut door = Door::new(transaction, folder, at, group);
    for (index, change) in changes.into_iter().enumerate() {
        let kind = change.kind();
        let written = write_one(&mut door, by, group, change);
        let (entry, made) = written.map_err(|refusal| refuse(index, kind, refusal))?;
        applied.entries.push(entry);
        applied.made.push(made);
    }
    Ok(applied)
}

fn next_entry(connection: &Connection) -> rusqlite::Result<EntryId> {
    let last: i64 = connection
        .prepare_cached(
            "SELECT ifnull((SELECT seq FROM sqlite_sequence WHERE name = 'journal'), 0)",
        )?
        .query_row([], |row| row.get(0))?;
    Ok(EntryId::new(last + 1))
}

fn write_one(
    door: &mut Door<'_>,
    by: &Hand,
    group: EntryId,
    change: Change,
) -> Result<(EntryId, crate::journal::Made), Refusal> {
    let entry = next_entry(door.connection)?;
    door.begin(entry)?;
    let Outcome {
        change,
        made,
        visit,
        camera,
        owner,
        part,
        drawer,
        donor,
        undoes,
        sentence,
    } = write(door, change)?;
    let json = check::to_faithful_json(&change)?;
    let sentence = sentence.unwrap_or_else(|| change.sentence());
    door.connection
        .prepare_cached(
            "INSERT INTO journal (id, at_utc, hand, group_id, kind, change_json, sentence, \
             visit_id, camera_id, owner_id, part_id, drawer_id, donor_id, undoes_id) \
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14)",
        )?
        .execute(params![
            entry.get(),
            door.at,
            by.as_str(),
            group.get(),
            change.kind(),
            json,
            sentence,
            visit.map(crate::VisitId::get),
            camera.map(crate::CameraId::get),
            owner.map(crate::OwnerId::get),
            part.map(crate::PartId::get),
            drawer.map(crate::DrawerId::get),
            donor.map(crate::DonorId::get),
            undoes.map(EntryId::get),
        ])?;
    door.wrote(entry);
    Ok((entry, made))
}

/// Alters the tables as this change says.
fn write(door: &mut Door<'_>, change: Change) -> Result<Outcome, Refusal> {
    match change {
        Change::BenchSettled(it) => arrival::settle(door, it),
        Change::OwnerAdded(it) => arrival::add_owner(door, it),
        Change::OwnerCorrected(it) => arrival::correct_owner(door, it),
        Change::CameraAdded(it) => arrival::add_camera(door, it),
        Change::CameraCorrected(it) => arrival::correct_camera(door, it),
        Change::VisitOpened(it) => arrival::open_visit(door, it),
        Change::ArrivalCorrected(it) => arrival::correct_arrival(door, it),
        Change::StageMoved(it) => going::move_stage(door, it),
        Change::WaitingBegun(it) => going::begin_waiting(door, it),
        Change::WaitingEnded(it) => going::end_waiting(door, it),
        Change::SignObserved(it) => finding::observe_sign(door, it),
        Change::CircumstanceKnown(it) => finding::know_circumstance(door, it),
        Change::EarlierHandsNoted(it) => finding::note_earlier_hands(door, it),
        Change::FaultRecorded(it) => finding::record_fault(door, it),
        Change::QuoteMade(it) => quote::make(door, it),
        Change::QuoteAnswered(it) => quote::answer(door, it),
        Change::PieceRemoved(it) => work::remove_piece(door, it),
        Change::PieceReturned(it) => work::return_piece(door, it),
        Change::WorkDone(it) => work::do_work(door, it),
        Change::PartFitted(it) => work::fit_part(door, it),
        Change::ReadingTaken(it) => work::take_reading(door, it),
        Change::SettingProved(it) => work::prove_setting(door, it),
        Change::StripOrdered(it) => finding::order_strip(door, it),
        Change::TrialMade(it) => work::make_trial(door, it),
        Change::ShortfallNoted(it) => work::note_shortfall(door, it),
        Change::PhotoAttached(it) => attach::photo(door, it),
        Change::RecordingAttached(it) => attach::recording(door, it),
        Change::PaperAttached(it) => attach::paper(door, it),
        Change::Packed(it) => going::pack(door, it),
        Change::Sent(it) => going::send(door, it),
        Change::SendingHeld(it) => going::hold(door, it),
        Change::HoldEnded(it) => going::end_hold(door, it),
        Change::BillIssued(it) => bill::issue(door, it),
        Change::CreditIssued(it) => bill::credit(door, it),
        Change::PaymentReceived(it) => bill::receive(door, it),
        Change::NoteWritten(it) => going::write_note(door, it),
        Change::DrawerNamed(it) => stock::name_drawer(door, it),
        Change::PartStored(it) => lot::store(door, it),
        Change::MinimumSet(it) => stock::set_minimum(door, it),
        Change::LotCorrected(it) => lot::correct_lot(door, it),
        Change::LotMoved(it) => lot::move_lot(door, it),
        Change::PartTaken(it) => movement::take(door, it),
        Change::PartReturned(it) => movement::give_back(door, it),
        Change::DrawerCounted(it) => movement::count(door, it),
        Change::DonorRegistered(it) => donor::register(door, it),
        Change::DonorCorrected(it) => donor::correct(door, it),
        Change::DonorPartsNoted(it) => donor::note_parts(door, it),
        Change::PartSalvaged(it) => donor::salvage(door, it),
        Change::Undo(it) => undo::undo(door, it),
    }
}
