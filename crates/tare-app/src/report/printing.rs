//! Sections chosen by name, and drawings as files of their own.

use crate::browser::Browser;
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use image::ImageFormat;
use std::collections::BTreeSet;
use std::fmt::Write;
use std::io::Cursor;
use tare_diag::Diag;
use tare_report::{FigureFile, section_names};

/// Width of a wide drawing in its own units; text is 12 of them high.
pub const FIGURE_WIDTH: f64 = 820.0;
/// Most pixels of a picture of several drawings, from top to bottom.
const MOST_DOWN: u32 = 6_000;

/// The ids of sections named, separated by commas.
///
/// # Errors
/// Every name that no section has, with the nearest one; or no name at all.
pub fn chosen(names: &str) -> Result<BTreeSet<String>, Vec<Diag>> {
    let known: Vec<&str> = section_names().map(|(id, _)| id).collect();
    let (mut found, mut problems) = (BTreeSet::new(), Vec::new());
    for name in names.split(',').map(str::trim).filter(|name| !name.is_empty()) {
        let lower = name.to_lowercase();
        if known.contains(&lower.as_str()) {
            found.insert(lower);
        } else {
            problems.push(
                Diag::error("section-unknown", format!("the report has no section `{name}`"))
                    .did_you_mean(&lower, known.iter().copied()),
            );
        }
    }
    if found.is_empty() && problems.is_empty() {
        problems.push(Diag::error("section-none", "no section is named".to_owned()));
    }
    if let Some(last) = problems.last_mut() {
        *last = last.clone().hint(format!("sections: {}", known.join(", ")));
    }
    if problems.is_empty() { Ok(found) } else { Err(problems) }
}

/// Drawings as PNG, in their order; a wide one is so many pixels wide, others in proportion.
///
/// # Errors
/// Messages of the browser; `picture-broken` where it gave no picture.
pub fn pngs(browser: &Browser, figures: &[FigureFile], width: u32) -> Result<Vec<Vec<u8>>, Diag> {
    let sizes: Vec<(u32, u32)> = figures.iter().map(|figure| size(&figure.svg, width)).collect();
    let mut found = Vec::with_capacity(figures.len());
    let mut from = 0;
    while from < figures.len() {
        // many drawings share one start of the browser, one below the other
        let mut down = sizes[from].1;
        let mut to = from + 1;
        while to < figures.len() && down + sizes[to].1 <= MOST_DOWN {
            down += sizes[to].1;
            to += 1;
        }
        found.extend(together(browser, &figures[from..to], &sizes[from..to], width, down)?);
        from = to;
    }
    Ok(found)
}

fn together(
    browser: &Browser,
    figures: &[FigureFile],
    sizes: &[(u32, u32)],
    width: u32,
    down: u32,
) -> Result<Vec<Vec<u8>>, Diag> {
    let mut page = String::from(
        "<!DOCTYPE html><meta charset=\"utf-8\"><style>html,body{margin:0;background:#fff}img{position:absolute;left:0}</style>",
    );
    let mut top = 0;
    for (figure, (wide, high)) in figures.iter().zip(sizes) {
        let data = STANDARD.encode(&figure.svg);
        let _ = write!(
            page,
            "<img style=\"top:{top}px;width:{wide}px;height:{high}px\" alt=\"\" src=\"data:image/svg+xml;base64,{data}\">"
        );
        top += high;
    }
    let broken = |why: String| Diag::error("picture-broken", format!("the browser's picture does not read ({why})"));
    let whole = image::load_from_memory(&browser.png(&page, width, down)?).map_err(|e| broken(e.to_string()))?.to_rgb8();
    if whole.width() < width || whole.height() < down {
        return Err(broken(format!("{} x {} pixels, expected {width} x {down}", whole.width(), whole.height())));
    }
    let mut top = 0;
    let mut found = Vec::new();
    for (wide, high) in sizes {
        let one = image::imageops::crop_imm(&whole, 0, top, *wide, *high).to_image();
        let mut bytes = Cursor::new(Vec::new());
        one.write_to(&mut bytes, ImageFormat::Png).map_err(|e| broken(e.to_string()))?;
        found.push(bytes.into_inner());
        top += high;
    }
    Ok(found)
}

/// Pixels of a drawing where a wide one has `width`.
fn size(svg: &str, width: u32) -> (u32, u32) {
    let of = |name: &str| svg.split(&format!(" {name}=\"")).nth(1)?.split('"').next()?.parse::<f64>().ok();
    let scale = f64::from(width) / FIGURE_WIDTH;
    let pixels = |units: Option<f64>| (units.unwrap_or(1.0) * scale).round().clamp(1.0, 16_000.0) as u32;
    (pixels(of("width")).min(width), pixels(of("height")))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_that_no_section_has_are_refused_together() {
        assert_eq!(chosen(" cost, mass,cost").expect("known").into_iter().collect::<Vec<_>>(), ["cost", "mass"]);
        let problems = chosen("cots,mass,fotos").expect_err("unknown");
        assert_eq!(problems.len(), 2);
        assert!(problems[0].message.contains("cots") && problems[0].hints[0].contains("`cost`"), "{problems:?}");
        assert!(problems[1].hints.iter().any(|h| h.contains("sections: summary, drivers")), "{problems:?}");
        assert!(chosen(" , ").is_err());
    }

    #[test]
    fn drawings_keep_their_proportions() {
        assert_eq!(size("<svg xmlns=\"x\" width=\"820\" height=\"300\" class=\"c\">", 1640), (1640, 600));
        assert_eq!(size("<svg xmlns=\"x\" width=\"490\" height=\"300\">", 820), (490, 300));
    }
}
