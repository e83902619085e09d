//! Random changes of every kind, from numbers that proptest throws and can make smaller.

use fettle_bench::{
    About, ArrivalCorrected, ArrivalDetails, Bench, BenchSettings, CameraCorrected, CameraDetails,
    CameraId, Change, CircumstanceKnown, Counted, Currency, DonorCorrected, DonorDetails, DonorId,
    DonorPartId, DonorPartIs, DonorPartsNoted, DrawerCounted, DrawerId, DrawerNamed,
    EarlierHandsNoted, EntryId, FaultId, FaultIs, FaultRecorded, FileRef, Found, Grade, Instrument,
    LineFor, LotCorrected, LotId, LotMoved, MinimumSet, Money, MovementId, NoteWritten, Number,
    OnDonor, OwnerCorrected, OwnerDetails, OwnerId, Packed, PaperAttached, PaperKind, PartFitted,
    PartId, PartOf, PartReturned, PartSalvaged, PartStored, PartTaken, Phase, PhotoAttached,
    PhotoId, PieceId, PieceRemoved, PieceReturned, QuoteAnswered, QuoteId, QuoteLine, QuoteMade,
    ReadingRow, ReadingTaken, RecordingAttached, RecordingId, SalvagedTo, Seen, Sent, Serial,
    SettingProved, ShortfallNoted, SignObserved, Stage, StageMoved, StripOrdered, Term, Tick,
    TrialMade, TrialReading, Turned, Undo, Verdict, VisitId, VisitOpened, WaitFor, WaitId,
    WaitingBegun, WaitingEnded, WorkDone,
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
        Change::BenchSettled(_) => BenchSettings {
            name: dice.line(),
            place: dice.line(),
            address: dice.text(),
            contact: dice.text(),
            currency: Currency::new("XTS").unwrap(),
            hourly_rate: dice.money().map(|money| money.amount),
        }
        .into(),
        Change::OwnerAdded(_) => owner(dice).into(),
        Change::OwnerCorrected(_) => OwnerCorrected {
            owner: OwnerId::new(dice.id()),
            details: owner(dice),
        }
        .into(),
        Change::CameraAdded(_) => camera(dice).into(),
        Change::CameraCorrected(_) => CameraCorrected {
            camera: CameraId::new(dice.id()),
            details: camera(dice),
        }
        .into(),
        Change::VisitOpened(_) => VisitOpened {
            camera: CameraId::new(dice.id()),
            arrival: arrival(dice),
        }
        .into(),
        Change::ArrivalCorrected(_) => ArrivalCorrected {
            visit,
            arrival: arrival(dice),
        }
        .into(),
        Change::StageMoved(_) => StageMoved {
            visit,
            to: dice.pick(Stage::ALL),
            note: dice.text(),
        }
        .into(),
        Change::WaitingBegun(_) => WaitingBegun {
            visit,
            wait_for: dice.pick(WaitFor::ALL),
            what: dice.line(),
        }
        .into(),
        Change::WaitingEnded(_) => WaitingEnded {
            visit,
            wait: WaitId::new(dice.id()),
            note: dice.line(),
        }
        .into(),
        Change::SignObserved(_) => SignObserved {
            visit,
            sign: dice.term(),
            seen: dice.pick(Seen::ALL),
            numbers: vec![Number {
                name: dice.line(),
                value: dice.number(),
                unit: "mm".to_owned(),
            }],
            note: dice.text(),
        }
        .into(),
        Change::CircumstanceKnown(_) => CircumstanceKnown {
            visit,
            circumstance: dice.term(),
            known: dice.pick(Seen::ALL),
            note: dice.text(),
        }
        .into(),
        Change::EarlierHandsNoted(_) => EarlierHandsNoted {
            visit,
            at: dice.line(),
            what: dice.line(),
        }
        .into(),
        Change::FaultRecorded(_) => FaultRecorded {
            visit,
            fault: dice.term(),
            is: dice.pick(FaultIs::ALL),
            found: dice.pick(Found::ALL),
            because_of: dice.yes().then(|| FaultId::new(dice.id())),
            note: dice.text(),
        }
        .into(),
        Change::QuoteMade(_) => quote(visit, dice).into(),
        Change::QuoteAnswered(_) => QuoteAnswered {
            visit,
            quote: QuoteId::new(dice.id()),
            agreed: dice.yes(),
            words: dice.text(),
            on: dice.day(),
        }
        .into(),
        Change::PieceRemoved(_) => PieceRemoved {
            visit,
            piece: dice.term(),
            cell: dice.yes().then(|| 1 + dice.upto(20)),
            note: dice.text(),
            photo: dice.yes().then(|| PhotoId::new(dice.id())),
        }
        .into(),
        Change::PieceReturned(_) => PieceReturned {
            visit,
            piece: PieceId::new(dice.id()),
            note: dice.text(),
        }
        .into(),
        Change::WorkDone(_) => WorkDone {
            visit,
            work: dice.term(),
            minutes: Some(12.75),
            note: dice.text(),
        }
        .into(),
        Change::PartFitted(_) => PartFitted {
            visit,
            part: dice.term(),
            grade: dice.pick(Grade::ALL),
            quantity: 1 + dice.upto(3),
            price: dice.money(),
            note: dice.text(),
        }
        .into(),
        Change::ReadingTaken(_) => reading(visit, dice).into(),
        Change::SettingProved(_) => SettingProved {
            visit,
            setting: dice.term(),
            held: dice.yes(),
            note: dice.text(),
        }
        .into(),
        Change::StripOrdered(_) => StripOrdered {
            visit,
            ordered: dice.yes(),
        }
        .into(),
        Change::TrialMade(_) => trial(visit, dice).into(),
        Change::ShortfallNoted(_) => ShortfallNoted {
            visit,
            what: dice.line(),
            correction: dice.text(),
        }
        .into(),
        Change::PhotoAttached(_) => PhotoAttached {
            visit,
            file: kept.photo.clone(),
            width_px: 3,
            height_px: 2,
            caption: dice.text(),
            stage: dice.pick(Stage::ALL),
        }
        .into(),
        Change::RecordingAttached(_) => RecordingAttached {
            visit,
            file: kept.recording.clone(),
            caption: dice.text(),
            stage: dice.pick(Stage::ALL),
        }
        .into(),
        Change::PaperAttached(_) => PaperAttached {
            visit,
            file: kept.paper.clone(),
            paper: dice.pick(PaperKind::ALL),
            title: dice.line(),
        }
        .into(),
        Change::Packed(_) => Packed {
            visit,
            ticks: vec![Tick {
                item: dice.line(),
                packed: dice.yes(),
            }],
            note: dice.text(),
        }
        .into(),
        Change::Sent(_) => Sent {
            visit,
            carrier: dice.line(),
            tracking: dice.line(),
            on: dice.day(),
        }
        .into(),
        Change::NoteWritten(_) => NoteWritten {
            about: match dice.upto(2) {
                0 => About::Visit(visit),
                1 => About::Camera(CameraId::new(dice.id())),
                _ => About::Owner(OwnerId::new(dice.id())),
            },
            text: dice.line(),
        }
        .into(),
        Change::DrawerNamed(_) => DrawerNamed {
            drawer: dice.yes().then(|| DrawerId::new(dice.id())),
            name: dice.line(),
            place: dice.line(),
        }
        .into(),
        Change::PartStored(_) => PartStored {
            of: part_of(dice),
            grade: dice.pick(Grade::ALL),
            quantity: 1 + dice.upto(4),
            price: dice.money(),
            source: dice.line(),
            drawer: DrawerId::new(dice.id()),
            minimum: dice.yes().then(|| dice.upto(3)),
            note: dice.text(),
        }
        .into(),
        Change::MinimumSet(_) => MinimumSet {
            part: PartId::new(dice.id()),
            minimum: dice.yes().then(|| dice.upto(3)),
        }
        .into(),
        Change::LotCorrected(_) => LotCorrected {
            lot: LotId::new(dice.id()),
            grade: dice.pick(Grade::ALL),
            price: dice.money(),
            source: dice.line(),
            note: dice.text(),
        }
        .into(),
        Change::LotMoved(_) => LotMoved {
            lot: LotId::new(dice.id()),
            drawer: DrawerId::new(dice.id()),
            quantity: dice.yes().then(|| 1 + dice.upto(1)),
        }
        .into(),
        Change::PartTaken(_) => PartTaken {
            lot: LotId::new(dice.id()),
            visit: dice.yes().then_some(visit),
            quantity: 1 + dice.upto(1),
            price: dice.money(),
            note: dice.text(),
        }
        .into(),
        Change::PartReturned(_) => PartReturned {
            taken: MovementId::new(1 + i64::from(dice.upto(5))),
            quantity: 1 + dice.upto(1),
            drawer: dice.yes().then(|| DrawerId::new(dice.id())),
            note: dice.text(),
        }
        .into(),
        Change::DrawerCounted(_) => DrawerCounted {
            drawer: DrawerId::new(dice.id()),
            counts: vec![Counted {
                lot: LotId::new(dice.id()),
                written: dice.upto(4),
                counted: dice.upto(6),
            }],
            note: dice.text(),
        }
        .into(),
        Change::DonorRegistered(_) => donor(dice).into(),
        Change::DonorCorrected(_) => DonorCorrected {
            donor: DonorId::new(dice.id()),
            details: donor(dice),
        }
        .into(),
        Change::DonorPartsNoted(_) => DonorPartsNoted {
            donor: DonorId::new(dice.id()),
            parts: (0..=dice.upto(1))
                .map(|_| OnDonor {
                    part: dice.term(),
                    quantity: dice.upto(3),
                    state: dice.pick(DonorPartIs::ALL),
                    note: dice.text(),
                })
                .collect(),
        }
        .into(),
        Change::PartSalvaged(_) => {
            let into_drawer = dice.yes();
            PartSalvaged {
                from: DonorPartId::new(dice.id()),
                quantity: 1 + dice.upto(1),
                to: if into_drawer {
                    SalvagedTo::Drawer(DrawerId::new(dice.id()))
                } else {
                    SalvagedTo::Visit(visit)
                },
                price: if into_drawer { None } else { dice.money() },
                note: dice.text(),
            }
            .into()
        }
        Change::Undo(_) => Undo {
            entry: EntryId::new((last.get() - i64::from(dice.upto(11))).max(1)),
        }
        .into(),
    }
}

/// Mostly towards home, so that parcels are packed and sent.
fn stage(dice: &mut Dice<'_>) -> Stage {
    if dice.yes() {
        return dice.pick(Stage::ALL);
    }
    dice.pick(&[
        Stage::Apart,
        Stage::Proved,
        Stage::ReturnedUnrepaired,
        Stage::Packed,
        Stage::Packed,
        Stage::Home,
    ])
}

fn owner(dice: &mut Dice<'_>) -> OwnerDetails {
    OwnerDetails {
        name: dice.line(),
        email: dice.line(),
        phone: dice.line(),
        address: dice.text(),
        note: dice.text(),
    }
}

fn camera(dice: &mut Dice<'_>) -> CameraDetails {
    let serials = (0..dice.upto(2)).map(|_| Serial {
        at: "body".to_owned(),
        number: dice.line(),
    });
    CameraDetails {
        serials: serials.collect(),
        maker: dice.line(),
        model: dice.line(),
        notes_id: dice.yes().then(|| "corran-66".to_owned()),
        note: dice.text(),
    }
}

fn arrival(dice: &mut Dice<'_>) -> ArrivalDetails {
    let arrived = dice.day();
    let came_with = (0..dice.upto(2)).map(|_| dice.line()).collect();
    ArrivalDetails {
        owner: OwnerId::new(dice.id()),
        arrived,
        words: dice.text(),
        wanted: dice.text(),
        condition: dice.text(),
        came_with,
        declared: dice.money(),
        promised: dice.yes().then_some(arrived),
        guarantee_of: (dice.upto(3) == 0).then(|| VisitId::new(dice.id())),
    }
}

fn quote(visit: VisitId, dice: &mut Dice<'_>) -> QuoteMade {
    let lines = (0..=dice.upto(2))
        .map(|_| QuoteLine {
            line_for: dice.pick(LineFor::ALL),
            what: dice.term(),
            grade: dice.yes().then(|| dice.pick(Grade::ALL)),
            quantity: dice.yes().then(|| dice.upto(4)),
            minutes_likely: dice.yes().then_some(30.5),
            minutes_nine_in_ten: dice.yes().then_some(45.25),
            amount: dice.pick(&["12.50", "0.10", "-3"]).parse().unwrap(),
        })
        .collect();
    QuoteMade::new(visit, lines, Currency::new("XTS").unwrap(), dice.text())
}

fn reading(visit: VisitId, dice: &mut Dice<'_>) -> ReadingTaken {
    ReadingTaken {
        visit,
        phase: dice.pick(Phase::ALL),
        instrument: dice.pick(Instrument::ALL),
        limit_id: dice.yes().then(|| "shutter".to_owned()),
        rows: vec![ReadingRow {
            name: dice.line(),
            unit: "s".to_owned(),
            nominal: dice.maybe_number(),
            value: dice.maybe_number(),
            error: dice.maybe_number(),
            error_unit: "stops".to_owned(),
            uncertainty: dice.width(),
            limit: dice.width(),
            verdict: dice.yes().then(|| dice.pick(Verdict::ALL)),
        }],
        findings: vec![dice.line()],
        recording: dice.yes().then(|| RecordingId::new(dice.id())),
        method: dice.text(),
        detail: dice.yes().then(
            || serde_json::json!({"n": 1, "effective_s": dice.number(), "flags": [dice.text()]}),
        ),
    }
}

fn trial(visit: VisitId, dice: &mut Dice<'_>) -> TrialMade {
    let as_found = dice.yes();
    TrialMade {
        visit,
        setting: dice.term(),
        as_found,
        turned: vec![Turned {
            adjuster: dice.line(),
            turns: if as_found { 0.0 } else { dice.number() },
        }],
        readings: vec![TrialReading {
            limit_id: "register".to_owned(),
            value: dice.maybe_number(),
            repeatability: 0.01,
        }],
        note: dice.text(),
    }
}

fn part_of(dice: &mut Dice<'_>) -> PartOf {
    let part = dice.term();
    PartOf {
        notes_id: part.id.is_some().then(|| "corran-66".to_owned()),
        model: dice.line(),
        part,
    }
}

fn donor(dice: &mut Dice<'_>) -> DonorDetails {
    DonorDetails {
        maker: dice.line(),
        model: dice.line(),
        notes_id: dice.yes().then(|| "corran-66".to_owned()),
        serial: dice.line(),
        condition: dice.text(),
        source: dice.line(),
    }
}

/// Two drawers with a lot that pieces were taken from, and a donor.
pub(crate) fn stocked() -> Vec<Change> {
    let drawer = |name: &str| DrawerNamed {
        name: name.to_owned(),
        ..DrawerNamed::default()
    };
    let part = || Term::known("gear-train", "gear train");
    vec![
        drawer("A 1").into(),
        drawer("B 2").into(),
        PartStored {
            of: PartOf {
                notes_id: Some("corran-66".to_owned()),
                model: "Aldous Corran 66".to_owned(),
                part: part(),
            },
            grade: Grade::Original,
            quantity: 5,
            price: None,
            source: String::new(),
            drawer: DrawerId::LATEST,
            minimum: None,
            note: String::new(),
        }
        .into(),
        PartTaken {
            lot: LotId::LATEST,
            visit: None,
            quantity: 2,
            price: None,
            note: String::new(),
        }
        .into(),
        DonorDetails {
            model: "Corran 66".to_owned(),
            ..DonorDetails::default()
        }
        .into(),
        DonorPartsNoted {
            donor: DonorId::LATEST,
            parts: vec![OnDonor {
                part: part(),
                quantity: 3,
                state: DonorPartIs::Worn,
                note: String::new(),
            }],
        }
        .into(),
    ]
}

/// One change of every kind, only for its kind.
pub(crate) fn every_kind() -> Vec<Change> {
    let visit = VisitId::new(1);
    let term = || Term::own("x");
    let text = String::new;
    let day = || "2026-09-01".parse().unwrap();
    let file = || FileRef {
        hash: "0".repeat(64),
        extension: "png".to_owned(),
        bytes: 1,
    };
    vec![
        super::settings().into(),
        OwnerDetails::default().into(),
        OwnerCorrected {
            owner: OwnerId::new(1),
            details: OwnerDetails::default(),
        }
        .into(),
        CameraDetails::default().into(),
        CameraCorrected {
            camera: CameraId::new(1),
            details: CameraDetails::default(),
        }
        .into(),
        VisitOpened {
            camera: CameraId::new(1),
            arrival: super::arrival_details(OwnerId::new(1)),
        }
        .into(),
        ArrivalCorrected {
            visit,
            arrival: super::arrival_details(OwnerId::new(1)),
        }
        .into(),
        StageMoved {
            visit,
            to: Stage::Home,
            note: text(),
        }
        .into(),
        WaitingBegun {
            visit,
            wait_for: WaitFor::Part,
            what: text(),
        }
        .into(),
        WaitingEnded {
            visit,
            wait: WaitId::new(1),
            note: text(),
        }
        .into(),
        SignObserved {
            visit,
            sign: term(),
            seen: Seen::Yes,
            numbers: Vec::new(),
            note: text(),
        }
        .into(),
        CircumstanceKnown {
            visit,
            circumstance: term(),
            known: Seen::Yes,
            note: text(),
        }
        .into(),
        EarlierHandsNoted {
            visit,
            at: text(),
            what: text(),
        }
        .into(),
        FaultRecorded {
            visit,
            fault: term(),
            is: FaultIs::Cause,
            found: Found::Found,
            because_of: None,
            note: text(),
        }
        .into(),
        QuoteMade::new(visit, Vec::new(), Currency::new("XTS").unwrap(), "").into(),
        QuoteAnswered {
            visit,
            quote: QuoteId::new(1),
            agreed: true,
            words: text(),
            on: day(),
        }
        .into(),
        StripOrdered {
            visit,
            ordered: true,
        }
        .into(),
        PieceRemoved {
            visit,
            piece: term(),
            cell: None,
            note: text(),
            photo: None,
        }
        .into(),
        PieceReturned {
            visit,
            piece: PieceId::new(1),
            note: text(),
        }
        .into(),
        WorkDone {
            visit,
            work: term(),
            minutes: None,
            note: text(),
        }
        .into(),
        PartFitted {
            visit,
            part: term(),
            grade: Grade::Made,
            quantity: 1,
            price: None,
            note: text(),
        }
        .into(),
        ReadingTaken {
            visit,
            phase: Phase::After,
            instrument: Instrument::Other,
            limit_id: None,
            rows: Vec::new(),
            findings: Vec::new(),
            recording: None,
            method: text(),
            detail: None,
        }
        .into(),
        SettingProved {
            visit,
            setting: term(),
            held: true,
            note: text(),
        }
        .into(),
        TrialMade {
            visit,
            setting: term(),
            as_found: true,
            turned: Vec::new(),
            readings: Vec::new(),
            note: text(),
        }
        .into(),
        ShortfallNoted {
            visit,
            what: text(),
            correction: text(),
        }
        .into(),
        PhotoAttached {
            visit,
            file: file(),
            width_px: 1,
            height_px: 1,
            caption: text(),
            stage: Stage::Home,
        }
        .into(),
        RecordingAttached {
            visit,
            file: file(),
            caption: text(),
            stage: Stage::Home,
        }
        .into(),
        PaperAttached {
            visit,
            file: file(),
            paper: PaperKind::Bill,
            title: text(),
        }
        .into(),
        Packed {
            visit,
            ticks: Vec::new(),
            note: text(),
        }
        .into(),
        Sent {
            visit,
            carrier: text(),
            tracking: text(),
            on: day(),
        }
        .into(),
        NoteWritten {
            about: About::Visit(visit),
            text: text(),
        }
        .into(),
        DrawerNamed::default().into(),
        PartStored {
            of: PartOf {
                notes_id: None,
                model: text(),
                part: term(),
            },
            grade: Grade::Made,
            quantity: 1,
            price: None,
            source: text(),
            drawer: DrawerId::new(1),
            minimum: None,
            note: text(),
        }
        .into(),
        MinimumSet {
            part: PartId::new(1),
            minimum: None,
        }
        .into(),
        LotCorrected {
            lot: LotId::new(1),
            grade: Grade::Made,
            price: None,
            source: text(),
            note: text(),
        }
        .into(),
        LotMoved {
            lot: LotId::new(1),
            drawer: DrawerId::new(1),
            quantity: None,
        }
        .into(),
        PartTaken {
            lot: LotId::new(1),
            visit: None,
            quantity: 1,
            price: None,
            note: text(),
        }
        .into(),
        PartReturned {
            taken: MovementId::new(1),
            quantity: 1,
            drawer: None,
            note: text(),
        }
        .into(),
        DrawerCounted {
            drawer: DrawerId::new(1),
            counts: Vec::new(),
            note: text(),
        }
        .into(),
        DonorDetails::default().into(),
        DonorCorrected {
            donor: DonorId::new(1),
            details: DonorDetails::default(),
        }
        .into(),
        DonorPartsNoted {
            donor: DonorId::new(1),
            parts: Vec::new(),
        }
        .into(),
        PartSalvaged {
            from: DonorPartId::new(1),
            quantity: 1,
            to: SalvagedTo::Drawer(DrawerId::new(1)),
            price: None,
            note: text(),
        }
        .into(),
        Undo {
            entry: EntryId::new(1),
        }
        .into(),
    ]
}
