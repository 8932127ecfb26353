//! Title, scenario, headlines, boundary.

use super::filling::Filling;
use crate::basis::Basis;
use tare_model::{Field, Kind};
use tare_report::{Boundary, Contained, Cover, Figure, Headline, Report, Scenario};
use tare_study::LineRef;
use tare_units::Unit;

/// What is said where data is invented.
pub(super) const INVENTED: &str = "Invented data and illustrative rates: no existing product, maker, person or offer is meant.";

pub(super) fn fill(f: &mut Filling<'_>, report: &mut Report, head: u64) {
    let basis = Basis::new(f.document, f.study);
    let record = f.head();
    report.product = record.and_then(|h| h.text(Field::Says).or(h.text(Field::Product))).unwrap_or_default().to_owned();
    if basis.illustrative {
        report.invented = Some(INVENTED.to_owned());
    }
    let life = f
        .document
        .of_kind(None, Kind::Scenario)
        .next()
        .and_then(|s| f.stated(s.id, "life").first().and_then(|v| v.text(Field::Text)));
    let volume = basis.volume.as_ref().map_or_else(String::new, |v| v.text.clone());
    report.scenario = Scenario {
        name: basis.scenario.clone(),
        place: basis.place.clone(),
        volume: life.map_or_else(|| yearly(&volume), |life| format!("{} over {}", yearly(&volume), years(life))),
        base_year: basis.base_year.clone(),
        currency: basis.currency.clone(),
        numerics: super::ranges::arithmetic(f.ranges),
        build: format!("tare {}", env!("CARGO_PKG_VERSION")),
        state: format!("entry {head} of the journal"),
        more: if basis.book.is_empty() { Vec::new() } else { vec![("Rate book".to_owned(), basis.book.clone())] },
    };
    report.cover = Cover {
        date: crate::clock::today(),
        reader: "the people of the workspace; nothing is masked".to_owned(),
        release: String::new(),
    };
    report.boundary = basis
        .boundary
        .iter()
        .map(|b| Boundary {
            topic: b.topic.clone(),
            state: match b.state.as_str() {
                "in" => Contained::In,
                "out" => Contained::Out,
                _ => Contained::Unknown,
            },
            note: b.says.clone(),
        })
        .collect();
    headlines(f, report);
}

fn headlines(f: &mut Filling<'_>, report: &mut Report) {
    let totals = f.study.totals.clone();
    let dominant: Vec<String> = f.study.items.iter().filter(|i| i.dominant).map(|i| i.name.clone()).collect();
    let words = format!("without {}", dominant.join(", "));
    let mut put = |label: &str, value: Option<Figure>, without: Option<(String, Figure)>, note: &str, total: bool| {
        if let Some(value) = value {
            report.headlines.push(Headline { label: label.to_owned(), value, without, note: note.to_owned(), total });
        }
    };
    let without = if dominant.is_empty() { None } else { totals.without_dominant };
    let without = without.map(|line| {
        let figure = f.figure(line, 5);
        (words.clone(), f.about(line, figure))
    });
    put("Should-cost per product", grounded(f, totals.cost, 5), without, "", true);
    let states = f.study.mass.first().cloned().map(|row| super::mass::readings(f, &row).0).unwrap_or_default();
    let note = if states.is_empty() { String::new() } else { format!("mass state of the reading: {}", states.join(", ")) };
    put("Mass", grounded(f, totals.mass, 5), None, &note, false);
    let minutes = totals.manual.zip(Unit::parse("min").ok()).map(|(line, min)| tare_units::show(f.study.value(line), &min, 3));
    let note = "elementary motions and process times, no rest or delay added unless the line says so";
    let note = minutes.map_or_else(|| note.to_owned(), |minutes| format!("{minutes}; {note}"));
    put("Manual assembly time", grounded(f, totals.manual, 4), None, &note, false);
    let ideal = totals.ideal_share.map(|line| {
        let figure = f.percent(line);
        f.about(line, figure)
    });
    put("Ideal-time share", ideal, None, "3 s for each needed part, divided by the manual time", false);
    let note = format!("all sets over the life; {}", super::cost::how_paid(f.study));
    put("Investment in tools", grounded(f, totals.investment, 5), None, &note, true);
    for (record, value, cost) in &totals.yardsticks {
        let name = f.name(*record);
        let line = cost.unwrap_or(*value);
        let figure = f.figure(line, 4);
        let figure = f.about(line, figure);
        match cost {
            Some(_) => put(&format!("Cost per unit of {name}"), Some(figure), None, "", true),
            None => put(&name, Some(figure), None, "yardstick", false),
        }
    }
}

/// A volume in words: `20000 1/a` is read as `20 000 a year`.
fn yearly(text: &str) -> String {
    super::amount::grouped(&text.strip_suffix(" 1/a").map_or_else(|| text.to_owned(), |n| format!("{n} a year")))
}

/// A span in words: `6 a` is read as `6 years`.
fn years(text: &str) -> String {
    text.strip_suffix(" a").map_or_else(|| text.to_owned(), |n| format!("{n} {}", if n == "1" { "year" } else { "years" }))
}

/// A headline figure with the share of its evidence that was measured.
fn grounded(f: &mut Filling<'_>, line: Option<LineRef>, digits: usize) -> Option<Figure> {
    let line = line?;
    let grounds = f.study.grounds(line);
    let said: Vec<String> = grounds
        .shares
        .iter()
        .filter(|(_, share)| *share >= 0.005)
        .map(|(class, share)| format!("{:.0} % {}", share * 100.0, class.word()))
        .collect();
    let figure = f.figure(line, digits);
    let figure = f.about(line, figure);
    Some(if said.is_empty() { figure } else { figure.resting_on(said.join(", ")) })
}
