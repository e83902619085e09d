//! Addresses as codes to scan.

use std::collections::HashMap;
use std::sync::{LazyLock, Mutex, PoisonError};

use maud::{Markup, PreEscaped, html};
use qrcode::QrCode;
use qrcode::render::svg;

use crate::error::PageError;

/// Codes kept, each a few kilobytes: a sheet of labels draws one for every drawer.
const KEPT_MOST: usize = 300;
static KEPT: LazyLock<Mutex<HashMap<String, Markup>>> = LazyLock::new(Mutex::default);

/// The code of an address.
pub(crate) fn draw(address: &str) -> Result<Markup, PageError> {
    let kept = || KEPT.lock().unwrap_or_else(PoisonError::into_inner);
    if let Some(code) = kept().get(address) {
        return Ok(code.clone());
    }
    let code = drawn(address)?;
    let mut kept = kept();
    if kept.len() >= KEPT_MOST {
        kept.clear();
    }
    kept.insert(address.to_owned(), code.clone());
    Ok(code)
}

fn drawn(address: &str) -> Result<Markup, PageError> {
    let code = QrCode::new(address).map_err(|error| {
        PageError::fault(&format!(
            "the address {address} does not fit a code: {error}"
        ))
    })?;
    let drawn = code
        .render::<svg::Color<'_>>()
        .quiet_zone(true)
        .min_dimensions(160, 160)
        .build();
    // An SVG inside a page has no XML declaration of its own.
    let svg = drawn
        .find("<svg")
        .and_then(|start| drawn.get(start..))
        .unwrap_or_default();
    Ok(html! {
        div.qr role="img" aria-label={ "Code of the address " (address) } { (PreEscaped(svg)) }
    })
}
