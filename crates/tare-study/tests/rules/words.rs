//! Words and lists among several values: chosen like numbers, and checked like them.

use super::bench::{Bench, error, same, text};
use tare_model::{Field, FieldValue, Id, Kind};

fn step(lengths: &[&str]) -> (Bench, Id) {
    let mut bench = Bench::new();
    let (_, operation) = bench.product("processes/test-words", &[("grade", "plain")]);
    for said in lengths {
        bench.another(operation, "lengths", said, "measured");
    }
    (bench, operation)
}

fn choose(bench: &mut Bench, subject: Id, quantity: &str, method: &str, value: Option<Id>) {
    let mut fields = vec![(Field::Quantity, text(quantity)), (Field::Method, text(method))];
    fields.extend(value.map(|v| (Field::Value, FieldValue::Ref(v))));
    bench.add(Kind::Choose, Some(subject), &fields);
}

/// The chosen word stands; without a choice the strongest evidence, and it is said.
#[test]
fn a_choice_among_words_is_kept() {
    let (mut bench, operation) = step(&["0 mm"]);
    bench.forget(operation, "grade");
    let fine = bench.another(operation, "grade", "fine", "measured");
    bench.another(operation, "grade", "plain", "assumed");
    let study = bench.clean();
    same(super::bench::cost(&study), 10.0);
    assert!(study.problems.iter().any(|d| d.code == "values-differ" && d.message.contains("fine")));
    let plain = bench.another(operation, "grade", "plain", "assumed");
    choose(&mut bench, operation, "grade", "one", Some(plain));
    same(bench.cost(), 1.0);
    bench.drop_choices();
    bench.set(fine, Field::Text, text("plain"));
    assert!(bench.clean().problems.iter().all(|d| d.code != "values-differ"), "the same word twice is one statement");
    choose(&mut bench, operation, "grade", "mean", None);
    bench.set(fine, Field::Text, text("fine"));
    assert!(error(&bench.compile(), "choice-mean").expect("an error").contains("grade"));
}

/// Entries of a list are checked for their dimension one by one.
#[test]
fn entries_of_a_list_have_the_due_dimension() {
    same(step(&["500 mm; 1.5 m"]).0.cost(), 3.0);
    for wrong in ["500 mm; 3 kg", "5"] {
        let said = error(&step(&[wrong]).0.compile(), "dimension").expect("an error");
        assert!(said.contains("`lengths` is a length") && said.contains("/lengths"), "{said}");
    }
}

/// Values of a list follow one another, unless one was chosen.
#[test]
fn a_choice_among_lists_is_kept() {
    let (mut bench, operation) = step(&["1 m; 2 m"]);
    let other = bench.another(operation, "lengths", "5 m", "measured");
    same(bench.cost(), 9.0);
    choose(&mut bench, operation, "lengths", "one", Some(other));
    same(bench.cost(), 6.0);
}
