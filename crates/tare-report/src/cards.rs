//! Cards of parts for a wall: four to a page, to be cut apart.

use crate::page::{is_picture, margins_of};
use crate::{Callout, Figure, Paper};
use maud::{DOCTYPE, Markup, PreEscaped, html};
use serde::{Deserialize, Serialize};

/// A sheet of cards.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Cards {
    /// Title of the study.
    pub title: String,
    /// Set when the data is invented or only illustrative; printed on every card, since cards part from one another.
    pub invented: Option<String>,
    /// Under which conditions costs hold, in one line.
    pub basis: String,
    /// Journal position and day.
    pub state: String,
    /// What the codes open, in words; empty where cards have none.
    pub codes: String,
    /// The paper.
    pub paper: Paper,
    /// The cards, in their order.
    pub cards: Vec<Card>,
}

/// One part on one card.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Card {
    /// Bag label: `B17`.
    pub label: String,
    /// Name.
    pub name: String,
    /// Where it sits, from the product down.
    pub path: String,
    /// How many: `4 in each, 16 in the product`.
    pub count: String,
    /// Mass of one.
    pub mass: Option<Figure>,
    /// Material in words.
    pub material: String,
    /// Cost of one.
    pub cost: Option<Figure>,
    /// `make`, `buy` or empty, and how: `make: sheet stamping`.
    pub make: String,
    /// The picture as `data:image/...;base64,...`.
    pub photo: Option<String>,
    /// What the picture shows, where it is of something larger.
    pub shows: String,
    /// Marks on the picture.
    pub callouts: Vec<Callout>,
    /// A machine-readable code as an `svg` element. It is printed as it is: the caller draws it.
    pub code: String,
}

/// Cards on one page.
pub const CARDS_PER_PAGE: usize = 4;

/// Prints cards as one self-contained HTML page, four to a sheet of paper with marks to cut along.
///
/// All text is escaped, and the page loads nothing from anywhere.
pub fn cards_html(cards: &Cards) -> String {
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta http-equiv="Content-Security-Policy" content="default-src 'none'; img-src data:; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'";
                meta name="referrer" content="no-referrer";
                title { "Part cards: " (cards.title) }
                style { (PreEscaped(include_str!("cards.css"))) (PreEscaped(margins_of(cards.paper))) }
            }
            body class=(cards.paper.word()) {
                header {
                    h1 { "Part cards: " bdi { (cards.title) } }
                    @if let Some(words) = &cards.invented { p { b { "Invented or illustrative data. " } (words) } }
                    p { (cards.cards.len()) " cards, four to a page; cut along the marks. " (cards.codes) }
                }
                @for sheet in cards.cards.chunks(CARDS_PER_PAGE) {
                    div.sheet {
                        @for corner in ["top", "left", "right", "bottom", "middle"] { i.cut.(corner) aria-hidden="true" {} }
                        @for card in sheet { (one(cards, card)) }
                    }
                }
            }
        }
    };
    page.into_string()
}

fn one(cards: &Cards, card: &Card) -> Markup {
    let photo = card.photo.as_deref().filter(|data| is_picture(data));
    let rows = [("Count", &card.count), ("Material", &card.material), ("Make or buy", &card.make)];
    html! {
        article.part-card {
            div.photo {
                @if let Some(data) = photo {
                    div.picture {
                        img src=(data) alt=(card.name);
                        @for c in &card.callouts { (crate::page::pin(c)) }
                    }
                } @else { p.no-photo { "no photo" } }
            }
            @if !card.shows.is_empty() { p.shows { (card.shows) } }
            div.name {
                div {
                    h2 { (card.label) }
                    p.what { (card.name) }
                    @if !card.path.is_empty() { p.path { (card.path) } }
                }
                @if !card.code.is_empty() { div.code { (PreEscaped(&card.code)) } }
            }
            dl {
                (number("Mass, each", card.mass.as_ref(), "not recorded"))
                (number("Cost, each", card.cost.as_ref(), "not computed"))
                @for (label, value) in rows { @if !value.is_empty() { div { dt { (label) } dd.words { (value) } } } }
            }
            p.foot {
                @if cards.invented.is_some() { b { "Invented data. " } }
                bdi { (cards.basis) } @if !cards.state.is_empty() { "; " (cards.state) }
            }
        }
    }
}

fn number(label: &str, figure: Option<&Figure>, none: &str) -> Markup {
    html! {
        div {
            dt { (label) }
            dd {
                @match figure {
                    Some(figure) => {
                        b { (figure.text) }
                        @match (&figure.range, &figure.spread) {
                            (Some(range), _) => { small { (range.words()) } },
                            (None, Some(spread)) => { small { (spread.text) } },
                            (None, None) => {},
                        }
                        @for remark in &figure.remarks { small { (remark) } }
                    },
                    None => { small { (none) } },
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn four_cards_stand_on_a_page_and_text_stays_text() {
        let card = |n: usize| Card { label: format!("P{n}"), name: "<script>x</script>".to_owned(), ..Card::default() };
        let page = cards_html(&Cards { cards: (0..9).map(card).collect(), paper: Paper::Letter, ..Cards::default() });
        assert_eq!(page.matches("class=\"sheet\"").count(), 3);
        assert_eq!(page.matches("class=\"part-card\"").count(), 9);
        assert!(page.contains("size:letter") && page.contains("no photo") && page.contains("not recorded"));
        assert!(!page.contains("<script"), "{page}");
    }
}
