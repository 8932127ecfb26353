//! Scratch.
#[test]
fn try_it() {
    for f in std::env::var("FILES").unwrap_or_default().split(' ').filter(|f| !f.is_empty()) {
        let text = std::fs::read_to_string(f).unwrap();
        let (calc, mut diags) = tare_calc::parse("x", f, &text);
        diags.extend(tare_calc::check(&calc, &()));
        for d in &diags { println!("{}", tare_diag::render(d, |_| Some(&text))); }
        if tare_diag::any_error(&diags) { continue }
        for r in tare_calc::run_checks(&calc, &()) { println!("{} {}: expected {} got {} {}", r.id, r.name, r.expected, r.got, r.ok); }
        for c in tare_calc::uncovered(&calc, &()) { println!("uncovered {:?} {}", c.owner, c.text); }
        let shape = tare_calc::Shape::defaults(tare_calc::flat_inputs(&calc, &()).len());
        let t = std::time::Instant::now();
        for _ in 0..300 { tare_calc::lower(&calc, &(), &shape).unwrap(); }
        println!("300 lowerings {:?}", t.elapsed());
        let l = tare_calc::lower(&calc, &(), &shape).unwrap();
        for x in &l.lines { println!("{:?} {} = {}", x.kind, x.name, x.formula); }
        println!("{} nodes {} params", l.template.len(), l.params.len());
    }
}
