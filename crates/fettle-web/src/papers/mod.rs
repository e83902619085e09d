//! The papers of a visit: which there are, and what each is filled with.

mod bill;
mod labels;
mod parcel;
mod proof_sheet;
mod quote;
mod receipt;
mod report;

use fettle_bench::{
    Bench, BenchSettings, BillId, Language, PaperKind, PaperSize, Photo, PhotoSize, Stage,
    VisitView,
};
use fettle_notes::ServiceNotes;
use fettle_papers::{BenchHead, CameraHead, OwnerHead, PartGrade, Pdf, Photograph, Shortfall};
use jiff::ZonedDateTime;
use jiff::civil::Date;
use jiff::tz::TimeZone;

use crate::number;
use crate::visit::Context;

pub(crate) use self::{proof_sheet::meter_report, quote::together};

/// A paper that a visit can have.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum VisitPaper {
    Receipt,
    Quote,
    /// The last extra work found, by itself.
    ExtraWork,
    Report,
    ProofSheet,
    CorrectionCard,
    /// A bill by its number.
    Bill(BillId),
    /// A credit note by its number.
    Credit(BillId),
    PackingList,
    Declaration,
    Labels,
}

impl VisitPaper {
    /// Those that are the same for every visit.
    const PLAIN: [Self; 9] = [
        Self::Receipt,
        Self::Quote,
        Self::ExtraWork,
        Self::Report,
        Self::ProofSheet,
        Self::CorrectionCard,
        Self::PackingList,
        Self::Declaration,
        Self::Labels,
    ];

    /// Its name in an address.
    pub(crate) fn name(self) -> String {
        match self {
            Self::Receipt => "receipt",
            Self::Quote => "quote",
            Self::ExtraWork => "extra-work",
            Self::Report => "report",
            Self::ProofSheet => "proof-sheet",
            Self::CorrectionCard => "correction-card",
            Self::Bill(number) => return format!("bill-{number}"),
            Self::Credit(number) => return format!("credit-{number}"),
            Self::PackingList => "packing-list",
            Self::Declaration => "declaration",
            Self::Labels => "labels",
        }
        .to_owned()
    }

    pub(crate) fn from_name(name: &str) -> Option<Self> {
        let numbered = |of: &str, paper: fn(BillId) -> Self| {
            let number = name.strip_prefix(of)?.parse().ok()?;
            Some(paper(BillId::new(number)))
        };
        if let Some(paper) =
            numbered("bill-", Self::Bill).or_else(|| numbered("credit-", Self::Credit))
        {
            return Some(paper);
        }
        Self::PLAIN.into_iter().find(|paper| paper.name() == name)
    }

    pub(crate) fn title(self) -> String {
        match self {
            Self::Receipt => "Arrival receipt",
            Self::Quote => "Quote",
            Self::ExtraWork => "Quote for extra work",
            Self::Report => "Report of findings",
            Self::ProofSheet => "Proof sheet",
            Self::CorrectionCard => "Correction card",
            Self::Bill(number) => return format!("Bill {number}"),
            Self::Credit(number) => return format!("Credit note {number}"),
            Self::PackingList => "Packing list",
            Self::Declaration => "Contents declaration",
            Self::Labels => "Labels for camera and tray",
        }
        .to_owned()
    }

    pub(crate) fn kind(self) -> PaperKind {
        match self {
            Self::Receipt => PaperKind::Receipt,
            Self::Quote | Self::ExtraWork => PaperKind::Quote,
            Self::Report => PaperKind::Report,
            Self::ProofSheet => PaperKind::ProofSheet,
            Self::CorrectionCard => PaperKind::CorrectionCard,
            Self::Bill(_) => PaperKind::Bill,
            Self::Credit(_) => PaperKind::CreditNote,
            Self::PackingList => PaperKind::PackingList,
            Self::Declaration => PaperKind::Declaration,
            Self::Labels => PaperKind::Label,
        }
    }

    /// Those that can be made of this visit as it stands.
    pub(crate) fn of(view: &VisitView) -> Vec<Self> {
        let mut papers = vec![Self::Receipt];
        let (extra, main): (Vec<_>, Vec<_>) = view
            .quotes
            .iter()
            .partition(|quote| !quote.what.kind.is_alternative());
        if !main.is_empty() {
            papers.push(Self::Quote);
        }
        if !extra.is_empty() {
            papers.push(Self::ExtraWork);
        }
        if view.line.stage > Stage::Arrived {
            papers.push(Self::Report);
        }
        if !view.readings.is_empty() {
            papers.push(Self::ProofSheet);
        }
        if matches!(meter_report(view), Ok(Some(_))) {
            papers.push(Self::CorrectionCard);
        }
        for bill in &view.bills {
            papers.push(Self::Bill(bill.id));
            papers.extend(bill.credits.iter().map(|credit| Self::Credit(credit.id)));
        }
        if let Some(packed) = &view.packed {
            papers.push(Self::PackingList);
            if !packed.what.declared.is_empty() {
                papers.push(Self::Declaration);
            }
        }
        papers.push(Self::Labels);
        papers
    }

    /// Makes it; an error is a message.
    pub(crate) fn make(self, from: &From<'_>) -> Result<Pdf, String> {
        match self {
            Self::Receipt => receipt::receipt(from),
            Self::Quote => quote::quote(from),
            Self::ExtraWork => quote::extra(from),
            Self::Report => report::report(from),
            Self::ProofSheet => proof_sheet::proof_sheet(from),
            Self::CorrectionCard => proof_sheet::correction_card(from),
            Self::Bill(number) => bill::bill(from, number),
            Self::Credit(number) => bill::credit(from, number),
            Self::PackingList => parcel::packing_list(from),
            Self::Declaration => parcel::declaration(from),
            Self::Labels => labels::labels(from),
        }
    }
}

/// What papers are made from.
pub(crate) struct From<'a> {
    pub(crate) bench: &'a Bench,
    pub(crate) view: &'a VisitView,
    pub(crate) settings: &'a BenchSettings,
    pub(crate) notes: Option<&'a ServiceNotes>,
    pub(crate) today: Date,
    pub(crate) zone: &'a TimeZone,
    pub(crate) language: fettle_papers::Language,
    pub(crate) size: fettle_papers::PaperSize,
    /// The address of the visit as a scanner reaches it; empty when not known.
    pub(crate) address: String,
}

impl<'a> From<'a> {
    /// For the owner of the visit, in their language.
    pub(crate) fn of(context: &'a Context<'_>, address: String) -> Self {
        Self::new(
            context.bench,
            &context.view,
            &context.settings,
            context.notes(),
            context.now,
            address,
        )
    }

    pub(crate) fn new(
        bench: &'a Bench,
        view: &'a VisitView,
        settings: &'a BenchSettings,
        notes: Option<&'a ServiceNotes>,
        now: &'a ZonedDateTime,
        address: String,
    ) -> Self {
        Self {
            bench,
            view,
            settings,
            notes,
            today: now.date(),
            zone: now.time_zone(),
            language: language(view.owner.details.language.unwrap_or(settings.language)),
            size: size(settings.paper_size),
            address,
        }
    }

    fn visit(&self) -> String {
        self.view.line.visit.to_string()
    }

    fn bench(&self) -> BenchHead {
        bench_head(self.settings)
    }

    fn owner(&self) -> OwnerHead {
        let details = &self.view.owner.details;
        OwnerHead {
            name: details.name.clone(),
            lines: lines(&details.address),
        }
    }

    fn camera(&self) -> CameraHead {
        camera_head(self.view)
    }

    /// The works done and the parts fitted, one an entry.
    fn done(&self) -> Vec<String> {
        let view = self.view;
        let works = view.works.iter().map(|kept| kept.what.work.words.clone());
        let parts = view.parts.iter().map(|kept| {
            let part = &kept.what;
            let count = if part.quantity > 1 {
                format!("{} × ", part.quantity)
            } else {
                String::new()
            };
            format!("fitted: {count}{} ({})", part.part.words, part.grade)
        });
        works.chain(parts).collect()
    }

    fn not_brought_back(&self) -> Vec<Shortfall> {
        let of = |what: &str, correction: &str| Shortfall {
            what: what.to_owned(),
            correction: Some(correction.to_owned()).filter(|it| !it.is_empty()),
        };
        self.view
            .shortfalls
            .iter()
            .map(|kept| of(&kept.what.what, &kept.what.correction))
            .collect()
    }

    fn cautions(&self) -> Vec<String> {
        self.notes
            .map(|notes| notes.model.owner_cautions.clone())
            .unwrap_or_default()
    }

    /// The files of photographs, as large as a page shows them; one that is gone is left out.
    fn photographs(&self, of: impl Fn(&Photo) -> bool) -> Vec<Photograph> {
        let read = |photo: &Photo| {
            let file = self.bench.photo_file(photo.id, PhotoSize::Display).ok()?;
            Some(Photograph {
                bytes: std::fs::read(file.path).ok()?,
                caption: photo.what.caption.clone(),
            })
        };
        let photos = self.view.photos.iter();
        photos.filter(|it| of(it)).filter_map(read).collect()
    }
}

pub(crate) fn language(language: Language) -> fettle_papers::Language {
    match language {
        Language::English => fettle_papers::Language::En,
        Language::German => fettle_papers::Language::De,
    }
}

pub(crate) fn size(size: PaperSize) -> fettle_papers::PaperSize {
    match size {
        PaperSize::A4 => fettle_papers::PaperSize::A4,
        PaperSize::Letter => fettle_papers::PaperSize::Letter,
    }
}

pub(crate) fn bench_head(settings: &BenchSettings) -> BenchHead {
    let mut all = lines(&settings.address);
    all.extend(lines(&settings.contact));
    BenchHead {
        name: settings.name.clone(),
        lines: all,
    }
}

pub(crate) fn camera_head(view: &VisitView) -> CameraHead {
    let details = &view.camera.details;
    CameraHead {
        maker: details.maker.clone(),
        model: details.model.clone(),
        serials: details
            .serials
            .iter()
            .map(|it| (it.at.clone(), it.number.clone()))
            .collect(),
    }
}

/// The lines of a text that say something.
fn lines(text: &str) -> Vec<String> {
    text.lines()
        .map(str::trim)
        .filter(|line| !line.is_empty())
        .map(str::to_owned)
        .collect()
}

fn grade(grade: fettle_bench::Grade) -> PartGrade {
    use fettle_bench::Grade;
    match grade {
        Grade::Original => PartGrade::Original,
        Grade::Reproduction => PartGrade::Reproduction,
        Grade::Salvaged => PartGrade::Salvaged,
        Grade::Made => PartGrade::Made,
    }
}

/// What a paper is kept under.
pub(crate) fn kept_title(paper: VisitPaper, view: &VisitView, on: Date) -> String {
    format!(
        "{}, visit {}, {}",
        paper.title(),
        view.line.visit,
        number::date(on)
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_paper_is_found_by_its_name() {
        let numbered = [
            VisitPaper::Bill(BillId::new(7)),
            VisitPaper::Credit(BillId::new(8)),
        ];
        for paper in VisitPaper::PLAIN.into_iter().chain(numbered) {
            assert_eq!(VisitPaper::from_name(&paper.name()), Some(paper));
        }
        for unknown in ["", "bill-", "bill-x", "letter"] {
            assert_eq!(VisitPaper::from_name(unknown), None);
        }
    }
}
