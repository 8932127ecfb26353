//! What a report says of itself on paper: numbers of figures and tables, sections chosen, the summary alone, page numbers, drawings and cards
//! as files of their own. All data here is invented.

use std::collections::BTreeSet;
use tare_report::*;

/// Texts that mean something to a browser, to a spreadsheet, or to the order of characters.
const HOSTILE: [&str; 4] =
    ["<script>alert(1)</script>", "=cmd()|' /C calc'!A0", "\u{202e}eman\u{202c} \u{5e9}\u{5dd}", "\"></style><b>"];

fn amount(x: f64, text: &str) -> Figure {
    Figure::new(x, text).because("study/cost")
}

/// A report with a waterfall, tables in several sections, and one photo without its picture.
fn report(title: &str) -> Report {
    let step = |label: &str, x: f64, kind: StepKind| CostStep {
        label: label.to_owned(),
        value: amount(x, "v"),
        kind,
        share: String::new(),
    };
    let cost = Cost {
        unit: "EUR".to_owned(),
        steps: vec![step("material", 5.0, StepKind::Add), step(title, 4.0, StepKind::Add), step("cost", 9.0, StepKind::Total)],
        ..Cost::default()
    };
    let part = PartRow { id: "p1".to_owned(), label: "P1".to_owned(), name: title.to_owned(), ..PartRow::default() };
    let boundary = Boundary { topic: "warranty".to_owned(), state: Contained::Out, note: title.to_owned() };
    let photo = Photo { id: "f1".to_owned(), caption: title.to_owned(), ..Photo::default() };
    let hold = Hold { name: "opening".to_owned(), ..Hold::default() };
    let reason = Reason { anchor: "study/cost".to_owned(), title: "cost".to_owned(), ..Reason::default() };
    Report {
        title: title.to_owned(),
        cost,
        parts: vec![part],
        boundary: vec![boundary],
        photos: vec![photo],
        holds: vec![hold],
        reasons: vec![reason],
        ..Report::default()
    }
}

fn only(names: &[&str]) -> Report {
    let mut report = report("Pump");
    report.printing.chosen = Some(names.iter().map(|n| (*n).to_owned()).collect());
    report
}

/// The numbers printed behind a word, in the order in which they stand.
fn numbers(page: &str, word: &str) -> Vec<usize> {
    let mark = format!("<b class=\"no\">{word} ");
    page.split(mark.as_str()).skip(1).filter_map(|rest| rest.split('<').next()?.parse().ok()).collect()
}

fn section_ids(page: &str) -> Vec<&str> {
    let known: BTreeSet<&str> = section_names().map(|(id, _)| id).collect();
    page.split("<section")
        .skip(1)
        .filter_map(|s| s.split(" id=\"").nth(1)?.split('"').next())
        .filter(|id| known.contains(id))
        .collect()
}

#[test]
fn every_figure_and_table_has_the_next_number() {
    let page = html(&report("Pump"));
    let (figures, tables) = (numbers(&page, "Figure"), numbers(&page, "Table"));
    assert!(figures.len() > 1 && tables.len() > 2, "{figures:?} {tables:?}");
    assert_eq!(figures, (1..=figures.len()).collect::<Vec<_>>());
    assert_eq!(tables, (1..=tables.len()).collect::<Vec<_>>());
    assert_eq!(figures.len(), page.matches("<figcaption").count(), "charts and photos, each with one");
    assert_eq!(tables.len(), page.matches("<caption").count());
    assert!(!page.contains("data-k="), "keys of drawings stay inside");
}

#[test]
fn only_chosen_sections_are_printed_and_the_cover_names_the_others() {
    let page = html(&only(&["cost", "boundary", "reasons"]));
    assert_eq!(section_ids(&page), ["cost", "boundary", "reasons"], "in the order of the report");
    assert_eq!(numbers(&page, "Table").first(), Some(&1), "numbers begin anew");
    let left = page.split("Left out of this report: </b>").nth(1).and_then(|l| l.split("</p>").next()).expect("said");
    assert!(left.starts_with("Summary, What drives the cost, Findings, Holds, Tools") && !left.contains("Boundary"), "{left}");
    assert!(page.contains("High-voltage and thermal hazards") && page.contains("1 hold is open"), "cautions are no section");
    assert!(!page.contains("href=\"#holds\"") && page.contains("href=\"#boundary\""), "what is left out is not linked to");
    let all = html(&report("Pump"));
    assert!(!all.contains("Left out of this report"));
    assert_eq!(section_ids(&all).len(), section_names().count() - 2, "no ideas, no comparison");
}

#[test]
fn the_reasons_are_said_to_be_in_the_file_where_paper_has_none() {
    let mut report = report("Pump");
    report.reasons_off_paper = true;
    let page = html(&report);
    assert!(page.contains("How every number came about is in the HTML file of this report, not on paper."));
    let contents = page.split("Contents on paper").nth(1).and_then(|c| c.split("</nav>").next()).expect("contents");
    assert!(!contents.contains("#reasons") && contents.contains("#sources"), "{contents}");
}

#[test]
fn a_summary_alone_has_its_head_and_nothing_else() {
    let mut report = report("Pump");
    report.printing.summary_alone = true;
    let page = html(&report);
    assert_eq!(section_ids(&page), ["summary"]);
    assert!(
        page.contains("class=\"brief\"") && page.contains("High-voltage and thermal hazards") && page.contains("1 hold is open")
    );
    assert!(!page.contains("Contents on paper"));
    report.printing.smaller = 4;
    assert!(html(&report).contains("html{font-size:9.12px}"), "four twentieths off 11.4");
    report.printing.smaller = 200;
    assert!(html(&report).contains("html{font-size:7.98px}"), "never below what reads");
}

#[test]
fn page_numbers_stand_behind_links_once_they_are_known() {
    let mut report = report("Pump");
    assert!(!html(&report).contains("data-p="));
    report.printing.pages = [("holds".to_owned(), 4), ("nowhere".to_owned(), 9)].into_iter().collect();
    let page = html(&report);
    assert!(page.contains("href=\"#holds\" data-p=\"4\"") && !page.contains("data-p=\"9\""));
    assert!(!page.contains("href=\"#boundary\" data-p"));
}

#[test]
fn what_is_on_its_way_is_said_in_its_place() {
    let mut report = report("Pump");
    report.printing.computing = ["ideas".to_owned(), "ranges".to_owned()].into_iter().collect();
    let page = html(&report);
    assert!(section_ids(&page).contains(&"ideas"));
    assert_eq!(page.matches("this file is written again when it is done").count(), 2);
    assert!(page.contains("Being computed"));
}

#[test]
fn drawings_carry_the_numbers_of_the_report_and_need_nothing() {
    let report = report("Pump");
    let (page, found) = (html(&report), figures(&report, 820.0));
    assert!(!found.is_empty());
    for figure in &found {
        assert!(page.contains(&format!("<b class=\"no\">Figure {}</b> {}", figure.number, figure.title)), "{}", figure.title);
        assert!(figure.svg.starts_with("<svg xmlns=") && figure.svg.contains("<desc>Figure"), "{}", figure.svg);
        assert!(!figure.svg.contains("var(") && !figure.svg.contains("href"), "{}", figure.svg);
    }
    assert_eq!(found[0].section, "What drives the cost");
    let small = figures(&report, 410.0);
    assert!(small[0].svg.contains(" width=\"410\"") && found[0].svg.contains(" width=\"820\""));
}

#[test]
fn hostile_text_stays_text_on_pages_drawings_and_cards() {
    let clean = html(&report("Pump"));
    for bad in HOSTILE {
        let report = report(bad);
        let page = html(&report);
        for tag in ["<script", "<style", "<b>"] {
            assert_eq!(page.matches(tag).count(), clean.matches(tag).count(), "{tag} of {bad}");
        }
        for figure in figures(&report, 820.0) {
            assert!(!figure.svg.contains("<script") && !figure.svg.contains("</style><b>"), "{}", figure.svg);
        }
        let card = Card {
            label: bad.to_owned(),
            name: bad.to_owned(),
            path: bad.to_owned(),
            count: bad.to_owned(),
            mass: Some(Figure::new(1.0, bad)),
            material: bad.to_owned(),
            make: bad.to_owned(),
            photo: Some(format!("data:image/png;base64,{bad}")),
            shows: bad.to_owned(),
            ..Card::default()
        };
        let cards =
            Cards { title: bad.to_owned(), basis: bad.to_owned(), state: bad.to_owned(), cards: vec![card], ..Cards::default() };
        let page = cards_html(&cards);
        assert!(!page.contains("<script") && !page.contains("<img") && page.matches("<style").count() == 1, "{page}");
        let shown = bad.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;");
        assert!(page.matches(shown.as_str()).count() >= 9, "{shown} in {page}");
        assert!(page.contains(&format!("<bdi>{shown}</bdi>")), "what turns direction stays alone");
    }
}
