use tare_library::Library;
use tare_study::generate::{Size, study};
use tare_study::{Sources, compile};

#[test]
#[ignore = "prints"]
fn show() {
    let (library, _) = Library::embedded();
    let document = study(Size { parts: 60, items: 20, joints: 5 }, 7);
    let study = compile(Sources { study: &document, books: &[], library: &library });
    for item in study.items.iter().take(12) {
        println!("{} {} own {:?} contribution {:?} rough {:?} vol {:?}", item.address, item.name, item.own.map(|l| study.value(l)), item.contribution.map(|l| study.value(l)), item.rough.map(|l| study.value(l)), item.volume.map(|l| study.value(l) * 31557600.0));
    }
    for (k, l) in &study.totals.by_kind { println!("{k:?} {}", study.value(*l)); }
    for (k, l) in &study.totals.by_process { println!("{k:?} {}", study.value(*l)); }
    let item = study.items.iter().find(|i| i.rough.is_some()).unwrap();
    let explanation = study.explain(item.own.unwrap(), 60);
    for step in &explanation.steps { println!("{} [{}] {}", step.address, step.subject, step.text()); if let Some(s) = &step.stated { println!("     {s} {:?} {}", step.evidence, step.source); } }
    for t in &study.tools { println!("{} cost {} life {} sets {:?} per piece {:?}", t.title, study.value(t.cost), study.value(t.life), t.sets.map(|l| study.value(l)), t.per_piece.map(|l| study.value(l))); }
}
