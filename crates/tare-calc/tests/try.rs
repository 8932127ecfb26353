#[test]
fn try_it() {
    for f in std::env::var("FILES").unwrap_or_default().split(' ').filter(|f| !f.is_empty()) {
        let text = std::fs::read_to_string(f).unwrap();
        let (calc, mut diags) = tare_calc::parse("x", f, &text);
        diags.extend(tare_calc::check(&calc, &()));
        for d in diags { println!("{}", tare_diag::render(&d, |_| Some(&text))); }
    }
}
