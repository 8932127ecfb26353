//! Generated studies compile without problems, and their totals close.

use tare_library::Library;
use tare_study::generate::{Size, study};
use tare_study::{Sources, compile};

#[test]
fn a_generated_study_compiles_and_its_totals_close() {
    let (library, _) = Library::embedded();
    for (size, seed) in [
        (Size { parts: 200, items: 60, joints: 30 }, 7),
        (Size { parts: 200, items: 60, joints: 30 }, 8),
        (Size { parts: 20, items: 5, joints: 0 }, 3),
        (Size { parts: 600, items: 40, joints: 200 }, 1),
    ] {
        compiles_and_closes(&library, size, seed);
    }
}

#[track_caller]
fn compiles_and_closes(library: &Library, size: Size, seed: u64) {
    let document = study(size, seed);
    let study = compile(Sources { study: &document, books: &[], library });
    assert!(study.problems.iter().all(|p| !p.is_error()), "{:?}", study.problems);
    let total = study.value(study.totals.cost.expect("a total"));
    let kinds: f64 = study.totals.by_kind.iter().map(|(_, l)| study.value(*l)).sum();
    let items: f64 = study.items.iter().filter_map(|i| i.contribution).map(|l| study.value(l)).sum();
    let processes: f64 = study.totals.by_process.iter().map(|(_, l)| study.value(*l)).sum();
    for (name, sum) in [("kinds", kinds), ("items", items), ("processes", processes)] {
        assert!((sum - total).abs() <= 1e-9 * total, "{name}: {sum} against {total}");
    }
}

#[test]
fn a_changed_value_gives_the_same_study_as_compiling_again() {
    use tare_model::{Change, Field, FieldValue, Kind};
    let (library, _) = Library::embedded();
    let mut document = study(Size { parts: 120, items: 40, joints: 12 }, 11);
    let mut kept = compile(Sources { study: &document, books: &[], library: &library });
    let values: Vec<_> = document
        .records()
        .filter(|r| r.kind == Kind::Value)
        .map(|r| (r.id, r.text(Field::Text).unwrap_or("").to_owned()))
        .collect();
    let mut taken = 0;
    for (number, (id, text)) in values.iter().enumerate().step_by(7) {
        let Some((digits, unit)) = text.split_once(' ') else { continue };
        let Ok(old) = digits.parse::<f64>() else { continue };
        // Some changes stay plausible, some do not: both ways must agree with compiling again.
        let factor = [1.07, 0.9, 1e6, 2.0][number % 4];
        let change = Change::Set { id: *id, field: Field::Text, to: Some(FieldValue::Text(format!("{} {unit}", old * factor))) };
        let edit = document.seal(&change).unwrap();
        document.apply(&edit).unwrap();
        let again = compile(Sources { study: &document, books: &[], library: &library });
        if kept.take_value(&document, &library, *id) {
            taken += 1;
            assert_eq!(kept.values.len(), again.values.len());
            assert!(kept.values.iter().zip(&again.values).all(|(a, b)| a.to_bits() == b.to_bits()), "{text}");
            assert_eq!(kept.problems, again.problems, "{text}");
        } else {
            kept = again;
        }
    }
    assert!(taken > 10, "only {taken} were taken");
}
