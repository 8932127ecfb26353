//! Labels for bags and bins: a short number to read, words to recognise the part, and a QR code that opens its record.
//!
//! A sheet is a part of a page; its looks are in `labels.css`, with the paper sizes. The number is the key: who holds the bag
//! can type it where no camera reads the code.

mod code;

#[cfg(test)]
mod tests;

pub use code::{CODE_BYTES, code};

use maud::{Markup, html};
use tare_diag::Diag;

/// What stands on a label. All texts are people's own words, in any script.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Label {
    /// The short number, such as `P41`.
    pub number: String,
    /// Name of the part; a label without one gets a line to write on.
    pub name: String,
    /// How many pieces are in the bag, in words: `4 pieces`.
    pub count: String,
    /// The day, as it is to be read.
    pub date: String,
    /// What to beware of, in words: `high voltage`, `do not open`.
    pub cautions: Vec<String>,
    /// The address the code holds; see [`part_address`].
    pub address: String,
}

/// The paper the labels are printed on.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Paper {
    /// A4, 3 x 8 labels of 70 mm x 37.1 mm.
    #[default]
    A4,
    /// US Letter, 3 x 8 labels of 72 mm x 34.9 mm.
    Letter,
    /// A roll of single labels, 62 mm x 29 mm.
    Roll,
}

impl Paper {
    /// How many labels one page holds.
    pub fn per_page(self) -> usize {
        match self {
            Self::A4 | Self::Letter => 24,
            Self::Roll => 1,
        }
    }

    /// The key in addresses and the class in the style sheet.
    pub fn key(self) -> &'static str {
        match self {
            Self::A4 => "a4",
            Self::Letter => "letter",
            Self::Roll => "roll",
        }
    }
}

/// How labels are laid out.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Layout {
    /// The paper.
    pub paper: Paper,
    /// Places of the first page that are used up already, from the top left; for a sheet that was begun before.
    pub used: usize,
}

/// Labels ready to print, and what could not be printed on them.
#[derive(Clone, Debug)]
pub struct Sheet {
    /// For the body of a page that links `labels.css`.
    pub markup: Markup,
    /// A warning for each label without its code.
    pub problems: Vec<Diag>,
}

/// Lays labels out on pages, in their order.
///
/// A label whose address is too long for a code is printed without it, with the warning `label-code`: the number still leads
/// to the record.
pub fn sheet(labels: &[Label], layout: &Layout) -> Sheet {
    let per_page = layout.paper.per_page();
    let used = layout.used % per_page;
    let places: Vec<Option<&Label>> = std::iter::repeat_n(None, used).chain(labels.iter().map(Some)).collect();
    let mut problems = Vec::new();
    let markup = html! {
        div class=(format!("labels {}", layout.paper.key())) {
            @for page in places.chunks(per_page) {
                ol class="label-page" {
                    @for place in page {
                        @match place {
                            Some(label) => (one(label, &mut problems)),
                            None => li class="label used" aria-hidden="true" {},
                        }
                    }
                }
            }
        }
    };
    Sheet { markup, problems }
}

fn one(label: &Label, problems: &mut Vec<Diag>) -> Markup {
    let drawn = code(&label.address).map_err(|problem| problems.push(problem)).ok();
    let foot: Vec<&str> = [&label.count, &label.date].into_iter().map(|t| t.trim()).filter(|t| !t.is_empty()).collect();
    let cautions: Vec<&str> = label.cautions.iter().map(|c| c.trim()).filter(|c| !c.is_empty()).collect();
    let room = match cautions.iter().map(|c| tenths(c) + 15).sum::<usize>() {
        0 => "",
        1..=CAUTION_LINE => "warned",
        length => {
            if length > CAUTION_MOST {
                let says = format!("the cautions on label {} are too long for it; their end is cut off", label.number);
                problems.push(Diag::warning("label-caution", says).hint("say it in fewer words, such as `high voltage`"));
            }
            "warned twice"
        }
    };
    html! {
        li class=(format!("label {room}").trim_end()) {
            div class="label-body" {
                @if let Some(code) = drawn { div class="label-code" { (code) } }
                div class="label-text" {
                    p class=(format!("label-number {}", size(&label.number))) { bdi { (label.number) } }
                    @if label.name.trim().is_empty() {
                        p class="label-name write" { span class="aside" { "Name" } }
                    } @else {
                        p class="label-name" dir="auto" { (label.name) }
                    }
                    @if !foot.is_empty() {
                        p class="label-foot" { @for text in foot { bdi { (text) } " " } }
                    }
                }
            }
            @if !cautions.is_empty() {
                p class="label-caution" { @for text in cautions { bdi { (text) } " " } }
            }
        }
    }
}

/// Room for cautions in tenths of a digit's width: on one line, and on two lines of smaller letters, with a name of one line.
const CAUTION_LINE: usize = 300;
const CAUTION_MOST: usize = 740;

/// The class for the size of a number: as large as fits its line.
fn size(number: &str) -> &'static str {
    match tenths(number) {
        0..=48 => "largest",
        49..=58 => "large",
        59..=80 => "middle",
        _ => "small",
    }
}

/// About how wide a text is in bold letters, in tenths of the width of a digit.
fn tenths(text: &str) -> usize {
    let wide = |c| match c {
        'M' | 'W' | '%' | '@' => 16,
        'A'..='Z' => 13,
        '\u{1100}'.. => 18,
        _ => 10,
    };
    text.chars().map(wide).sum()
}

/// The address of a part's page for a code. `base` is scheme, host and port, `http://192.168.1.20:7070`; `id` is the record's. The study is not in
/// it: names in other scripts would make the code too fine for a poor printer.
pub fn part_address(base: &str, id: &str) -> String {
    format!("{}/p/{id}", base.trim_end_matches('/'))
}
