//! The style sheet and scripts, held in the program and addressed by their content.

use std::sync::LazyLock;

use axum::extract::Path;
use axum::http::header::{CACHE_CONTROL, CONTENT_TYPE};
use axum::response::{IntoResponse, Response};

use crate::error::PageError;
use crate::urls;

/// A file of the site that changes only with the program.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Asset {
    /// The one style sheet.
    Style,
    /// What every page has: `/` goes to the box that finds.
    Find,
    /// Small previews of photographs before they are sent.
    Photos,
    /// One key marks a step done.
    Steps,
    /// Takes the sound input's samples.
    Input,
    /// Listens to the shutter through it.
    Listen,
    /// Hands the samples over where the browser does not.
    Samples,
    /// A recording looked at closely.
    Trace,
    /// A pair of teeth turned.
    Mesh,
    /// The mark in the browser's tab.
    Mark,
}

impl Asset {
    const ALL: [Self; 10] = [
        Self::Style,
        Self::Find,
        Self::Photos,
        Self::Steps,
        Self::Input,
        Self::Listen,
        Self::Samples,
        Self::Trace,
        Self::Mesh,
        Self::Mark,
    ];

    /// Its address; it changes when the content does.
    pub(crate) fn url(self) -> String {
        urls::asset(&self.file_name())
    }

    fn content(self) -> &'static [u8] {
        match self {
            Self::Style => include_bytes!("../assets/style.css"),
            Self::Find => include_bytes!("../assets/find.js"),
            Self::Photos => include_bytes!("../assets/photos.js"),
            Self::Steps => include_bytes!("../assets/steps.js"),
            Self::Input => include_bytes!("../assets/input.js"),
            Self::Listen => include_bytes!("../assets/listen.js"),
            Self::Samples => include_bytes!("../assets/samples.js"),
            Self::Trace => include_bytes!("../assets/trace.js"),
            Self::Mesh => include_bytes!("../assets/mesh.js"),
            Self::Mark => include_bytes!("../assets/mark.svg"),
        }
    }

    fn stem(self) -> (&'static str, &'static str) {
        match self {
            Self::Style => ("style", "css"),
            Self::Find => ("find", "js"),
            Self::Photos => ("photos", "js"),
            Self::Steps => ("steps", "js"),
            Self::Input => ("input", "js"),
            Self::Listen => ("listen", "js"),
            Self::Samples => ("samples", "js"),
            Self::Trace => ("trace", "js"),
            Self::Mesh => ("mesh", "js"),
            Self::Mark => ("mark", "svg"),
        }
    }

    fn content_type(self) -> &'static str {
        match self.stem().1 {
            "css" => "text/css; charset=utf-8",
            "js" => "text/javascript; charset=utf-8",
            _ => "image/svg+xml",
        }
    }

    fn file_name(self) -> String {
        static NAMES: LazyLock<Vec<String>> = LazyLock::new(|| {
            let name = |asset: Asset| {
                let hash = blake3::hash(asset.content()).to_hex();
                let (stem, ending) = asset.stem();
                format!("{stem}-{}.{ending}", hash.get(..12).unwrap_or_default())
            };
            Asset::ALL.map(name).to_vec()
        });
        let place = Self::ALL.iter().position(|&asset| asset == self);
        place
            .and_then(|place| NAMES.get(place))
            .cloned()
            .unwrap_or_default()
    }
}

/// Serves an asset; a browser may keep it for a year, since its name tells its content.
pub(crate) async fn serve(Path(file): Path<String>) -> Result<Response, PageError> {
    let asset = Asset::ALL
        .into_iter()
        .find(|asset| asset.file_name() == file)
        .ok_or_else(|| PageError::missing(format!("There is no file {file}.")))?;
    let headers = [
        (CONTENT_TYPE, asset.content_type()),
        (CACHE_CONTROL, "public, max-age=31536000, immutable"),
    ];
    Ok((headers, asset.content()).into_response())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_asset_has_an_address_of_its_own() {
        let mut urls: Vec<_> = Asset::ALL.iter().map(|asset| asset.url()).collect();
        urls.sort();
        urls.dedup();
        assert_eq!(urls.len(), Asset::ALL.len());
    }
}
