//! What every section needs: known anchors, parts, photos, and how a figure is printed.

use crate::chart::{Chart, Frame, MARGIN};
use crate::{Contained, Figure, PartRow, Photo, Report, anchor};
use maud::{Markup, PreEscaped, html};
use std::cell::RefCell;
use std::collections::{BTreeSet, HashMap};

/// The report with its indexes.
pub(crate) struct Setting<'a> {
    pub(crate) report: &'a Report,
    numbers: HashMap<&'a str, usize>,
    parts: HashMap<&'a str, &'a PartRow>,
    photos: HashMap<&'a str, &'a Photo>,
    /// Anchors already linked to: the first use gets an id, so that a reason can point back without a script.
    linked: RefCell<BTreeSet<String>>,
    /// Ids given out, so that none is given twice.
    given: RefCell<BTreeSet<String>>,
    /// Charts drawn as files of their own, and how wide; nothing where nobody wants them.
    kept: Option<(f64, RefCell<Vec<Drawn>>)>,
}

/// A chart drawn without links.
#[derive(Clone, Debug)]
pub(crate) struct Drawn {
    pub(crate) title: String,
    /// Its numbers in words.
    pub(crate) says: String,
    pub(crate) svg: String,
}

impl<'a> Setting<'a> {
    pub(crate) fn new(report: &'a Report) -> Self {
        let mut numbers = HashMap::new();
        // what is not on the page is not linked to
        let reasons = report.reasons.iter().filter(|_| report.printing.has("reasons"));
        for (n, reason) in reasons.enumerate() {
            numbers.entry(reason.anchor.as_str()).or_insert(n + 1);
        }
        Self {
            report,
            numbers,
            // the first of several with the same id keeps it
            parts: report.parts.iter().rev().map(|p| (p.id.as_str(), p)).collect(),
            photos: report.photos.iter().rev().map(|p| (p.id.as_str(), p)).collect(),
            linked: RefCell::default(),
            given: RefCell::default(),
            kept: None,
        }
    }

    /// As [`Setting::new`]; charts are also drawn as files of their own, a wide one as wide as said.
    pub(crate) fn collecting(report: &'a Report, width: f64) -> Self {
        Self { kept: Some((width, RefCell::default())), ..Self::new(report) }
    }

    /// The charts drawn so far, by their key.
    pub(crate) fn drawn(&self) -> Vec<Drawn> {
        self.kept.as_ref().map(|(_, drawn)| drawn.borrow().clone()).unwrap_or_default()
    }

    /// Draws a chart as a file of its own, where they are wanted, and gives its key.
    fn keep(&self, chart: &dyn Chart, size: Size) -> Option<usize> {
        let (width, drawn) = self.kept.as_ref()?;
        // a chart made for half a page stays as legible as one for a whole
        let svg = chart.draw(&Frame::plain(width * size.wide() / Size::Full.wide() - 2.0 * MARGIN));
        let mut drawn = drawn.borrow_mut();
        drawn.push(Drawn { title: chart.title(), says: chart.table().words(), svg });
        Some(drawn.len() - 1)
    }

    /// The element id for an address, unless another element has it already.
    pub(crate) fn own_id(&self, prefix: &str, address: &str) -> Option<String> {
        let id = anchor::id(prefix, address);
        self.gives(&id).then_some(id)
    }

    /// Whether an element id is still free; it is taken from now on.
    pub(crate) fn gives(&self, id: &str) -> bool {
        self.given.borrow_mut().insert(id.to_owned())
    }

    /// The number of the reason with an anchor.
    pub(crate) fn number(&self, anchor: &str) -> Option<usize> {
        self.numbers.get(anchor).copied()
    }

    /// Whether some figure printed so far links to the anchor.
    pub(crate) fn is_linked(&self, anchor: &str) -> bool {
        self.linked.borrow().contains(anchor)
    }

    /// Text as a link to a reason, if that reason is in the report.
    pub(crate) fn because(&self, text: &str, link: Option<&str>, title: &str) -> Markup {
        let title = (!title.is_empty()).then_some(title);
        let Some((link, number)) = link.and_then(|l| self.number(l).map(|n| (l, n))) else {
            return html! { span.n title=[title] { (text) } };
        };
        let first = self.linked.borrow_mut().insert(link.to_owned());
        let id = first.then(|| anchor::first_use(number));
        html! { a.n id=[id] href={ "#" (anchor::reason(number)) } title=[title] { (text) } }
    }

    /// A figure: text with link, range beneath.
    pub(crate) fn figure(&self, figure: &Figure) -> Markup {
        html! {
            (self.because(&figure.text, figure.link.as_deref(), figure.evidence.as_deref().unwrap_or("")))
            @match (&figure.range, &figure.spread) {
                (Some(range), _) => { small.range { (range.words()) } },
                (None, Some(spread)) => { small.range { (spread.text) } },
                (None, None) => {},
            }
            @for remark in &figure.remarks { small.range { (remark) } }
        }
    }

    /// A figure without its range: where that stands already.
    pub(crate) fn number_of(&self, figure: &Figure) -> Markup {
        self.because(&figure.text, figure.link.as_deref(), "")
    }

    /// A figure if there is one; nothing otherwise.
    pub(crate) fn maybe(&self, figure: Option<&Figure>) -> Markup {
        figure.map_or_else(|| html! {}, |f| self.figure(f))
    }

    /// A part by id: label and name, linked to its row.
    pub(crate) fn part(&self, id: &str) -> Markup {
        match self.parts.get(id) {
            Some(p) => html! {
                a.ref href={ "#" (anchor::id("part", id)) } { @if !p.label.is_empty() { (p.label) " " } (p.name) }
            },
            None => html! { (id) },
        }
    }

    /// The name of an item, linked to the row of a part where it sits.
    pub(crate) fn item(&self, name: &str, part: Option<&str>) -> Markup {
        match part.filter(|p| self.parts.contains_key(p)) {
            Some(part) => html! { a.ref href={ "#" (anchor::id("part", part)) } { (name) } },
            None => html! { (name) },
        }
    }

    /// A photo by id, linked.
    pub(crate) fn photo(&self, id: &str, text: &str) -> Markup {
        match self.photos.get(id) {
            Some(p) => {
                html! { a.ref href={ "#" (anchor::id("photo", id)) } title=(p.caption) aria-label={ "photo " (text) ": " (p.caption) } { (text) } }
            }
            None => html! { (text) " (missing)" },
        }
    }

    /// Several photos of one row, numbered.
    pub(crate) fn photo_list(&self, ids: &[String]) -> Markup {
        html! { @for (n, id) in ids.iter().enumerate() { @if n > 0 { ", " } (self.photo(id, &(n + 1).to_string())) } }
    }

    /// The boundary in one paragraph, as it stands under every total.
    pub(crate) fn boundary(&self) -> Markup {
        let list = |state: Contained| -> Vec<&str> {
            self.report.boundary.iter().filter(|b| b.state == state).map(|b| b.topic.as_str()).collect()
        };
        html! {
            p.boundary {
                @if self.report.boundary.is_empty() {
                    "Boundary: nobody has recorded what is in and what is out."
                } @else {
                    @for (n, state) in [Contained::In, Contained::Out, Contained::Unknown].into_iter().enumerate() {
                        @let topics = list(state);
                        @if !topics.is_empty() {
                            @if n > 0 { " " }
                            b { (capital(state.word())) ": " } (topics.join(", ")) "."
                        }
                    }
                    " " a.ref.go href="#boundary" { "Boundary" }
                }
            }
        }
    }

    /// A chart in its frame: one drawing for wide places, one for narrow ones, and its numbers.
    pub(crate) fn chart(&self, chart: &dyn Chart, size: Size) -> Markup {
        self.chart_under(chart, size, true)
    }

    /// A chart whose title is already printed above it.
    pub(crate) fn chart_untitled(&self, chart: &dyn Chart, size: Size) -> Markup {
        self.chart_under(chart, size, false)
    }

    fn chart_under(&self, chart: &dyn Chart, size: Size, titled: bool) -> Markup {
        let wide = chart.draw(&Frame { width: size.wide(), anchors: Some(&self.numbers) });
        if wide.is_empty() {
            return html! {};
        }
        let narrow = chart.draw(&Frame { width: 340.0, anchors: Some(&self.numbers) });
        let (table, key) = (chart.table(), self.keep(chart, size));
        html! {
            figure.chart-box.(size.class()) {
                figcaption.repeated[!titled] { (super::finish::figure(key)) (chart.title()) }
                div.at-wide { (PreEscaped(wide)) }
                div.at-narrow { (PreEscaped(narrow)) }
                details.behind {
                    summary { "Numbers behind this chart" }
                    div.scroll tabindex="0" role="region" aria-label={ "Numbers: " (chart.title()) } {
                        table.plain {
                            thead { tr { @for h in &table.head { th scope="col" { (h) } } } }
                            tbody {
                                @for row in &table.rows {
                                    tr { @for (c, cell) in row.iter().enumerate() { @if c == 0 { th scope="row" { (cell) } } @else { td { (cell) } } } }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// How wide a chart stands on a wide page.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Size {
    /// The whole column.
    Full,
    /// Two side by side.
    Half,
}

impl Size {
    fn wide(self) -> f64 {
        match self {
            Self::Full => 820.0,
            Self::Half => 490.0,
        }
    }

    fn class(self) -> &'static str {
        match self {
            Self::Full => "full",
            Self::Half => "half",
        }
    }
}

/// The text with a capital first letter.
pub(crate) fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect())
}

/// Paragraphs of remarks.
pub(crate) fn notes(notes: &[String]) -> Markup {
    html! { @for note in notes { p.note { (note) } } }
}
