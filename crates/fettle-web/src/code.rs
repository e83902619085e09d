//! Addresses as codes to scan.

use maud::{Markup, PreEscaped, html};
use qrcode::QrCode;
use qrcode::render::svg;

use crate::error::PageError;

/// The code of an address.
pub(crate) fn draw(address: &str) -> Result<Markup, PageError> {
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
