//! Scratch.
use std::collections::BTreeMap;
fn walk(p: &std::path::Path, out: &mut Vec<std::path::PathBuf>) { for e in std::fs::read_dir(p).unwrap() { let p = e.unwrap().path(); if p.is_dir() { walk(&p, out) } else if p.extension().is_some_and(|x| x == "toml") { out.push(p) } } }
#[test]
fn try_it() {
    let root = std::path::Path::new("/work/main/library");
    let mut files = vec![]; walk(root, &mut files); files.sort();
    let mut lib = BTreeMap::new(); let mut reads = BTreeMap::new();
    for f in &files { let key = f.strip_prefix(root).unwrap().with_extension("").to_string_lossy().to_string();
        if !key.contains('/') || key.starts_with("rates") || key.starts_with("roll-ups") { continue }
        let text = std::fs::read_to_string(f).unwrap();
        let (c, d) = tare_calc::parse(&key, &format!("{key}.toml"), &text); lib.insert(key.clone(), c); reads.insert(key, (text, d)); }
    let (mut bad, mut fails, mut n, mut unc, mut consts) = (0, 0, 0, 0, 0);
    for (key, c) in &lib { let (text, d) = &reads[key]; let mut d = d.clone(); d.extend(tare_calc::check(c, &lib));
        for x in &d { print!("{}", tare_diag::render(x, |_| Some(text))); }
        if tare_diag::any_error(&d) { bad += 1; continue }
        for r in tare_calc::run_checks(c, &lib) { n += 1; if !r.ok { fails += 1; println!("FAIL {key} {} {}: expected {} got {}", r.id, r.name, r.expected, r.got); } }
        for p in tare_calc::table_probes(c, &lib) { if !p.ok { println!("PROBE {key} {p:?}"); } }
        consts += tare_calc::constants(c).len();
        unc += tare_calc::uncovered(c, &lib).len();
    }
    println!("{} files, {bad} bad, {n} expectations, {fails} fail, {unc} of {consts} constants uncovered", lib.len());
    let t = std::time::Instant::now(); let mut nodes = 0; let mut k = 0;
    for c in lib.values() { let s = tare_calc::any_shape(&tare_calc::flat_inputs(c, &lib)); if let Ok(l) = tare_calc::lower(c, &lib, &s) { nodes += l.template.len(); k += 1; if l.template.len() > 3000 { println!("{} {} nodes {} params", c.key, l.template.len(), l.params.len()); } } else { println!("no lowering {}", c.key) } }
    println!("{k} lowered, {nodes} nodes, {:?}", t.elapsed());
}
