//! An address as a QR code (ISO/IEC 18004), drawn as one path.

use fast_qr::{ECL, QRBuilder, QRCode};
use maud::{Markup, html};
use std::fmt::Write;
use tare_diag::Diag;

/// Longest address that still prints readably, in bytes: 65 modules a side, which are 0.26 mm each where the label is fullest.
/// A cheap label printer has 8 dots per millimetre, so a module is two dots then; an ordinary address has three to four.
pub const CODE_BYTES: usize = 287;

/// Modules that stay white around the code; the standard asks for four.
const QUIET: usize = 4;

/// The code of an address as an SVG drawing of one path.
///
/// The level of error correction is Q (a quarter of the code may be lost) where that takes no more modules than M (15 in a
/// hundred): on a label of given size, larger modules help more than more correction.
///
/// # Errors
///
/// The warning `label-code` if the address is longer than [`CODE_BYTES`].
pub fn code(address: &str) -> Result<Markup, Diag> {
    let too_long = || {
        let says =
            format!("the address has {} bytes, a code on a label holds {CODE_BYTES}; the label has no code", address.len());
        Diag::warning("label-code", says)
            .hint("give the study a shorter name in plain letters, or the server a shorter host name")
    };
    if address.len() > CODE_BYTES {
        return Err(too_long());
    }
    let build = |level| QRBuilder::new(address).ecl(level).build().map_err(|_| too_long());
    let (plain, strong) = (build(ECL::M)?, build(ECL::Q)?);
    let code = if strong.size > plain.size { plain } else { strong };
    let view = format!("0 0 {0} {0}", code.size + 2 * QUIET);
    Ok(html! {
        svg viewBox=(view) role="img" aria-label="QR code" shape-rendering="crispEdges" { path d=(path(&code)) {} }
    })
}

/// Each run of dark modules in a row as a bar, so that no printer shows seams between the modules of a row.
fn path(code: &QRCode) -> String {
    let mut out = String::new();
    for y in 0..code.size {
        let mut x = 0;
        while x < code.size {
            let dark = (x..code.size).take_while(|x| code[y][*x].value()).count();
            if dark > 0 {
                let _ = write!(out, "M{} {}h{dark}v1h-{dark}z", x + QUIET, y + QUIET);
            }
            x += dark.max(1);
        }
    }
    out
}
