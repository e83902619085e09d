//! Files.

use fettle_bench::{
    Change, FileRef, PaperAttached, PaperKind, PhotoAttached, RecordingAttached, Stage, VisitId,
};

use super::{Dice, Kept};

pub(super) fn throw(like: &Change, visit: VisitId, dice: &mut Dice<'_>, kept: &Kept) -> Change {
    match like {
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
        other => panic!("{other:?} is thrown elsewhere"),
    }
}

/// One change of each of these kinds, only for its kind.
pub(super) fn kinds() -> Vec<Change> {
    let visit = VisitId::new(1);
    let text = String::new;
    let file = || FileRef {
        hash: "0".repeat(64),
        extension: "png".to_owned(),
        bytes: 1,
    };
    vec![
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
    ]
}
