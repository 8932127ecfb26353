//! Title, scenario, headlines, boundary.

use super::filling::Filling;
use crate::basis::Basis;
use tare_model::{Field, Kind};
use tare_report::{Boundary, Contained, Figure, Headline, Report, Scenario};
use tare_study::LineRef;

pub(super) fn fill(f: &mut Filling<'_>, report: &mut Report, head: u64) {
    let basis = Basis::new(f.document, f.study);
    let record = f.head();
    report.product = record.and_then(|h| h.text(Field::Says).or(h.text(Field::Product))).unwrap_or_default().to_owned();
    if basis.illustrative {
        report.invented =
            Some("Invented data and illustrative rates: no existing product, maker, person or offer is meant.".to_owned());
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
        volume: life.map_or(volume.clone(), |life| format!("{volume} over {life}")),
        base_year: basis.base_year.clone(),
        currency: basis.currency.clone(),
        numerics: "point values at the stated numbers; spreads first order (k = 2)".to_owned(),
        build: format!("tare {}", env!("CARGO_PKG_VERSION")),
        state: format!("entry {head} of the journal"),
        more: if basis.book.is_empty() { Vec::new() } else { vec![("Rate book".to_owned(), basis.book.clone())] },
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
    let without = f.optional(without, 5).map(|figure| (words.clone(), figure));
    put("Should-cost per product", grounded(f, totals.cost, 5), without, "", true);
    let masses: Vec<LineRef> = f.study.items.iter().filter(|i| i.dominant).filter_map(|i| i.mass).collect();
    let note = if masses.is_empty() { "" } else { "the balance shows it with and without what was weighed apart" };
    put("Mass", grounded(f, totals.mass, 5), None, note, false);
    put(
        "Manual assembly time",
        grounded(f, totals.manual, 4),
        None,
        "elementary motions and process times, no rest or delay added unless the line says so",
        false,
    );
    put(
        "Ideal-time share",
        f.optional(totals.ideal_share, 3),
        None,
        "3 s for each needed part, divided by the manual time",
        false,
    );
    put("Investment in tools", grounded(f, totals.investment, 5), None, "all sets over the life of the product", true);
    for (record, value, cost) in &totals.yardsticks {
        let name = f.name(*record);
        if let Some(cost) = cost {
            put(&format!("Cost per unit of {name}"), Some(f.figure(*cost, 4)), None, "", true);
        } else {
            put(&name, Some(f.figure(*value, 4)), None, "yardstick", false);
        }
    }
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
    Some(if said.is_empty() { figure } else { figure.resting_on(said.join(", ")) })
}
