//! What happens in thirty years, told to the bench visit by visit.

use std::collections::{BTreeMap, VecDeque};

use fettle_bench::{
    About, Applied, ArrivalDetails, BenchError, BillIssued, BillLine, CameraDetails, CameraId,
    Change, CircumstanceKnown, Decimal, FaultIs, FaultRecorded, FileRef, Found, Grade, Hand,
    Instrument, LineFor, LotId, Money, NoteWritten, OwnerDetails, OwnerId, Packed, PartFitted,
    PartTaken, PaymentReceived, Phase, PhotoAttached, PieceRemoved, PieceReturned, QuoteAnswered,
    QuoteLine, QuoteMade, ReadingRow, ReadingTaken, Seen, Sent, Serial, SettingProved,
    SignObserved, Stage, StageMoved, Tick, Verdict, VisitId, VisitOpened, WaitFor, WaitingBegun,
    WaitingEnded, WorkDone,
};
use jiff::{Span, Timestamp, civil::Date, tz::TimeZone};

use crate::{
    lots::{Lots, name, word},
    make::{Size, currency},
    models::Model,
};

/// Sentences that notes and owners' words are made of.
const SAID: [&str; 12] = [
    "the slow speeds hang when it is cold",
    "the focusing is stiff near infinity",
    "it lay in a drawer for twenty years",
    "the shutter fires but the picture stays dark",
    "the film counter does not come back",
    "as one would expect after years of rest",
    "the leather lifts at one corner",
    "the finder shows everything twice",
    "it was dropped on a stone floor",
    "somebody used oil where none belongs",
    "the release needs a hard push",
    "light gets in at the back",
];

/// One visit is told through this.
pub(crate) type Tell<'t> =
    dyn FnMut(&Hand, Timestamp, Vec<Change>) -> Result<Applied, BenchError> + 't;

/// A camera that was here and went home.
struct Gone {
    camera: CameraId,
    owner: OwnerId,
    model: usize,
    visit: VisitId,
    on: Date,
}

pub(crate) struct Teller {
    size: Size,
    models: Vec<Model>,
    /// Lots of each model's parts with what is left in them.
    pub(crate) stock: BTreeMap<usize, Vec<(LotId, u32)>>,
    photos: VecDeque<FileRef>,
    gone: Vec<Gone>,
    hands: [Hand; 2],
    /// Journal entries so far.
    pub(crate) entries: u64,
    lots: Lots,
}

impl Teller {
    pub(crate) fn new(size: Size, models: Vec<Model>, photos: Vec<FileRef>, seed: u64) -> Self {
        Self {
            size,
            models,
            stock: BTreeMap::new(),
            photos: photos.into(),
            gone: Vec::new(),
            hands: [Hand::new("Ines"), Hand::new("Teo")],
            entries: 0,
            lots: Lots::new(seed),
        }
    }

    pub(crate) fn models(&self) -> &[Model] {
        &self.models
    }

    /// The day on which a visit begins: one after the other up to the last day, the same number in every year.
    fn day(&self, n: u64) -> Date {
        let before = (self.size.visits - n) * self.size.days / self.size.visits;
        let span = Span::new().days(i64::try_from(before).unwrap_or_default());
        self.size.until.saturating_sub(span)
    }

    /// Tells one visit, the `n`th from 1.
    pub(crate) fn visit(&mut self, n: u64, tell: &mut Tell<'_>) -> Result<(), BenchError> {
        let mut lots = Lots::new(self.lots.next());
        let stays = n + self.size.here > self.size.visits;
        let ends = if stays { n % 9 } else { 9 };
        let arrived = self.day(n);
        let mut telling = Telling {
            tell,
            hand: lots.pick(&self.hands).clone(),
            at: arrived
                .at(9, 0, 0, 0)
                .to_zoned_datetime(TimeZone::UTC)
                .expect("UTC has no gaps")
                .timestamp(),
            told: 0,
        };
        let (camera, owner, model, guarantee_of) =
            self.who(&mut lots, arrived, stays, &mut telling)?;
        let it = &self.models[model];
        let visit = telling.opened(&mut lots, camera, owner, arrived, guarantee_of)?;

        // One visit in a thousand was photographed at every step; the rest share what is left evenly.
        let visits_left = self.size.visits - n + 1;
        let photos_left = self.photos.len() as u64;
        let share = if n.is_multiple_of(1000) {
            60
        } else {
            photos_left.div_ceil(visits_left)
        };
        let mut photos: Vec<FileRef> = self
            .photos
            .drain(..(share.min(photos_left)) as usize)
            .collect();
        let later = photos.split_off(photos.len() / 2);

        telling.photographs(visit, Stage::Arrived, photos)?;
        if ends > 0 {
            telling.looked_over(&mut lots, it, visit)?;
        }
        if ends > 1 {
            telling.quoted(&mut lots, it, visit, ends > 2)?;
        }
        if ends > 3 {
            telling.taken_apart(
                &mut lots,
                it,
                visit,
                later,
                ends > 4,
                self.stock.get_mut(&model),
            )?;
        }
        if ends > 5 {
            telling.proved(&mut lots, it, visit)?;
        }
        if ends > 6 {
            telling.say(1, vec![moved(visit, Stage::Packed), packed(visit).into()])?;
        }
        if ends > 8 {
            let on = TimeZone::UTC.to_datetime(telling.at).date();
            telling.sent(&mut lots, visit, on)?;
            self.gone.push(Gone {
                camera,
                owner,
                model,
                visit,
                on,
            });
        }
        self.entries += telling.told;
        // Notes fill up what is missing to the number of entries that is asked for.
        let wanted = self.size.entries * n / self.size.visits;
        let missing = wanted.saturating_sub(self.entries);
        let notes = (0..missing)
            .map(|_| telling.note(&mut lots, visit))
            .collect();
        telling.say(30, notes)?;
        self.entries += missing;
        Ok(())
    }

    /// A camera that was here before, or a new one, and whose it is.
    fn who(
        &mut self,
        lots: &mut Lots,
        arrived: Date,
        stays: bool,
        telling: &mut Telling<'_, '_>,
    ) -> Result<(CameraId, OwnerId, usize, Option<VisitId>), BenchError> {
        if !stays && !self.gone.is_empty() && lots.one_in(3) {
            let recent = lots.one_in(8).then(|| self.gone.len().saturating_sub(60));
            let from = recent.unwrap_or(0);
            let at = from + lots.below((self.gone.len() - from) as u64) as usize;
            if self.gone[at].on < arrived {
                let Gone {
                    camera,
                    owner,
                    model,
                    visit,
                    on,
                } = self.gone.swap_remove(at);
                let under_guarantee = (arrived - on).get_days() < 180;
                return Ok((camera, owner, model, under_guarantee.then_some(visit)));
            }
        }
        let mut changes: Vec<Change> = Vec::new();
        let owner = self
            .gone
            .last()
            .filter(|_| lots.one_in(4))
            .map(|it| it.owner);
        if owner.is_none() {
            let (first, last) = (name(lots.below(600)), name(lots.below(4096)));
            let details = OwnerDetails {
                email: format!("{}@{}.example", first.to_lowercase(), last.to_lowercase()),
                address: format!(
                    "{} {} Street\n{}",
                    lots.below(90) + 1,
                    name(lots.below(300)),
                    name(lots.below(80))
                ),
                name: format!("{first} {last}"),
                phone: format!("0{}", 100_000 + lots.below(899_999)),
                ..OwnerDetails::default()
            };
            changes.push(details.into());
        }
        // Three in four cameras are of a model with service notes.
        let model = if lots.one_in(4) {
            3 + lots.below(self.models.len() as u64 - 3)
        } else {
            [0, 0, 1, 2][lots.below(4) as usize]
        } as usize;
        let it = &self.models[model];
        let details = CameraDetails {
            maker: it.maker.clone(),
            model: it.name.clone(),
            notes_id: it.notes_id.clone(),
            serials: vec![Serial {
                at: "body".to_owned(),
                number: format!(
                    "{}{}",
                    ["", "K ", "No "][lots.below(3) as usize],
                    10_000 + lots.below(900_000)
                ),
            }],
            note: String::new(),
        };
        changes.push(details.into());
        let made = telling.say(0, changes)?;
        let camera = made.camera().expect("a camera was made");
        Ok((
            camera,
            owner.or(made.owner()).expect("an owner was made"),
            model,
            None,
        ))
    }
}

fn moved(visit: VisitId, to: Stage) -> Change {
    StageMoved {
        visit,
        to,
        note: String::new(),
    }
    .into()
}

fn packed(visit: VisitId) -> Packed {
    Packed {
        ticks: vec![Tick {
            item: "case".to_owned(),
            packed: true,
        }],
        weight_g: Some(1200),
        ..Packed::new(visit)
    }
}

/// One visit while it is told.
struct Telling<'t, 'f> {
    tell: &'t mut Tell<'f>,
    hand: Hand,
    at: Timestamp,
    told: u64,
}

impl Telling<'_, '_> {
    /// Tells changes so many minutes after those before.
    fn say(&mut self, minutes: i64, changes: Vec<Change>) -> Result<Applied, BenchError> {
        self.at = self
            .at
            .saturating_add(jiff::SignedDuration::from_mins(minutes))
            .unwrap_or(self.at);
        self.told += changes.len() as u64;
        (self.tell)(&self.hand, self.at, changes)
    }

    fn opened(
        &mut self,
        lots: &mut Lots,
        camera: CameraId,
        owner: OwnerId,
        arrived: Date,
        guarantee_of: Option<VisitId>,
    ) -> Result<VisitId, BenchError> {
        let arrival = ArrivalDetails {
            owner,
            arrived,
            words: (*lots.pick(&SAID)).to_owned(),
            wanted: "a full service".to_owned(),
            condition: "used, clean".to_owned(),
            came_with: vec!["case".to_owned(), "strap".to_owned()],
            declared: Some(Money::new(
                Decimal::new(lots.below(60_000) as i64 + 5000, 2),
                currency(),
            )),
            promised: Some(arrived.saturating_add(Span::new().days(30))),
            guarantee_of,
        };
        let opened = self.say(2, vec![VisitOpened { camera, arrival }.into()])?;
        Ok(opened.visit().expect("a visit was made"))
    }

    fn photographs(
        &mut self,
        visit: VisitId,
        stage: Stage,
        files: Vec<FileRef>,
    ) -> Result<(), BenchError> {
        let attached = |file| {
            PhotoAttached {
                visit,
                file,
                width_px: 8,
                height_px: 6,
                caption: String::new(),
                stage,
            }
            .into()
        };
        self.say(5, files.into_iter().map(attached).collect())
            .map(drop)
    }

    fn looked_over(
        &mut self,
        lots: &mut Lots,
        it: &Model,
        visit: VisitId,
    ) -> Result<(), BenchError> {
        let circumstances = lots
            .some(&it.circumstances, 1)
            .into_iter()
            .map(|circumstance| {
                CircumstanceKnown {
                    visit,
                    circumstance,
                    known: Seen::Yes,
                    note: String::new(),
                }
                .into()
            });
        let mut changes: Vec<Change> = circumstances.collect();
        for sign in lots.some(&it.signs, 5) {
            let seen = if lots.one_in(2) { Seen::Yes } else { Seen::No };
            changes.push(
                SignObserved {
                    visit,
                    sign,
                    seen,
                    numbers: Vec::new(),
                    note: String::new(),
                }
                .into(),
            );
        }
        self.say(40, changes)?;
        self.measured(lots, it, visit, Phase::Before)?;
        self.say(1, vec![moved(visit, Stage::LookedOver)]).map(drop)
    }

    fn measured(
        &mut self,
        lots: &mut Lots,
        it: &Model,
        visit: VisitId,
        phase: Phase,
    ) -> Result<(), BenchError> {
        let Some((limit, marks)) = &it.dial else {
            return Ok(());
        };
        let rows = marks.iter().map(|mark| ReadingRow {
            name: mark.clone(),
            unit: "s".to_owned(),
            value: Some(0.008 + lots.below(900) as f64 / 1e6),
            error: Some(lots.below(60) as f64 / 100.0 - 0.3),
            error_unit: "stops".to_owned(),
            uncertainty: Some(0.03),
            limit: Some(0.3),
            verdict: Some(Verdict::In),
            nominal: None,
        });
        let taken = ReadingTaken {
            visit,
            phase,
            instrument: Instrument::Shutter,
            limit_id: Some(limit.clone()),
            rows: rows.collect(),
            findings: Vec::new(),
            recording: None,
            method: "three shots a mark".to_owned(),
            detail: None,
        };
        self.say(15, vec![taken.into()]).map(drop)
    }

    fn quoted(
        &mut self,
        lots: &mut Lots,
        it: &Model,
        visit: VisitId,
        agreed: bool,
    ) -> Result<(), BenchError> {
        let lines = lots
            .some(&it.works, 2)
            .into_iter()
            .map(|(what, minutes)| QuoteLine {
                line_for: LineFor::Work,
                what,
                grade: None,
                quantity: None,
                minutes_likely: Some(minutes),
                minutes_nine_in_ten: Some(minutes * 1.4),
                amount: Decimal::new((minutes * 100.0) as i64, 2),
            });
        let quote = QuoteMade::new(visit, lines.collect(), currency(), "");
        let made = self.say(20, vec![quote.into(), moved(visit, Stage::Quoted)])?;
        let wait = self.say(
            1,
            vec![
                WaitingBegun {
                    visit,
                    wait_for: WaitFor::Answer,
                    what: String::new(),
                }
                .into(),
            ],
        )?;
        if !agreed {
            return Ok(());
        }
        let quote = made.quote().expect("a quote was made");
        let wait = wait.wait().expect("it waits");
        let on = TimeZone::UTC
            .to_datetime(self.at)
            .date()
            .saturating_add(Span::new().days(3));
        self.say(
            3 * 24 * 60,
            vec![
                WaitingEnded {
                    visit,
                    wait,
                    note: String::new(),
                }
                .into(),
                QuoteAnswered {
                    visit,
                    quote,
                    agreed: true,
                    words: String::new(),
                    on,
                }
                .into(),
                moved(visit, Stage::Agreed),
            ],
        )
        .map(drop)
    }

    fn taken_apart(
        &mut self,
        lots: &mut Lots,
        it: &Model,
        visit: VisitId,
        photos: Vec<FileRef>,
        together: bool,
        stock: Option<&mut Vec<(LotId, u32)>>,
    ) -> Result<(), BenchError> {
        self.say(24 * 60, vec![moved(visit, Stage::Apart)])?;
        let mut off = Vec::new();
        for (n, (piece, minutes)) in it.pieces.iter().take(5).enumerate() {
            let minutes = lots.minutes(*minutes).ceil() as i64;
            let piece = PieceRemoved {
                visit,
                piece: piece.clone(),
                cell: u32::try_from(n + 1).ok(),
                note: String::new(),
                photo: None,
            };
            off.extend(self.say(minutes, vec![piece.into()])?.piece());
        }
        self.photographs(visit, Stage::Apart, photos)?;
        let mut found = lots.some(&it.faults, 3).into_iter();
        let said = [
            (FaultIs::Cause, Found::Found),
            (FaultIs::Damage, Found::Found),
            (FaultIs::Cause, Found::RuledOut),
        ];
        let faults = said
            .into_iter()
            .zip(&mut found)
            .map(|((is, found), fault)| {
                FaultRecorded {
                    visit,
                    fault,
                    is,
                    found,
                    because_of: None,
                    note: String::new(),
                }
                .into()
            });
        self.say(30, faults.collect())?;
        if !together {
            return Ok(());
        }
        let works = lots.some(&it.works, 2).into_iter().map(|(work, minutes)| {
            WorkDone {
                visit,
                work,
                minutes: Some(lots.minutes(minutes)),
                note: String::new(),
            }
            .into()
        });
        let works = works.collect();
        self.say(120, works)?;
        let lot = stock.and_then(|lots_of| {
            let at = lots.below(lots_of.len() as u64) as usize;
            lots_of.get_mut(at).filter(|(_, left)| *left > 0)
        });
        let part = match lot {
            Some((lot, left)) => {
                *left -= 1;
                PartTaken {
                    lot: *lot,
                    visit: Some(visit),
                    quantity: 1,
                    price: None,
                    note: String::new(),
                }
                .into()
            }
            None => PartFitted {
                visit,
                part: lots.pick(&it.parts).clone(),
                grade: Grade::Made,
                quantity: 1,
                price: None,
                note: String::new(),
            }
            .into(),
        };
        self.say(5, vec![part])?;
        let back = off.into_iter().rev().map(|piece| {
            PieceReturned {
                visit,
                piece,
                note: String::new(),
            }
            .into()
        });
        self.say(60, back.collect())?;
        self.say(1, vec![moved(visit, Stage::Together)]).map(drop)
    }

    fn proved(&mut self, lots: &mut Lots, it: &Model, visit: VisitId) -> Result<(), BenchError> {
        self.measured(lots, it, visit, Phase::After)?;
        let settings = lots.some(&it.settings, 2).into_iter().map(|setting| {
            SettingProved {
                visit,
                setting,
                held: true,
                note: String::new(),
            }
            .into()
        });
        let mut changes: Vec<Change> = settings.collect();
        changes.push(moved(visit, Stage::Proved));
        self.say(30, changes).map(drop)
    }

    fn sent(&mut self, lots: &mut Lots, visit: VisitId, on: Date) -> Result<(), BenchError> {
        let amount = Decimal::new(4000 + lots.below(20_000) as i64, 2);
        let line = BillLine {
            words: "repair".to_owned(),
            quantity: None,
            amount,
            tax_percent: Some(19.into()),
        };
        let bill = BillIssued {
            visit,
            on,
            due_on: None,
            lines: vec![line],
            currency: currency(),
            tax_name: "sales tax".to_owned(),
            note: String::new(),
        };
        let paid = PaymentReceived {
            visit,
            amount: Money::new(amount, currency()),
            on,
            how: "by transfer".to_owned(),
            note: String::new(),
        };
        let sent = Sent {
            visit,
            carrier: "Saltmere Post".to_owned(),
            tracking: format!("SP{}", 1_000_000 + lots.below(9_000_000)),
            on,
            guarantee_days: Some(180),
        };
        self.say(
            10,
            vec![
                bill.into(),
                paid.into(),
                sent.into(),
                moved(visit, Stage::Home),
            ],
        )
        .map(drop)
    }

    /// What is noted beside the rest: a usual sentence and one of many words that are rare.
    fn note(&self, lots: &mut Lots, visit: VisitId) -> Change {
        let text = format!(
            "{}; see {} {}",
            lots.pick(&SAID),
            word(lots.below(4096)),
            lots.below(100_000)
        );
        NoteWritten {
            about: About::Visit(visit),
            text,
        }
        .into()
    }
}
