//! The one renderer: numbers and escaped text into SVG.

use super::label;
use crate::anchor;
use std::collections::HashMap;
use std::fmt::Write;

/// What a chart is drawn into.
#[derive(Clone, Copy, Debug)]
pub struct Frame<'a> {
    /// Width of the drawing in its own units; text is 12 of them high.
    pub width: f64,
    /// Anchors a mark may link to, with the number of their reason; none for a drawing outside a report.
    pub anchors: Option<&'a HashMap<&'a str, usize>>,
}

impl Frame<'_> {
    /// A frame of a width without links.
    pub fn plain(width: f64) -> Self {
        Self { width, anchors: None }
    }
}

/// Where a text stands against its point.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Side {
    /// Begins at the point.
    Start,
    /// Is centred on the point.
    Middle,
    /// Ends at the point.
    End,
}

/// An SVG drawing in the making.
pub(crate) struct Canvas<'a> {
    body: String,
    frame: Frame<'a>,
    in_link: bool,
}

impl<'a> Canvas<'a> {
    pub(crate) fn new(frame: &Frame<'a>) -> Self {
        Self { body: String::new(), frame: *frame, in_link: false }
    }

    /// Opens a mark that can be hovered, focused and, if its reason is known, followed.
    pub(crate) fn open(&mut self, says: &str, link: Option<&str>) {
        let known = link.and_then(|l| self.frame.anchors?.get(l).copied());
        self.in_link = known.is_some();
        let says = escape(says);
        let _ = match known {
            // the title names it; a label beside would have to repeat the texts within, in their order
            Some(n) => write!(self.body, "<a class=\"mark\" href=\"#{}\">", anchor::reason(n)),
            None => write!(self.body, "<g class=\"mark\" tabindex=\"0\" role=\"img\" aria-label=\"{says}\">"),
        };
        let _ = write!(self.body, "<title>{says}</title>");
    }

    /// Opens a mark that only the pointer reaches: one of so many that stepping through them would be no help.
    pub(crate) fn open_quiet(&mut self, says: &str) {
        self.in_link = false;
        let _ = write!(self.body, "<g class=\"mark\"><title>{}</title>", escape(says));
    }

    /// Closes the mark.
    pub(crate) fn close(&mut self) {
        self.body.push_str(if self.in_link { "</a>" } else { "</g>" });
        self.in_link = false;
    }

    /// A rectangle; a negative width or height is turned over.
    pub(crate) fn rect(&mut self, x: f64, y: f64, w: f64, h: f64, class: &str) {
        let (x, w) = if w < 0.0 { (x + w, -w) } else { (x, w) };
        let (y, h) = if h < 0.0 { (y + h, -h) } else { (y, h) };
        let _ = write!(
            self.body,
            "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" class=\"{class}\"/>",
            short(x),
            short(y),
            short(w),
            short(h)
        );
    }

    /// A straight line.
    pub(crate) fn line(&mut self, from: (f64, f64), to: (f64, f64), class: &str) {
        let _ = write!(
            self.body,
            "<line x1=\"{}\" y1=\"{}\" x2=\"{}\" y2=\"{}\" class=\"{class}\"/>",
            short(from.0),
            short(from.1),
            short(to.0),
            short(to.1)
        );
    }

    /// A broken line through points.
    pub(crate) fn path(&mut self, points: &[(f64, f64)], class: &str) {
        let points: Vec<String> = points.iter().map(|(x, y)| format!("{},{}", short(*x), short(*y))).collect();
        let _ = write!(self.body, "<polyline points=\"{}\" class=\"{class}\"/>", points.join(" "));
    }

    /// A dot.
    pub(crate) fn dot(&mut self, x: f64, y: f64, r: f64, class: &str) {
        let _ = write!(self.body, "<circle cx=\"{}\" cy=\"{}\" r=\"{}\" class=\"{class}\"/>", short(x), short(y), short(r));
    }

    /// A text; `y` is its base line.
    pub(crate) fn text(&mut self, x: f64, y: f64, side: Side, class: &str, text: &str) {
        let anchor = match side {
            Side::Start => "",
            Side::Middle => " text-anchor=\"middle\"",
            Side::End => " text-anchor=\"end\"",
        };
        let _ =
            write!(self.body, "<text x=\"{}\" y=\"{}\"{anchor} class=\"{class}\">{}</text>", short(x), short(y), escape(text));
    }

    /// A text centred on a point, moved sideways where it would leave the frame and cut where it is wider than the frame.
    pub(crate) fn centred(&mut self, x: f64, y: f64, size: f64, class: &str, text: &str) {
        let text = label::fit(text, self.frame.width, size);
        let half = label::width(&text, size) / 2.0;
        let x = x.min(self.frame.width - half).max(half);
        self.text(x, y, Side::Middle, class, &text);
    }

    /// Ends the drawing at a height, with the words that name it.
    pub(crate) fn finish(self, height: f64, says: &str) -> String {
        format!(
            "<svg class=\"chart\" viewBox=\"0 0 {} {}\" role=\"group\" aria-label=\"{}\">{}</svg>",
            short(self.frame.width),
            short(height),
            escape(says),
            self.body
        )
    }
}

/// A coordinate with at most two decimals; what is not finite becomes 0.
fn short(x: f64) -> String {
    if !x.is_finite() {
        return "0".to_owned();
    }
    let text = format!("{:.2}", x.clamp(-1e6, 1e6));
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

/// Text made fit for element content and quoted attributes; characters XML forbids become a replacement mark.
pub(crate) fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            '\n' | '\t' | '\r' => out.push(' '),
            c if c.is_control() || matches!(c, '\u{fffe}' | '\u{ffff}') => out.push('\u{fffd}'),
            c => out.push(c),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_is_escaped_everywhere() {
        let bad = "<script>alert('x')</script>\"&\u{0}";
        let mut canvas = Canvas::new(&Frame::plain(100.0));
        canvas.open(bad, Some("nowhere"));
        canvas.text(1.0, 2.0, Side::End, "label", bad);
        canvas.close();
        let svg = canvas.finish(10.0, bad);
        assert!(!svg.contains("<script"), "{svg}");
        assert!(!svg.contains("alert('"), "{svg}");
        assert!(!svg.contains('\u{0}'));
    }

    #[test]
    fn coordinates_stay_numbers() {
        for (x, text) in
            [(f64::NAN, "0"), (f64::INFINITY, "0"), (-0.001, "0"), (1.0, "1"), (10.0, "10"), (1.239, "1.24"), (-2.5, "-2.5")]
        {
            assert_eq!(short(x), text);
        }
    }

    #[test]
    fn links_go_only_to_known_reasons() {
        let known = HashMap::from([("a/b", 7)]);
        let mut canvas = Canvas::new(&Frame { width: 10.0, anchors: Some(&known) });
        for link in ["a/b", "c"] {
            canvas.open("x", Some(link));
            canvas.close();
        }
        let svg = canvas.finish(10.0, "t");
        assert!(svg.contains("<a class=\"mark\" href=\"#R7\""), "{svg}");
        assert!(svg.contains("<g class=\"mark\" tabindex=\"0\""), "{svg}");
        assert_eq!(svg.matches("href").count(), 1);
    }
}
