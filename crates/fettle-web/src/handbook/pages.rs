//! Which pages there are, in their order, and the pictures that they show.

/// A page of the handbook.
#[derive(Debug)]
pub(super) struct HandbookPage {
    /// Its file in `docs/` without the ending, and the end of its address.
    pub(super) name: &'static str,
    /// What it is about, in a line.
    pub(super) about: &'static str,
    /// What its file holds.
    pub(super) text: &'static str,
}

/// All pages, chapter by chapter.
pub(super) fn pages() -> impl Iterator<Item = (&'static Chapter, &'static HandbookPage)> {
    CHAPTERS
        .iter()
        .flat_map(|chapter| chapter.pages.iter().map(move |page| (chapter, page)))
}

impl HandbookPage {
    /// Its first heading.
    pub(super) fn title(&self) -> &'static str {
        let first = self.text.lines().next().unwrap_or_default();
        first.trim_start_matches('#').trim()
    }
}

/// Some pages that follow each other.
#[derive(Debug)]
pub(super) struct Chapter {
    pub(super) name: &'static str,
    pub(super) pages: &'static [HandbookPage],
}

macro_rules! pages {
    ($($name:literal: $about:literal;)*) => {
        &[$(HandbookPage {
            name: $name,
            about: $about,
            text: include_str!(concat!("../../../../docs/", $name, ".md")),
        }),*]
    };
}

macro_rules! pictures {
    ($($name:literal),* $(,)?) => {
        &[$(($name, include_bytes!(concat!("../../../../docs/pictures/", $name)))),*]
    };
}

pub(super) const CHAPTERS: [Chapter; 5] = [
    Chapter {
        name: "To begin",
        pages: pages! {
            "first-day": "From an empty folder to a camera on the bench in ten minutes.";
            "light-sensor": "A sensor for exposure times from a handful of parts, with its circuit.";
            "lan": "A tablet or second computer at the bench, safely.";
            "questions": "What people ask, answered briefly.";
        },
    },
    Chapter {
        name: "At the bench",
        pages: pages! {
            "shutter-page": "Measuring exposure times: the set-up, the page, what its words mean.";
            "instruments": "Meter, register, rangefinder, mesh and trimming.";
            "teeth": "How teeth are photographed and what their figures mean.";
            "drawing": "Racks and gears to have made, and what the files are for.";
            "why-this-fault": "How the bench book finds the likely cause and the next look.";
            "writing-notes": "Service notes for a model of your own, step by step.";
            "service-notes": "Every key of the service notes.";
            "words": "The words used, one for each thing.";
        },
    },
    Chapter {
        name: "Owners, papers, parts",
        pages: pages! {
            "owners": "Quotes, bills, mails, parcels, guarantees.";
            "papers": "What the papers say, their languages and letters.";
            "drawers": "Parts, drawers and donors.";
            "forecast": "Whether a drawer lasts, and how that is reckoned.";
        },
    },
    Chapter {
        name: "Keeping it",
        pages: pages! {
            "backup": "Backups, and moving to a new computer.";
            "import": "Taking in what was kept elsewhere.";
            "export": "Writing everything out in plain files.";
            "install": "Putting the program on a computer, and a newer version.";
        },
    },
    Chapter {
        name: "How it is reckoned",
        pages: pages! {
            "shutter": "How exposure times are reckoned, proved, and where that ends.";
            "causes": "How causes are weighed, learned, and how well that holds.";
            "why": "Why the program is as it is.";
        },
    },
];

/// Pictures by their file's name.
pub(super) const PICTURES: &[(&str, &[u8])] = pictures![
    "circuit.svg",
    "bench.png",
    "visit.png",
    "causes.png",
    "shutter.png",
    "removals.png",
];
