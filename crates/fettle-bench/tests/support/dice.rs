//! Random changes of every kind, from numbers that proptest throws and can make smaller. What is thrown stands by kind of change in the
//! modules below.

mod arrival;
mod attach;
mod bill;
mod finding;
mod going;
pub(crate) mod stock;
mod work;

use fettle_bench::{
    Bench, Change, Currency, Decimal, EntryId, FileRef, Money, PaperKind, Stage, Term, VisitId,
};

/// Numbers thrown before; when they run out the rest is zero.
pub(crate) struct Dice<'n> {
    numbers: std::slice::Iter<'n, u32>,
}

impl<'n> Dice<'n> {
    pub(crate) fn new(numbers: &'n [u32]) -> Self {
        Self {
            numbers: numbers.iter(),
        }
    }

    fn upto(&mut self, most: u32) -> u32 {
        self.numbers.next().copied().unwrap_or(0) % (most + 1)
    }

    fn pick<T: Clone>(&mut self, from: &[T]) -> T {
        from[self.upto(u32::try_from(from.len() - 1).unwrap()) as usize].clone()
    }

    fn yes(&mut self) -> bool {
        self.upto(1) == 1
    }

    fn text(&mut self) -> String {
        self.pick(&[
            "",
            "the pawl",
            "it's \"so\"",
            "two\nlines\tand a tab",
            "‘ünïcödé’ ⚙",
            "NULL",
            "1.50",
            "'; DROP TABLE visit; --",
        ])
        .to_owned()
    }

    fn line(&mut self) -> String {
        self.pick(&[
            "wind pawl",
            "it's \"so\"",
            "‘ünïcödé’ ⚙",
            "NULL",
            "x'00'",
            "0.1",
        ])
        .to_owned()
    }

    fn number(&mut self) -> f64 {
        self.pick(&[
            0.1 + 0.2,
            0.0,
            -1.5,
            1e-300,
            1.797e308,
            1.0 / 3.0,
            5e-324,
            -0.0,
            120.0,
        ])
    }

    fn maybe_number(&mut self) -> Option<f64> {
        self.yes().then(|| self.number())
    }

    fn width(&mut self) -> Option<f64> {
        self.maybe_number().map(f64::abs)
    }

    fn term(&mut self) -> Term {
        if self.yes() {
            let id = self.pick(&["wind-pawl", "side-cover", "gear-train", "leather"]);
            Term::known(id, id.replace('-', " "))
        } else {
            Term::own(self.line())
        }
    }

    fn money(&mut self) -> Option<Money> {
        let amount = self.pick(&["0", "12.50", "79228162514264337593543950.335", "0.10"]);
        let currency = self.pick(&["XTS", "EUR"]);
        self.yes()
            .then(|| Money::new(amount.parse().unwrap(), Currency::new(currency).unwrap()))
    }

    fn percent(&mut self) -> Option<Decimal> {
        let percent = self.pick(&["0", "7.7", "19", "19.00"]);
        self.yes().then(|| percent.parse().unwrap())
    }

    fn day(&mut self) -> jiff::civil::Date {
        let day = 1 + self.upto(27);
        format!("2026-09-{day:02}").parse().unwrap()
    }

    fn id(&mut self) -> i64 {
        // Mostly what is there, sometimes what is not.
        self.pick(&[1, 1, 1, 2, 2, 2, 3, 4])
    }
}

/// Files that lie in the bench's folder, to be attached.
pub(crate) struct Kept {
    pub(crate) photo: FileRef,
    pub(crate) recording: FileRef,
    pub(crate) paper: FileRef,
}

impl Kept {
    pub(crate) fn new(bench: &Bench) -> Self {
        let visit = VisitId::LATEST;
        let mut png = std::io::Cursor::new(Vec::new());
        image::RgbImage::new(3, 2)
            .write_to(&mut png, image::ImageFormat::Png)
            .unwrap();
        let photo = bench
            .keep_photo(visit, Stage::Arrived, "", png.get_ref())
            .unwrap();
        let recording = bench
            .keep_recording(visit, Stage::Proved, "", "a.WAV", b"RIFF")
            .unwrap();
        let paper = bench
            .keep_paper(visit, PaperKind::Bill, "", "pdf", b"%PDF-")
            .unwrap();
        match (photo, recording, paper) {
            (
                Change::PhotoAttached(photo),
                Change::RecordingAttached(recording),
                Change::PaperAttached(paper),
            ) => Self {
                photo: photo.file,
                recording: recording.file,
                paper: paper.file,
            },
            other => panic!("{other:?}"),
        }
    }
}

/// A change of the same kind as `like`, with everything else thrown. The match has no arm for the rest, so a new kind of change does
/// not compile until it is thrown too.
pub(crate) fn throw(like: &Change, dice: &mut Dice<'_>, kept: &Kept, last: EntryId) -> Change {
    let visit = VisitId::new(dice.id());
    match like {
        Change::BenchSettled(_)
        | Change::OwnerAdded(_)
        | Change::OwnerCorrected(_)
        | Change::CameraAdded(_)
        | Change::CameraCorrected(_)
        | Change::VisitOpened(_)
        | Change::ArrivalCorrected(_)
        | Change::StageMoved(_)
        | Change::WaitingBegun(_)
        | Change::WaitingEnded(_) => arrival::throw(like, visit, dice),
        Change::SignObserved(_)
        | Change::CircumstanceKnown(_)
        | Change::EarlierHandsNoted(_)
        | Change::FaultRecorded(_)
        | Change::QuoteMade(_)
        | Change::QuoteAnswered(_)
        | Change::StripOrdered(_) => finding::throw(like, visit, dice),
        Change::PieceRemoved(_)
        | Change::PieceReturned(_)
        | Change::WorkDone(_)
        | Change::PartFitted(_)
        | Change::ReadingTaken(_)
        | Change::SettingProved(_)
        | Change::TrialMade(_)
        | Change::ShortfallNoted(_) => work::throw(like, visit, dice),
        Change::PhotoAttached(_) | Change::RecordingAttached(_) | Change::PaperAttached(_) => {
            attach::throw(like, visit, dice, kept)
        }
        Change::Packed(_)
        | Change::Sent(_)
        | Change::SendingHeld(_)
        | Change::HoldEnded(_)
        | Change::NoteWritten(_)
        | Change::Undo(_) => going::throw(like, visit, dice, last),
        Change::BillIssued(_) | Change::CreditIssued(_) | Change::PaymentReceived(_) => {
            bill::throw(like, visit, dice)
        }
        Change::DrawerNamed(_)
        | Change::PartStored(_)
        | Change::MinimumSet(_)
        | Change::LotCorrected(_)
        | Change::LotMoved(_)
        | Change::PartTaken(_)
        | Change::PartReturned(_)
        | Change::DrawerCounted(_)
        | Change::DonorRegistered(_)
        | Change::DonorCorrected(_)
        | Change::DonorPartsNoted(_)
        | Change::PartSalvaged(_) => stock::throw(like, visit, dice),
    }
}

/// One change of every kind, only for its kind.
pub(crate) fn every_kind() -> Vec<Change> {
    [
        arrival::kinds(),
        finding::kinds(),
        work::kinds(),
        attach::kinds(),
        going::kinds(),
        bill::kinds(),
        stock::kinds(),
    ]
    .concat()
}
