//! Properties: no text panics, trees print back, and templates give the same bits as evaluation from the tree.

use proptest::prelude::*;
use tare_calc::{Known, Shape, check, evaluate, fuzz_file, fuzz_formula, lower, parse, parse_formula};
use tare_engine::{Graph, Operand, eval_point};

/// Writes formulas of a wanted kind, one choice per byte; without bytes it takes the first, which ends.
struct Writer<'a> {
    choices: &'a [u8],
    at: usize,
}

impl Writer<'_> {
    fn pick(&mut self, n: u8) -> u8 {
        let choice = self.choices.get(self.at).copied().unwrap_or(0);
        self.at += 1;
        choice % n
    }

    /// A plain number.
    fn number(&mut self, depth: usize) -> String {
        let d = depth.saturating_sub(1);
        match if depth == 0 { self.pick(4) } else { self.pick(26) } {
            0 => "a".to_owned(),
            1 => "1.5".to_owned(),
            2 => "pi".to_owned(),
            3 => "20 [%]".to_owned(),
            4 => format!("{} + {}", self.number(d), self.number(d)),
            5 => format!("({}) - ({})", self.number(d), self.number(d)),
            6 => format!("({}) * ({})", self.number(d), self.number(d)),
            7 => format!("({}) / ({})", self.number(d), self.number(d)),
            8 => format!("-({})", self.number(d)),
            9 => format!("({})^({})", self.number(d), self.number(d)),
            10 => format!("if({}, {}, {})", self.condition(d), self.number(d), self.number(d)),
            11 => format!("max({}, {}, {})", self.number(d), self.number(d), self.number(d)),
            12 => format!("min({}, {})", self.number(d), self.number(d)),
            13 => format!("sqrt({})", self.number(d)),
            14 => format!("exp({}) + ln({})", self.number(d), self.number(d)),
            15 => format!("floor({}) + ceil({})", self.number(d), self.number(d)),
            16 => format!("({}) / ({})", self.length(d), self.length(d)),
            17 => format!("sum({})", self.list(d)),
            18 => format!("mean({}) + range({})", self.list(d), self.list(d)),
            19 => format!("count({}) + count({})", self.list(d), self.conditions(d)),
            20 => format!("at({}, 0 + ({}))", self.list(d), self.number(d)),
            21 => format!("max({}) - min({})", self.list(d), self.list(d)),
            22 => format!("sin({}) * atan({})", self.number(d), self.number(d)),
            23 => format!("normal_inv({})", self.number(d)),
            24 => format!("(warm - ({} [degC])) / 1 [K]", self.pick(40)),
            _ => format!("round({}) - abs({}) + log10({})", self.number(d), self.number(d), self.number(d)),
        }
    }

    /// A length.
    fn length(&mut self, depth: usize) -> String {
        let d = depth.saturating_sub(1);
        match if depth == 0 { self.pick(3) } else { self.pick(9) } {
            0 => "b".to_owned(),
            1 => "3.7 [mm]".to_owned(),
            2 => "0.1 [in]".to_owned(),
            3 => format!("({}) + ({})", self.length(d), self.length(d)),
            4 => format!("({}) * ({})", self.length(d), self.number(d)),
            5 => format!("(({})^2)^0.5", self.length(d)),
            6 => format!("if({}, {}, 0)", self.condition(d), self.length(d)),
            7 => format!("({})^2 / ({})", self.length(d), self.length(d)),
            _ => format!("sqrt(({}) * ({}))", self.length(d), self.length(d)),
        }
    }

    fn condition(&mut self, depth: usize) -> String {
        let d = depth.saturating_sub(1);
        match if depth == 0 { self.pick(3) } else { self.pick(9) } {
            0 => "flag".to_owned(),
            1 => "kind == 'x'".to_owned(),
            2 => "warm > 10 [degC]".to_owned(),
            3 => format!("({}) < ({})", self.number(d), self.number(d)),
            4 => format!("({}) >= ({})", self.length(d), self.length(d)),
            5 => format!("({}) and ({})", self.condition(d), self.condition(d)),
            6 => format!("({}) or not ({})", self.condition(d), self.condition(d)),
            7 => format!("all({})", self.conditions(d)),
            _ => format!("any({}) or kind != 'y'", self.conditions(d)),
        }
    }

    /// A list of plain numbers.
    fn list(&mut self, depth: usize) -> String {
        let d = depth.saturating_sub(1);
        match if depth == 0 { self.pick(2) } else { self.pick(7) } {
            0 => "l".to_owned(),
            1 => "next(l)".to_owned(),
            2 => format!("({}) * ({})", self.list(d), self.number(d)),
            3 => format!("({}) - ({})", self.list(d), self.list(d)),
            4 => format!("if({}, {}, {})", self.conditions(d), self.list(d), self.number(d)),
            5 => format!("max({}, {})", self.number(d), self.list(d)),
            _ => format!("-({})^2", self.list(d)),
        }
    }

    fn conditions(&mut self, depth: usize) -> String {
        let d = depth.saturating_sub(1);
        match if depth == 0 { self.pick(1) } else { self.pick(4) } {
            0 => "l > 0".to_owned(),
            1 => format!("({}) <= ({})", self.list(d), self.number(d)),
            2 => format!("not ({})", self.conditions(d)),
            _ => format!("({}) and ({})", self.conditions(d), self.condition(d)),
        }
    }
}

const INPUTS: &str = "title = \"t\"\nkind = \"build-up\"\n[input.a]\nunit = \"1\"\n[input.b]\nunit = \"mm\"\n[input.flag]\nunit = \"bool\"\n\
    [input.kind]\nunit = \"choice\"\nchoices = [\"x\", \"y\"]\n[input.l]\nunit = \"1\"\nlist = \"1..\"\n[input.warm]\nunit = \"degC\"\n";

fn same(a: f64, b: f64) -> bool {
    a.to_bits() == b.to_bits() || (a.is_nan() && b.is_nan())
}

/// Once printed as `1.x`, which reads as a number.
#[test]
fn a_field_of_a_number_prints_back() {
    fuzz_formula("1 . x < not 2.5");
    fuzz_formula("1e3 . \u{e4}");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 600, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn templates_and_trees_give_the_same_bits(
        choices in prop::collection::vec(any::<u8>(), 0..60),
        (a, b, flag, kind) in (-3.0..3.0f64, 0.0..0.02f64, 0..2u8, 0..2u8),
        (list, warm) in (prop::collection::vec(-2.0..2.0f64, 1..5), 263.15..333.15f64),
    ) {
        let formula = Writer { choices: &choices, at: 0 }.number(4);
        let text = format!("{INPUTS}[equation.r]\nunit = \"1\"\nis = \"{formula}\"\n");
        let (calc, mut diags) = parse("p", "p.toml", &text);
        diags.extend(check(&calc, &()));
        diags.retain(tare_diag::Diag::is_error);
        prop_assert!(diags.is_empty(), "{formula}: {diags:?}");

        let shape = Shape { given: vec![Some(1), Some(1), Some(1), Some(1), Some(list.len()), Some(1)] };
        let lowered = lower(&calc, &(), &shape).unwrap();
        let scalars = [a, b, f64::from(flag), f64::from(kind), f64::NAN, warm];
        let mut leaves = Vec::new();
        for param in &lowered.params {
            let tare_calc::ParamKind::Input(i) = param.what else { panic!("an unexpected parameter") };
            leaves.push(param.element.map_or(scalars[i], |e| list[e]));
        }
        let mut graph = Graph::default();
        let nodes: Vec<u32> = leaves.iter().map(|_| graph.leaf()).collect();
        let base = graph.instantiate(&lowered.template, &nodes);
        let mut values = Vec::new();
        eval_point(&graph, &leaves, &mut values);
        let operand = lowered.line("r").unwrap().values[0];
        let got = match operand {
            Operand::Param(p) => leaves[p as usize],
            Operand::Inner(i) => values[(base + i) as usize],
        };

        let env = |name: &str| Some(match name {
            "a" => Known::Number(a),
            "b" => Known::Number(b),
            "flag" => Known::Number(f64::from(flag)),
            "kind" => Known::Text(["x", "y"][usize::from(kind)].to_owned()),
            "l" => Known::List(list.clone()),
            "warm" => Known::Number(warm),
            _ => return None,
        });
        let reference = evaluate(&calc.equations[0].formula, &env).unwrap();
        prop_assert!(same(got, reference), "{formula}: template {got:e}, tree {reference:e}");

        // the explanation's own text, values put in for names, recomputes to the same bits
        let shown = calc.equations[0].formula.print_with(|name| match name {
            "a" => Some(format!("{a}")),
            "b" => Some(format!("{b} [m]")),
            "flag" => Some(if flag == 1 { "true" } else { "false" }.to_owned()),
            "kind" => Some(format!("'{}'", ["x", "y"][usize::from(kind)])),
            _ => None,
        });
        let (tree, problems) = parse_formula(&shown);
        prop_assert!(problems.is_empty(), "{shown}: {problems:?}");
        let env = |name: &str| match name {
            "l" => Some(Known::List(list.clone())),
            "warm" => Some(Known::Number(warm)),
            _ => None,
        };
        let again = evaluate(&tree, &env).unwrap();
        prop_assert!(same(again, reference), "{shown}: {again:e}, not {reference:e}");
    }

    #[test]
    fn any_text_is_read_without_panic(text in "\\PC{0,80}") {
        fuzz_formula(&text);
        fuzz_file(&text);
    }

    #[test]
    fn any_row_of_tokens_is_read_without_panic(tokens in prop::collection::vec(
        prop::sample::select(vec![
            "1", "2.5", "x", "y.z", "(", ")", "+", "-", "*", "/", "^", "<", "==", "and", "or", "not", ",", "if(", "max(", "pick(",
            "[mm]", "'t'", "true", "[", "'", ".", "1e", "sum(", "\u{e4}", "3 [degC]", " ",
        ]), 0..30))
    {
        fuzz_formula(&tokens.concat());
        fuzz_formula(&tokens.join(" "));
    }

    #[test]
    fn any_bytes_are_read_without_panic(bytes in prop::collection::vec(any::<u8>(), 0..200)) {
        let text = String::from_utf8_lossy(&bytes);
        fuzz_formula(&text);
        fuzz_file(&text);
    }

    #[test]
    fn a_valid_file_with_pieces_moved_is_read_without_panic(
        which in 0..7usize,
        edits in prop::collection::vec((any::<prop::sample::Index>(), any::<prop::sample::Index>(), 0..12usize, 0..4u8), 1..4),
    ) {
        let mut text: Vec<char> = FILES[which].chars().collect();
        for (at, other, length, kind) in edits {
            let at = at.index(text.len());
            let end = (at + length).min(text.len());
            let from = other.index(text.len());
            let piece: Vec<char> = text[from..(from + length).min(text.len())].to_vec();
            match kind {
                0 => { text.drain(at..end); }
                1 => { text.splice(at..at, piece); }
                2 => { text.splice(at..end, piece); }
                _ => { text.splice(at..at, "\"'[(0".chars()); }
            }
            if text.is_empty() { text.push(' '); }
        }
        let text: String = text.into_iter().collect();
        fuzz_file(&text);
    }
}

const FILES: [&str; 7] = [
    include_str!("suite/good/moulding.toml"),
    include_str!("suite/good/lists.toml"),
    include_str!("suite/good/tables.toml"),
    include_str!("suite/good/points.toml"),
    include_str!("suite/good/blank.toml"),
    include_str!("suite/good/purchase.toml"),
    include_str!("suite/bad/tables.toml"),
];
