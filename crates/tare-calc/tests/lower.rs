//! What a lowered calculation offers its caller, and its limits.

use std::collections::BTreeMap;
use tare_calc::{
    Calculation, Change, LineKind, Lowered, ParamKind, Shape, any_shape, check, constants, flat_inputs, lower, parse,
    parse_formula, run_checks, run_checks_with, uncovered,
};
use tare_engine::{Graph, Operand, eval_point};

fn read(key: &str, text: &str) -> Calculation {
    let (calc, mut diags) = parse(key, &format!("{key}.toml"), text);
    diags.extend(check(&calc, &()));
    diags.retain(tare_diag::Diag::is_error);
    // uses are checked by the suite, where there is a library
    diags.retain(|d| d.code != "unknown-calculation");
    assert!(diags.is_empty(), "{diags:?}");
    calc
}

/// The value of an operand with the parameters set by `value`.
fn evaluate(lowered: &Lowered, operand: Operand, value: impl Fn(&tare_calc::Param) -> f64) -> f64 {
    let leaves: Vec<f64> = lowered.params.iter().map(value).collect();
    let mut graph = Graph::default();
    let nodes: Vec<u32> = leaves.iter().map(|_| graph.leaf()).collect();
    let base = graph.instantiate(&lowered.template, &nodes);
    let mut values = Vec::new();
    eval_point(&graph, &leaves, &mut values);
    match operand {
        Operand::Param(p) => leaves[p as usize],
        Operand::Inner(i) => values[(base + i) as usize],
    }
}

fn moulding() -> Calculation {
    read("moulding", include_str!("suite/good/moulding.toml"))
}

#[test]
fn a_refused_need_gives_no_number_and_says_which_key() {
    let calc = moulding();
    let shape = any_shape(&flat_inputs(&calc, &()));
    let lowered = lower(&calc, &(), &shape).unwrap();
    let [refusal] = lowered.refusals.as_slice() else { panic!("{:?}", lowered.refusals) };
    assert_eq!((refusal.table.as_str(), refusal.key.as_str(), refusal.line.as_str()), ("machine", "force", "press"));
    assert_eq!((refusal.smallest.as_str(), refusal.largest.as_str()), ("500 kN", "4000 kN"));
    assert_eq!(lowered.lines[refusal.hidden].kind, LineKind::Outside);
    let price = lowered.values("machine.press.price").unwrap()[0];
    for (mass, outside) in [(0.06, 0.0), (60.0, 1.0)] {
        let value = |p: &tare_calc::Param| match p.name.as_str() {
            "mass" => mass,
            "density" => 1000.0,
            "exchange EUR" => 2.0,
            "method" | "default of area" => 1.0,
            _ => p.default.as_ref().map_or(1.0, |q| q.value),
        };
        assert_eq!(evaluate(&lowered, refusal.operand, value), outside);
        let price = evaluate(&lowered, price, value);
        if outside == 1.0 {
            assert!(price.is_nan());
        } else {
            assert_eq!(price, 600_000.0, "the 400 t press at two units of money per euro");
        }
    }
}

#[test]
fn parameters_say_what_they_stand_for() {
    let calc = moulding();
    let inputs = flat_inputs(&calc, &());
    let lowered = lower(&calc, &(), &Shape::defaults(inputs.len())).unwrap();
    let count = |wanted: fn(&ParamKind) -> bool| lowered.params.iter().filter(|p| wanted(&p.what)).count();
    assert_eq!(count(|p| matches!(p, ParamKind::Method)), 1);
    assert_eq!(count(|p| matches!(p, ParamKind::Exchange(c) if c.to_string() == "EUR")), 1);
    assert_eq!(count(|p| matches!(p, ParamKind::DefaultSpread(_))), 1);
    // three keys and three cells of each of the four columns read
    assert_eq!(count(|p| matches!(p, ParamKind::Cell { .. })), 15);
    assert_eq!(lowered.params.len() as u32, lowered.template.params);
    let method = lowered.params.iter().find(|p| p.what == ParamKind::Method).unwrap();
    assert!((method.default.as_ref().unwrap().standard_uncertainty() - 0.1).abs() < 1e-12);
    // an input that is given has neither its default nor the default's line
    let mut shape = Shape::defaults(inputs.len());
    let area = inputs.iter().position(|i| i.name == "area").unwrap();
    assert!(lowered.line("area").is_some_and(|l| l.kind == LineKind::Default));
    shape.given[area] = Some(1);
    let given = lower(&calc, &(), &shape).unwrap();
    assert!(given.line("area").is_none() && given.values("area").is_some());
    assert_eq!(given.params.iter().filter(|p| matches!(p.what, ParamKind::DefaultSpread(_))).count(), 0);
}

#[test]
fn two_uses_share_method_and_cells_but_not_inputs() {
    let caller = read("good/caller", include_str!("suite/good/caller.toml"));
    let blank = read("good/blank", include_str!("suite/good/blank.toml"));
    let lib: BTreeMap<String, Calculation> = [("good/blank".to_owned(), blank)].into();
    let inputs = flat_inputs(&caller, &lib);
    let names: Vec<&str> = inputs.iter().map(|i| i.name.as_str()).collect();
    assert_eq!(names, ["side", "lid", "scrap", "body.density", "cover.area", "cover.density", "cover.waste", "cover.grade"]);
    let lowered = lower(&caller, &lib, &any_shape(&inputs)).unwrap();
    let methods: Vec<&str> =
        lowered.params.iter().filter(|p| p.what == ParamKind::Method).map(|p| p.calculation.as_ref()).collect();
    assert_eq!(methods, ["good/blank"]);
    let cells = lowered.params.iter().filter(|p| matches!(p.what, ParamKind::Cell { .. })).count();
    assert_eq!(cells, 4, "two keys and two prices");
    assert!(lowered.line("body.area").is_some_and(|l| l.kind == LineKind::Given && l.text == "6 * side^2" && l.scope.is_empty()));
    assert!(lowered.line("cover.mass").is_some_and(|l| l.scope == "cover."));
}

#[test]
fn every_constant_of_a_covered_calculation_is_noticed() {
    let text = "title = \"t\"\nkind = \"build-up\"\n[input.x]\nunit = \"mm\"\ndefault = \"2 mm\"\nsource = \"s\"\n\
        [input.y]\nunit = \"mm\"\ndefault = \"3 mm\"\nsource = \"s\"\n\
        [equation.z]\nunit = \"mm\"\nis = \"2 * x + 0 * y + 0.5 [mm]\"\n\
        [[check]]\nid = \"own-a\"\nsource = \"own\"\nseen = true\ngiven = { }\nexpect = { z = \"4.5 mm within 0.1 %\" }\n";
    let calc = read("c", text);
    assert!(run_checks(&calc, &()).iter().all(|r| r.ok));
    let all: Vec<String> = constants(&calc).into_iter().map(|c| c.text).collect();
    assert_eq!(all, ["2 mm", "3 mm", "2", "0.5 [mm]"]);
    let missed: Vec<String> = uncovered(&calc, &()).into_iter().map(|c| c.text).collect();
    assert_eq!(missed, ["3 mm"], "y does not reach the result");
    let change = Change { constant: constants(&calc)[2].clone(), factor: 1.05 };
    let results = run_checks_with(&calc, &(), &change);
    assert_eq!((results[0].ok, results[0].got.as_str()), (false, "4.7 mm"));
}

#[test]
fn a_check_without_a_needed_input_says_which() {
    let text = "title = \"t\"\nkind = \"build-up\"\n[input.x]\nunit = \"mm\"\n[equation.z]\nunit = \"mm\"\nis = \"2 * x\"\n\
        [[check]]\nid = \"own-a\"\nsource = \"own\"\nseen = true\ngiven = { }\nexpect = { z = \"4 mm\" }\n";
    let results = run_checks(&read("c", text), &());
    assert_eq!((results[0].ok, results[0].got.as_str()), (false, "no result: `x` has no value"));
}

#[test]
fn endless_text_is_refused_with_a_message() {
    let code = |text: &str| parse_formula(text).1.first().map(|p| p.code);
    assert_eq!(code(&"(".repeat(5_000)), Some("formula-too-deep"));
    assert_eq!(code(&"-".repeat(5_000)), Some("formula-too-deep"));
    assert_eq!(code(&"2^".repeat(5_000)), Some("formula-too-deep"));
    assert_eq!(code(&format!("1{}", "+1".repeat(5_000))), Some("formula-too-long"));
    assert_eq!(code(&format!("a{}", ".b".repeat(5_000))), Some("formula-too-long"));
    assert_eq!(code(&format!("max({})", "1,".repeat(5_000))), Some("formula-too-long"));
    assert_eq!(code(&"1".repeat(30_000)), Some("formula-too-long"));
    assert_eq!(code(&format!("{}1{}", "(".repeat(90), ")".repeat(90))), None);
}

#[test]
fn what_could_not_be_read_in_full_is_not_lowered() {
    let text = "title = \"t\"\nkind = \"build-up\"\ncolour = 1\n[equation.a]\nunit = \"1\"\nis = \"1\"\n";
    let (calc, diags) = parse("c", "c.toml", text);
    assert_eq!(diags.len(), 1);
    assert_eq!(lower(&calc, &(), &Shape::default()).unwrap_err()[0].code, "unchecked");
}

#[test]
fn files_nested_without_end_are_read_without_overflow() {
    for (open, n) in [("[", 100_000), ("a.", 100_000), ("a=[", 50_000), ("a={a=", 50_000), ("[a.", 1), ("[[", 100_000)] {
        tare_calc::fuzz_file(&open.repeat(n));
        tare_calc::fuzz_file(&format!("{}b = 1", open.repeat(n)));
    }
    tare_calc::fuzz_file(&format!("[input.{}b]\nunit = 1", "a.".repeat(50_000)));
    tare_calc::fuzz_file(&format!("[[check]]\ngiven = {{ {}b = 1 }}", "a.".repeat(50_000)));
}

#[test]
fn lists_that_grow_beyond_the_limit_are_refused_quickly() {
    let text = "title = \"t\"\nkind = \"build-up\"\n[input.l]\nunit = \"1\"\nlist = \"1..\"\n[table.t]\n\
        key.x = { unit = \"1\", rule = \"up_to\", outside = \"refuse\" }\ncolumn.y = { unit = \"1\" }\nrows = [ROWS]\n\
        [equation.a]\nunit = \"1\"\nis = \"sum(pick(t, l).y)\"\n";
    let rows: String = (0..1_000).map(|i| format!("{{ x = {i}, y = {i} }},")).collect();
    let calc = read("c", &text.replace("ROWS", &rows));
    let small = lower(&calc, &(), &Shape { given: vec![Some(3)] }).unwrap();
    // a table is searched, not spelled out: two operations an entry, the bound for refusals, the sum
    assert!(small.template.len() < 20, "{}", small.template.len());
    let codes = |n| lower(&calc, &(), &Shape { given: vec![Some(n)] }).unwrap_err().iter().map(|d| d.code).collect::<Vec<_>>();
    assert_eq!(codes(100_000), ["template-size"]);
    assert_eq!(codes(100_001), ["list-length"]);
    assert_eq!(codes(0), ["list-length"]);
}

#[test]
fn the_order_of_declarations_does_not_matter() {
    let inputs = "[input.x]\nunit = \"1\"\n";
    let (a, b) = ("[equation.a]\nunit = \"1\"\nis = \"b * 3\"\n", "[equation.b]\nunit = \"1\"\nis = \"x + 1\"\n");
    let head = "title = \"t\"\nkind = \"build-up\"\n";
    for text in [format!("{head}{inputs}{a}{b}"), format!("{head}{b}{inputs}{a}")] {
        let lowered = lower(&read("c", &text), &(), &Shape { given: vec![Some(1)] }).unwrap();
        assert_eq!(evaluate(&lowered, lowered.values("a").unwrap()[0], |_| 4.0), 15.0);
    }
}

#[test]
fn calculations_can_be_sent_to_threads() {
    fn sendable<T: Clone + Send + Sync>() {}
    sendable::<Calculation>();
    sendable::<Lowered>();
}

#[test]
fn the_tallest_formula_allowed_goes_all_the_way() {
    let deep = (0..90).fold("x".to_owned(), |inner, _| format!("if(x > 0, -({inner}), 1)"));
    let wide = format!("x{}", " + x".repeat(248));
    for (formula, codes) in [(wide, 0), (deep, 1)] {
        let text = format!(
            "title = \"t\"\nkind = \"build-up\"\n[input.x]\nunit = \"1\"\n[equation.y]\nunit = \"1\"\nis = \"{formula}\"\n"
        );
        let (calc, diags) = parse("c", "c.toml", &text);
        // calls, signs and parentheses count together: the second is too deep and says so once
        assert_eq!(diags.len(), codes, "{diags:?}");
        check(&calc, &());
        if codes == 0 {
            let lowered = lower(&calc, &(), &Shape { given: vec![Some(1)] }).unwrap();
            assert_eq!(evaluate(&lowered, lowered.values("y").unwrap()[0], |_| 2.0), 498.0);
        }
    }
}

#[test]
fn a_need_that_equals_a_key_but_for_rounding_takes_its_row() {
    let text = "title = \"t\"\nkind = \"build-up\"\n[input.x]\nunit = \"1\"\n[table.t]\n\
        key.x = { unit = \"1\", rule = \"RULE\", outside = \"refuse\" }\ncolumn.y = { unit = \"1\" }\n\
        rows = [{ x = 1, y = 10 }, { x = 2, y = 20 }, { x = 3, y = 30 }]\n[equation.a]\nunit = \"1\"\nis = \"pick(t, x).y\"\n";
    let at = |rule: &str, x: f64| {
        let calc = read("c", &text.replace("RULE", rule));
        let lowered = lower(&calc, &(), &Shape { given: vec![Some(1)] }).unwrap();
        let operand = lowered.values("a").unwrap()[0];
        evaluate(&lowered, operand, |p| p.default.as_ref().map_or(x, |q| q.value))
    };
    let (under, over) = (2.0 - 1e-12, 2.0 + 1e-12);
    assert_eq!([at("up_to", under), at("up_to", over), at("up_to", 2.001)], [20.0, 20.0, 30.0]);
    assert_eq!([at("from", under), at("from", over), at("from", 1.999)], [20.0, 20.0, 10.0]);
    for rule in ["up_to", "from", "interpolate"] {
        assert!(at(rule, f64::NAN).is_nan(), "{rule}");
    }
    assert!(at("up_to", 3.1).is_nan() && at("from", 0.9).is_nan() && at("interpolate", 3.1).is_nan());
    assert_eq!(at("interpolate", 2.5), 25.0);
}
