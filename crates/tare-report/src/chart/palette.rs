//! Colours: one published palette, and a style that gives each class its colour on light, dark and paper.
//!
//! The colours are those of Okabe, M. and Ito, K., Color Universal Design: how to make figures and presentations that are friendly
//! to colorblind people, 2002, revised 2008 (from memory). Colour never carries a meaning alone: each mark has a text as well.

/// The eight colours of the palette in the order charts use them: blue, orange, bluish green, vermilion, sky blue, reddish purple,
/// yellow, black.
pub const PALETTE: [&str; 8] = ["#0072B2", "#E69F00", "#009E73", "#D55E00", "#56B4E9", "#CC79A7", "#F0E442", "#000000"];

/// How many classes `c1`, `c2` ... there are; the last one is grey and stands for all further groups.
pub(crate) const COLOURS: usize = 8;

/// The class of the n-th group, from 0.
pub(crate) fn class(n: usize) -> String {
    format!("c{}", n.min(COLOURS - 1) + 1)
}

/// The style of every chart; a page includes it once, a file of its own each time.
///
/// Where a fill is too pale to stand against the ground (WCAG 2.2, 1.4.11 asks 3 to 1), its edge is drawn in the colour of text.
pub const STYLE: &str = "\
:root{--ch-ink:#1c2530;--ch-soft:#55606d;--ch-grid:#dde2e7;--ch-zero:#7a8794;--ch-ground:#fff;--ch-edge:#1c2530;--ch-total:#4a5764;\
--ch-1:#0072B2;--ch-on-1:#fff;--ch-2:#E69F00;--ch-3:#009E73;--ch-4:#D55E00;--ch-5:#56B4E9;--ch-6:#CC79A7;--ch-7:#F0E442;--ch-8:#8a949e}\
@media (prefers-color-scheme:dark){:root{--ch-ink:#e8ecf0;--ch-soft:#aab4bf;--ch-grid:#333d48;--ch-zero:#8996a3;--ch-ground:#151b22;\
--ch-edge:#e8ecf0;--ch-total:#93a0ad}}\
@media print{:root{--ch-ink:#000;--ch-soft:#444;--ch-grid:#d5d5d5;--ch-zero:#777;--ch-ground:#fff;--ch-edge:#222;--ch-total:#4a5764}}\
.chart{display:block;width:100%;height:auto;overflow:visible;font-family:system-ui,-apple-system,'Segoe UI',Roboto,'Noto Sans',\
'Liberation Sans',sans-serif;font-size:12px;font-variant-numeric:tabular-nums;print-color-adjust:exact;-webkit-print-color-adjust:exact}\
.chart text{fill:var(--ch-ink)}.chart .soft,.chart .tick{fill:var(--ch-soft)}.chart .tick{font-size:11px}.chart .strong{font-weight:600}\
.chart .grid{stroke:var(--ch-grid);stroke-width:1}.chart .zero{stroke:var(--ch-zero);stroke-width:1}\
.chart .join{stroke:var(--ch-zero);stroke-width:1;stroke-dasharray:2 2}.chart .band{fill:var(--ch-grid);opacity:.6}\
.chart .takt{stroke:var(--ch-ink);stroke-width:1.5;stroke-dasharray:5 3}.chart .whisker{stroke:var(--ch-ink);stroke-width:1.4}\
.chart .reach{stroke:var(--ch-zero);stroke-width:1.2}.chart .under{stroke:var(--ch-ground);stroke-width:3.6;stroke-opacity:.85}\
.chart .one-of-many{fill:var(--ch-zero);fill-opacity:.5}.chart .lead{stroke:var(--ch-ink);stroke-width:1}.chart .sum{fill:none;stroke:var(--ch-ink);stroke-width:1.4}.chart .point{fill:var(--ch-ground);stroke:var(--ch-ink);stroke-width:1.4}\
.chart .full{fill:var(--ch-ink)}.chart .ground{fill:var(--ch-ground)}.chart .total{fill:var(--ch-total)}\
.chart .c1{fill:var(--ch-1)}.chart .c2{fill:var(--ch-2)}.chart .c3{fill:var(--ch-3)}.chart .c4{fill:var(--ch-4)}\
.chart .c5{fill:var(--ch-5)}.chart .c6{fill:var(--ch-6)}.chart .c7{fill:var(--ch-7)}.chart .c8{fill:var(--ch-8)}\
.chart rect.edge{stroke:var(--ch-edge);stroke-width:.7;stroke-opacity:.75}\
.chart rect.tint{fill-opacity:.26;stroke:var(--ch-ground);stroke-width:1}\
.chart rect.group{fill:none;stroke:var(--ch-edge);stroke-width:1.2;pointer-events:none}\
.chart .halo{paint-order:stroke;stroke:var(--ch-ground);stroke-width:3px;stroke-linejoin:round}.chart .spot{stroke:var(--ch-edge);stroke-width:1}.chart text.on-dark,.chart text.on-light{font-size:11px}\
.chart text.on-dark{fill:var(--ch-on-1)}.chart text.on-light{fill:#000}\
.chart .hit{fill:transparent;stroke:none}.chart a{text-decoration:none}\
.chart .mark{outline:none}.chart .mark:hover rect.edge,.chart .mark:hover rect.tint{stroke:var(--ch-ink);stroke-width:1.6;stroke-opacity:1}\
.chart .mark:focus-visible rect.edge,.chart .mark:focus-visible rect.tint,.chart .mark:focus-visible .hit{stroke:var(--ch-ink);\
stroke-width:2.4;stroke-opacity:1}";

/// The style with the colours of a light ground written out: no variable, no rule for other media, nothing that answers to a pointer.
pub(crate) fn plain_style() -> String {
    let (mut values, mut out) = (Vec::new(), String::new());
    for (at, block) in blocks(STYLE).enumerate() {
        let Some((of, body)) = block.split_once('{') else { continue };
        if at == 0 {
            let body = body.trim_end_matches('}');
            values = body.split(';').filter_map(|line| line.split_once(':')).collect();
        } else if !of.starts_with('@') && !of.contains(":hover") && !of.contains(":focus") {
            out.push_str(block);
        }
    }
    for (name, value) in values {
        out = out.replace(&format!("var({name})"), value);
    }
    out
}

/// The outer blocks of a style sheet, each with its braces.
fn blocks(style: &str) -> impl Iterator<Item = &str> {
    let mut rest = style;
    std::iter::from_fn(move || {
        let mut depth = 0_i32;
        for (at, c) in rest.char_indices() {
            depth += i32::from(c == '{') - i32::from(c == '}');
            if c == '}' && depth == 0 {
                let (block, after) = rest.split_at(at + 1);
                rest = after;
                return Some(block);
            }
        }
        None
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_plain_style_needs_nothing_else() {
        let style = plain_style();
        for word in ["var(", "@media", ":hover", ":focus", ":root", "--"] {
            assert!(!style.contains(word), "{word} in {style}");
        }
        assert_eq!(style.matches('{').count(), style.matches('}').count());
        assert!(style.contains(".chart .c1{fill:#0072B2}") && style.contains(".chart text{fill:#1c2530}"), "{style}");
    }

    fn channels(hex: &str) -> [f64; 3] {
        [1, 3, 5].map(|i| f64::from(u8::from_str_radix(&hex[i..i + 2], 16).expect("hex")) / 255.0)
    }

    #[expect(clippy::disallowed_methods, reason = "a test of colours, not a result")]
    fn linear(hex: &str) -> [f64; 3] {
        // sRGB (IEC 61966-2-1), as in WCAG 2.2, definition of relative luminance
        channels(hex).map(|c| if c <= 0.04045 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) })
    }

    fn luminance(hex: &str) -> f64 {
        let [r, g, b] = linear(hex);
        0.2126 * r + 0.7152 * g + 0.0722 * b
    }

    fn contrast(a: &str, b: &str) -> f64 {
        let (a, b) = (luminance(a), luminance(b));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }

    /// The colour of a variable in the n-th block of the style.
    fn variable(block: usize, name: &str) -> String {
        let text = STYLE.split(":root{").nth(block + 1).expect("block");
        let rest = text.split(&format!("--ch-{name}:")).nth(1).expect("variable");
        let hex: String = rest.chars().take_while(|c| *c == '#' || c.is_ascii_hexdigit()).collect();
        if hex.len() == 4 { format!("#{}", hex[1..].chars().flat_map(|c| [c, c]).collect::<String>()) } else { hex }
    }

    fn blend(over: &str, ground: &str, share: f64) -> String {
        let mixed: Vec<String> = channels(over)
            .into_iter()
            .zip(channels(ground))
            .map(|(o, g)| format!("{:02x}", ((o * share + g * (1.0 - share)) * 255.0).round() as u8))
            .collect();
        format!("#{}", mixed.concat())
    }

    #[test]
    fn contrast_reproduces_known_pairs() {
        assert!((contrast("#000000", "#ffffff") - 21.0).abs() < 1e-9);
        // #767676 on white is known as the lightest grey that reaches 4.5 (W3C, Understanding 1.4.3)
        assert!(contrast("#767676", "#ffffff") >= 4.5 && contrast("#777777", "#ffffff") < 4.5);
    }

    #[test]
    fn text_and_edges_stand_against_each_ground() {
        for block in 0..3 {
            let ground = variable(block, "ground");
            for (name, least) in [("ink", 7.0), ("soft", 4.5), ("zero", 3.0), ("edge", 7.0), ("total", 3.0)] {
                let c = contrast(&variable(block, name), &ground);
                assert!(c >= least, "block {block}: {name} {c:.2}");
            }
            let blue = contrast(&variable(0, "1"), &ground);
            assert!(blue >= 3.0, "block {block}: blue {blue:.2}");
            for n in 1..=COLOURS {
                let colour = variable(0, &n.to_string());
                let c = contrast(&variable(block, "ink"), &blend(&colour, &ground, 0.26));
                assert!(c >= 4.5, "block {block}: text on tint {n} {c:.2}");
            }
        }
    }

    /// The colours as seen without the long or the middle cones: Machado, Oliveira, Fernandes 2009, severity 1.0, on linear RGB
    /// (matrices from a second-hand copy).
    #[test]
    fn palette_stays_apart_for_colour_blind_readers() {
        let protan = [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]];
        let deutan = [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]];
        for matrix in [protan, deutan] {
            let seen: Vec<[f64; 3]> = PALETTE
                .iter()
                .map(|hex| {
                    let c = linear(hex);
                    matrix.map(|row| (row[0] * c[0] + row[1] * c[1] + row[2] * c[2]).clamp(0.0, 1.0))
                })
                .collect();
            for (i, a) in seen.iter().enumerate() {
                for (j, b) in seen.iter().enumerate().skip(i + 1) {
                    let d = lab_distance(*a, *b);
                    assert!(d > 10.0, "{} and {}: {d:.1}", PALETTE[i], PALETTE[j]);
                }
            }
        }
    }

    /// CIE 1976 colour difference (ISO/CIE 11664-4) of two linear sRGB colours, white point D65.
    fn lab_distance(a: [f64; 3], b: [f64; 3]) -> f64 {
        let lab = |c: [f64; 3]| {
            let x = (0.4124 * c[0] + 0.3576 * c[1] + 0.1805 * c[2]) / 0.9505;
            let y = 0.2126 * c[0] + 0.7152 * c[1] + 0.0722 * c[2];
            let z = (0.0193 * c[0] + 0.1192 * c[1] + 0.9505 * c[2]) / 1.089;
            let f =
                |t: f64| if t > (6.0f64 / 29.0).powi(3) { t.cbrt() } else { t / (3.0 * (6.0f64 / 29.0).powi(2)) + 4.0 / 29.0 };
            [116.0 * f(y) - 16.0, 500.0 * (f(x) - f(y)), 200.0 * (f(y) - f(z))]
        };
        let (a, b) = (lab(a), lab(b));
        (0..3).map(|i| (a[i] - b[i]).powi(2)).sum::<f64>().sqrt()
    }

    #[test]
    fn further_groups_are_grey() {
        assert_eq!((class(0), class(7), class(40)), ("c1".to_owned(), "c8".to_owned(), "c8".to_owned()));
    }
}
