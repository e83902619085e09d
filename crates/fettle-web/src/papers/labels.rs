//! Labels for the camera and the cells of its tray.

use fettle_papers::{Label, LabelLayout, Labels, Pdf};

use super::From;

pub(super) fn labels(from: &From<'_>) -> Result<Pdf, String> {
    let view = from.view;
    let mut labels = vec![Label::Camera {
        visit: from.visit(),
        owner: view.owner.details.name.clone(),
        camera: from.camera(),
        arrived: view.arrival.arrived,
        code: from.address.clone(),
    }];
    let in_cells = view.tray().filter_map(|piece| {
        Some(Label::Tray {
            visit: from.visit(),
            cell: piece.what.cell?.to_string(),
            words: piece.what.piece.words.clone(),
            code: from.address.clone(),
        })
    });
    labels.extend(in_cells);
    let sheet = Labels {
        language: from.language,
        bench: from.settings.name.clone(),
        issued: from.today,
        labels,
        layout: LabelLayout::Sheet {
            grid: None,
            taken: 0,
        },
    };
    fettle_papers::labels(&sheet, from.size).map_err(|error| error.to_string())
}
