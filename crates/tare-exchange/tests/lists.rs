//! Small invented lists, one oddity each: what a proposal makes of them.

use tare_exchange::*;

mod common;
use common::*;

#[track_caller]
fn take_file(name: &str, bytes: &[u8]) -> Proposal {
    let book = read(&Source { name, bytes }).expect("the file is readable");
    propose(&book, &Hints::default()).expect("the file is a parts list")
}

fn codes(p: &Proposal) -> Vec<&str> {
    p.warnings.iter().map(|w| w.code).collect()
}

fn refusal(text: &str) -> String {
    propose(&book(text), &Hints::default()).expect_err("this is no parts list")[0].message.clone()
}

fn name(p: &Proposal, i: usize) -> &str {
    p.rows[i].name.as_ref().map_or("", |n| n.value.as_str())
}

#[test]
fn a1_tables_beside_and_under_each_other() {
    let p = take(
        "Invented machine,,,,,\n\
         contact: none,,,,,\n\
         ,,,,,\n\
         Screws:,,,,Plates:,\n\
         Name,Qty,,,Name,Qty\n\
         M3,4,,,Left,1\n\
         M4,6,,,Right,1\n\
         ,,,,Base,2\n\
         Other:,,,,Lid,1\n\
         Type,Link,Quantity,,Rim,1\n\
         Hose,none,2,,Foot,4\n",
    );
    assert_eq!(p.by_table, [10.0, 2.0, 10.0], "{:?}", p.tables);
    assert_eq!(p.tables.iter().map(|t| t.title.as_deref().unwrap_or("")).collect::<Vec<_>>(), ["Screws", "Other", "Plates"]);
    assert_eq!(p.skipped.len(), 2, "{:?}", p.skipped);
}

#[test]
fn a2_what_is_no_parts_list_is_refused_in_one_sentence() {
    for (text, why) in [
        ("Part,Cut length,Stock length,Qty\nRail,300,1000,4\n", "cut plan"),
        ("Name,Status,Due date\nBuy screws,open,Monday\n", "task list"),
        ("Item,Cost\nMaterial,300\nLabour,200\nOverhead,50\n", "cost summary"),
        ("Item,Mass,Margin,CG\nHull,300,10,1\n", "mass model"),
        ("remember to order screws\nand glue\n", "note"),
        ("1,2,3\n4,5,6\n", "titles"),
    ] {
        let said = refusal(text);
        assert!(said.starts_with("nothing is imported") && said.contains(why), "{text}: {said}");
    }
}

#[test]
fn a3_titles_lie_repeat_or_are_missing() {
    let p = take("\u{feff}Bezeichnung;Menge ;Link;\nFuß;4;2,50 €;https://example.org/a\nRad;2;12,00 €;https://example.org/b\n");
    assert_eq!(p.rows[0].price.as_ref().and_then(|p| p.value), Some(2.5));
    assert_eq!(p.rows[0].price.as_ref().and_then(|p| p.currency.clone()).as_deref(), Some("EUR"));
    assert_eq!(
        p.rows[1].link.as_ref().map(|l| l.value.as_str()),
        Some("https://example.org/b"),
        "an untitled column of addresses"
    );
    assert!(codes(&p).contains(&"column-lies"));
    let p = take("Name,Qty,Qty bought\nScrew,18,25\n");
    assert_eq!((p.rows[0].quantity.value, p.rows[0].bought.as_ref().and_then(|b| b.value)), (Some(18.0), Some(25.0)));
    let p = take("Name,Qty,Multiplier\nScrew,4,3\n");
    assert_eq!(p.rows[0].quantity.value, Some(12.0));
}

#[test]
fn a4_a_merged_mass_is_not_repeated_and_stale_text_stays_hidden() {
    let p = take_file("merged.xlsx", include_bytes!("fixtures/merged.xlsx"));
    assert_eq!(p.rows[0].mass.as_ref().map(|m| (m.value, m.per)), Some((Some(120.5), Per::Group)));
    assert!(p.rows[1].mass.is_none(), "{:?}", p.rows[1].mass);
    assert!(p.warnings.iter().any(|w| w.code == "hidden-under-merge" && w.message.contains("999")));
    assert!(codes(&p).contains(&"merged-value"));
}

#[test]
fn a5_the_number_style_is_decided_by_the_column_or_asked() {
    let p = take("Name;Qty;Mass (g)\nA;1;1.234\nB;1;12,5\n");
    assert_eq!(p.rows[0].mass.as_ref().and_then(|m| m.value), Some(1234.0));
    let text = "Name;Qty;Mass (g)\nA;1;1,234\nB;1;2,500\n";
    let p = take(text);
    assert_eq!(p.rows[0].mass.as_ref().and_then(|m| m.value), None);
    assert_eq!(p.questions.len(), 1);
    let hints = Hints { mapping: None, answers: [(p.questions[0].id.clone(), "comma".to_owned())].into() };
    let p = propose(&book(text), &hints).expect("still a list");
    assert_eq!(p.rows[0].mass.as_ref().and_then(|m| m.value), Some(1.234));
}

#[test]
fn a6_part_numbers_are_text() {
    let p = take("Part number,Name,Qty\n00042,A,1\n100E10,B,1\n1.10,C,1\n1.1,D,1\n12345678901234567890,E,1\n");
    let numbers: Vec<&str> = p.rows.iter().map(|r| r.part_number.as_ref().map_or("", |n| n.value.as_str())).collect();
    assert_eq!(numbers, ["00042", "100E10", "1.10", "1.1", "12345678901234567890"]);
    let p = take_file("merged.xlsx", include_bytes!("fixtures/merged.xlsx"));
    let numbers: Vec<&str> = p.rows.iter().map(|r| r.part_number.as_ref().map_or("", |n| n.value.as_str())).collect();
    assert_eq!(numbers, ["00042", "7", "1.10"], "as the workbook's own format shows them");
    let p = take_file("old.xls", include_bytes!("fixtures/old.xls"));
    assert_eq!(p.rows[0].part_number.as_ref().map(|n| n.value.as_str()), Some("00815"));
}

#[test]
fn a7_a_date_is_read_back_only_when_arithmetic_proves_it() {
    let p = take_file("merged.xlsx", include_bytes!("fixtures/merged.xlsx"));
    let price = p.rows[1].price.as_ref().expect("a price");
    assert_eq!(price.value, Some(5.6), "3 x 5.6 = 16.8");
    assert!(price.origin.rule.contains("proved"));
    let p = take("Name,Qty,Price\nA,3,05. Jun\nB,1,2.50 €\n");
    assert_eq!(p.rows[0].price.as_ref().and_then(|p| p.value), None);
    assert!(p.questions.iter().any(|q| q.choices.iter().any(|c| c.0 == "5.6")));
}

#[test]
fn a8_formulas_without_or_with_stale_values_are_recomputed() {
    let p = take_file("merged.xlsx", include_bytes!("fixtures/merged.xlsx"));
    assert_eq!(p.rows[0].line_price.as_ref().and_then(|p| p.value), Some(11.2), "no value was stored");
    assert!(p.changed.iter().any(|c| c.cell.cell == "G2" && c.cell.rule.contains("recomputed")));
}

#[test]
fn a9_totals_are_checks() {
    let p = take_file("merged.xlsx", include_bytes!("fixtures/merged.xlsx"));
    let t = &p.totals[0];
    assert_eq!((t.stated, t.recomputed, t.by_formula, t.verdict), (Some(9.0), Some(6.0), Some(5.0), Verdict::Differs));
    assert!(t.says.contains("leaves out row 4"), "{}", t.says);
    let rounded = take("Name,Qty,Mass (kg)\nA,1,100.05\nB,1,154.00\nTotal,,250\n");
    assert_eq!(rounded.totals[0].verdict, Verdict::Rounded, "{}", rounded.totals[0].says);
    let wrong = take("Name,Qty,Mass (kg)\nA,1,100.05\nB,1,154.00\nTotal,,251\n");
    assert_eq!(wrong.totals[0].verdict, Verdict::Differs);
    let steps = take("Name,Qty\nA,1\nB,2\nSubtotal,3\nC,4\nSubtotal,4\nGrand total,7\n");
    assert_eq!((steps.parts, steps.total_quantity), (3, 7.0));
    assert!(steps.totals.iter().all(|t| t.verdict == Verdict::Agrees), "{:?}", steps.totals);
    assert_eq!(take("Name,Qty\nTotal station,1\nTripod,1\n").parts, 2);
}

#[test]
fn a10_kinds_of_quantity_are_kept_apart() {
    let p = take(
        "Name,Qty,Notes\nScrew,4x 10pcs M5,\nWire,6,metres of it\nPaste,20 g,\nKit,1 set,\nRail,2 rails + 4 carriages,\nGlue,TBD,\nNut,2x M2 x 0.4 mm,\n",
    );
    assert_eq!(p.by_kind.get(&QuantityKind::Pieces), Some(&48.0));
    assert_eq!(p.by_kind.get(&QuantityKind::Length), Some(&6.0));
    assert_eq!(p.by_kind.get(&QuantityKind::Mass), Some(&20.0));
    assert_eq!(p.by_kind.get(&QuantityKind::Set), Some(&1.0));
    assert!(codes(&p).contains(&"quantity-two-things") && codes(&p).contains(&"quantity-unknown"));
    assert_eq!(p.parts, 7);
}

#[test]
fn a11_prices_say_only_what_is_said() {
    let p = take(
        "All prices in EUR incl. something\n\nName,Qty,Unit price excl. VAT,Total price\nA,10,2.50,25.00\nB,4,5.00 for 4 pcs,5.00\nShipping,1,,9.90\n",
    );
    let a = p.rows[0].price.as_ref().expect("a price");
    assert_eq!((a.currency.as_deref(), a.per, a.tax), (Some("EUR"), Per::Piece, Tax::Excluded));
    assert_eq!(p.rows[1].price.as_ref().map(|p| p.per), Some(Per::Pack(4.0)));
    assert_eq!(p.parts, 2);
    assert!(p.skipped.iter().any(|s| s.why.contains("postage")));
    let p = take("Name,Qty,Price\nA,1,$3.50\nB,1,$4.25\n");
    assert_eq!(p.rows[0].price.as_ref().and_then(|p| p.currency.clone()), None);
    assert!(codes(&p).contains(&"currency-unknown"));
    let p = take("Name,Qty,Unit price,Line price\nA,10,2.50,24.00\n");
    assert!(codes(&p).contains(&"price-line-differs"));
}

#[test]
fn a12_hierarchy_in_many_dresses() {
    let parents = |p: &Proposal| p.rows.iter().map(|r| r.parent).collect::<Vec<_>>();
    let form = |p: &Proposal| p.mapping.tables[0].hierarchy;
    let p = take("Pos,Name,Qty\n1,Arm,1\n1.1,Tube,2\n1.10,Cap,4\n2,Foot,1\n");
    assert_eq!((form(&p), parents(&p)), (Hierarchy::Dotted, vec![None, Some(0), Some(0), None]));
    let p = take("Level,Name,Qty\n1,Arm,1\n2,Tube,2\n3,Plug,1\n2,Cap,4\n");
    assert_eq!((form(&p), parents(&p)), (Hierarchy::LevelColumn, vec![None, Some(0), Some(1), Some(0)]));
    let p = take("Name,Qty\nArm,1\n  Tube,2\n    Plug,1\n  Cap,4\nFoot,1\n");
    assert_eq!((form(&p), parents(&p)), (Hierarchy::Indent, vec![None, Some(0), Some(1), Some(0), None]));
    let p = take("Path,Name,Qty\nRobot/Arm,Tube,2\nRobot/Foot,Pad,1\n");
    assert_eq!(
        (form(&p), p.groups.iter().map(|g| g.name.as_str()).collect::<Vec<_>>()),
        (Hierarchy::PathCell, vec!["Robot", "Arm", "Foot"])
    );
    let p = take("Level 1,Level 2,Level 3,Qty\nRobot,Arm,Tube,2\n,,Cap,4\n,Foot,Pad,1\n");
    assert_eq!((form(&p), name(&p, 1), p.groups.len()), (Hierarchy::PathColumns, "Cap", 3));
    assert_eq!(p.rows[2].group.map(|g| p.groups[g].name.as_str()), Some("Foot"));
    let p = take("Assembly,Name,Qty\nArm,Tube,2\n,Cap,4\nFoot,Pad,1\n");
    assert_eq!((form(&p), p.rows[1].group), (Hierarchy::GroupColumn, p.rows[0].group));
    let p = take("Name,Type,Qty\nArm,,\nTube,round,2\nFoot,,\nPad,soft,1\n");
    assert_eq!((form(&p), p.counts.sections, p.parts), (Hierarchy::Sections, 2, 2));
    let p = take("Name,Qty,Mass (g)\nArm,1,60\nTube,1,10\nCap,1,20\nPin,1,30\nFoot,1,7\n");
    assert!(p.questions.iter().any(|q| q.id.starts_with("contains")), "a row equals the sum of the next");
}

#[test]
fn a13_assemblies_and_their_parts_are_not_both_counted() {
    let text = "Pos,Name,Qty,Mass (g)\n1,Arm,1,50\n1.1,Tube,2,20\n1.2,Cap,1,10\n";
    let p = take(text);
    assert_eq!((p.parts, p.total_quantity, p.counts.assemblies), (2, 3.0, 1));
    assert!(codes(&p).contains(&"both-levels") && p.questions.iter().any(|q| q.id == "assemblies"));
    let hints = Hints { mapping: None, answers: [("assemblies".to_owned(), "assembly".to_owned())].into() };
    assert_eq!(propose(&book(text), &hints).expect("a list").parts, 1);
}

#[test]
fn a13_quantities_below_a_repeated_assembly_are_asked_about() {
    let text = "Pos,Name,Qty\n1,Leg,4\n1.1,Foot,1\n1.1.1,Pad,2\n";
    let p = take(text);
    assert!(p.questions.iter().any(|q| q.id == "quantity-basis"));
    assert_eq!(p.total_quantity, 2.0, "as written until answered");
    let hints = Hints { mapping: None, answers: [("quantity-basis".to_owned(), "assembly".to_owned())].into() };
    assert_eq!(propose(&book(text), &hints).expect("a list").total_quantity, 8.0);
}

#[test]
fn a14_alternatives_options_and_spares_are_not_added() {
    let p =
        take("Name,Qty,Note\nMotor A,1,\nMotor B,1,alternative to the one above\nLamp (optional),1,\nFuse,3,spare\nFrame,1,\n");
    assert_eq!((p.parts, p.total_quantity), (2, 2.0));
    assert_eq!((p.counts.alternatives, p.counts.optional), (1, 2));
    assert_eq!(p.rows[0].alternative, p.rows[1].alternative);
}

#[test]
fn a15_the_encoding_is_decided_and_stated() {
    for (bytes, certain, says) in [
        (&b"\xEF\xBB\xBFName,Menge\nFu\xC3\x9F,1\n"[..], true, "byte-order mark"),
        (&b"Name,Menge\nFu\xC3\x9F,1\n"[..], true, "strict UTF-8"),
        (&b"Name,Menge\nFu\xDF,1\n"[..], false, "1252"),
        (&b"\xFF\xFEN\0a\0m\0e\0,\0M\0e\0n\0g\0e\0\n\0F\0u\0\xDF\0,\x001\0\n\0"[..], true, "byte-order mark"),
        (&b"Name,Menge\nFu\xC3\x9F,1\nT\xFCr,2\n"[..], false, "some lines"),
    ] {
        let book = read(&Source { name: "l.csv", bytes }).expect("readable");
        let e = book.encoding.clone().expect("decided");
        assert!(e.certain == certain && format!("{} {}", e.name, e.reason).contains(says), "{e:?}");
        assert!(certain || !book.remarks.is_empty());
        assert_eq!(
            propose(&book, &Hints::default()).expect("a list").rows[0].name.as_ref().map(|n| n.value.as_str()),
            Some("Fuß")
        );
    }
    let book = read(&Source { name: "l.csv", bytes: b"Nazwa,Ilo\x9C\xE6\n\xA3o\xBFysko,2\n" }).expect("readable");
    assert!(book.encoding.as_ref().is_some_and(|e| e.name.contains("1250")), "{:?}", book.encoding);
}

#[test]
fn a16_a_claimed_sheet_size_costs_nothing() {
    let bytes = include_bytes!("fixtures/claims.ods");
    let book = read(&Source { name: "claims.ods", bytes }).expect("readable");
    assert_eq!(book.cell_count(), 8);
    let p = propose(&book, &Hints::default()).expect("a list");
    assert_eq!((p.parts, p.total_quantity, name(&p, 0)), (2, 5.0, "Pump head"));
    assert_eq!(p.totals[0].verdict, Verdict::Agrees);
}

#[test]
fn a17_an_invalid_colour_refuses_nothing() {
    assert_eq!(take_file("merged.xlsx", include_bytes!("fixtures/merged.xlsx")).parts, 3);
}

#[test]
fn a18_old_workbooks_ragged_rows_and_other_separators() {
    let p = take_file("old.xls", include_bytes!("fixtures/old.xls"));
    assert_eq!((p.parts, p.total_quantity), (2, 3.0));
    assert_eq!(p.rows[0].mass.as_ref().and_then(|m| m.kg), Some(2.25));
    assert_eq!(p.totals.len(), 1);
    let p = take("Name\tQty\tNote\nPipe 1/2\"\t2\nRod\t3\ta\tb\nPlug\t1\tx\n");
    assert_eq!((p.parts, p.total_quantity, name(&p, 0)), (3, 6.0, "Pipe 1/2\""));
    assert_eq!(codes(&p).iter().filter(|c| **c == "row-ragged").count(), 2);
}

#[test]
fn a19_every_value_points_back_to_its_cell() {
    let p = take("Part number,Name,Qty,Material,Mass (g)\nX-1,Arm,2x,steel,12\n");
    let r = &p.rows[0];
    let cells = [
        &r.part_number.as_ref().expect("number").origin,
        &r.name.as_ref().expect("name").origin,
        &r.quantity.origin,
        &r.material.as_ref().expect("material").origin,
        &r.mass.as_ref().expect("mass").origin,
    ];
    assert_eq!(cells.map(|o| o.cell.as_str()), ["A2", "B2", "C2", "D2", "E2"]);
    assert_eq!((r.quantity.origin.raw.as_str(), r.quantity.origin.rule.as_str()), ("2x", "number before the first cross"));
    assert!(cells.iter().all(|o| o.file == "list.csv" && !o.rule.is_empty()));
    assert_eq!(p.sha256.len(), 64);
}

#[test]
fn a20_a_revision_shows_what_is_new_gone_and_changed() {
    let old = take("Part number,Name,Qty\nP1,Arm,1\nP2,Foot,4\nP3,Cap,2\n").row_keys();
    let new = take("Part number,Name,Qty\nP1,Arm,1\nP2,Foot,6\nP4,Lid,1\n");
    let r = compare_revision(&old, &new);
    assert_eq!((r.same, r.new.as_slice(), r.gone.as_slice()), (1, &[2][..], &[2][..]));
    assert_eq!(r.changed[0].fields, [("quantity".to_owned(), "4".to_owned(), "6".to_owned())]);
}

#[test]
fn a21_private_data_is_named() {
    let p = take("Name,Qty,Note\nArm,1,ask jo@example.org\nFoot,1,C:\\Users\\jo\\foot.stp\n");
    assert_eq!(codes(&p).iter().filter(|c| **c == "private-data").count(), 2);
}

#[test]
fn b_units_are_checked_against_each_other() {
    let p = take("Name,Qty,Mass (kg)\nA,1,1.2 kg (2.65 lb)\nB,1,1.2 kg (3.65 lb)\nC,1,300 g\n");
    assert_eq!(codes(&p).iter().filter(|c| **c == "units-disagree").count(), 1);
    assert_eq!(codes(&p).iter().filter(|c| **c == "mass-unit-differs").count(), 1);
    let m = p.rows[2].mass.as_ref().expect("a mass");
    assert_eq!((m.value, m.unit.as_str(), m.kg), (Some(300.0), "g", Some(0.3)));
}

#[test]
fn a_mapping_is_remembered_by_its_titles_and_a_proposal_survives_storage() {
    let text = "Name,Qty,Stuff\nArm,1,steel\n";
    let mut mapping = take(text).mapping;
    mapping.tables[0].columns[2].meaning = Meaning::Material;
    let hints = Hints { mapping: Some(mapping.clone()), ..Hints::default() };
    let p = propose(&book("title\n\n name ,QTY,Stuff\nFoot,2,brass\n"), &hints).expect("a list");
    assert_eq!(p.rows[0].material.as_ref().map(|m| m.value.as_str()), Some("brass"));
    assert_eq!(p.mapping.fingerprint(), mapping.fingerprint());
    let stored = serde_json::to_string(&p).expect("writes");
    let back: Proposal = serde_json::from_str(&stored).expect("reads");
    assert_eq!(serde_json::to_string(&back).expect("writes"), stored);
    let other = propose(&book("Name,Menge\nFoot,2\n"), &hints).expect("a list");
    assert!(codes(&other).contains(&"mapping-unused"));
}

#[test]
fn b3_a_mass_wrong_by_a_thousand_is_doubted() {
    let p = take("Name,Qty,Mass (g)\nTraction cell NMC,96,1.07\nBattery cell,4,45\nCell holder,2,1\n");
    assert_eq!(codes(&p).iter().filter(|c| **c == "mass-implausible").count(), 1);
}

#[test]
fn a6_a_dotted_number_stored_as_a_number_gets_its_zero_back() {
    let mut cells = vec![Cell::text(0, 0, "Pos"), Cell::text(0, 1, "Name"), Cell::text(0, 2, "Qty")];
    for (i, n) in [1.0, 1.1, 1.8, 1.9, 1.1, 1.11].into_iter().enumerate() {
        let row = i as u32 + 1;
        for (column, value) in [(0, n), (2, 1.0)] {
            let mut c = Cell::text(row, column, value.to_string());
            (c.kind, c.number) = (CellKind::Number, Some(value));
            cells.push(c);
        }
        cells.push(Cell::text(row, 1, format!("Part {i}")));
    }
    let mut b = book("x,y\n");
    b.sheets = vec![Sheet::new("S", false, cells, Vec::new())];
    let p = propose(&b, &Hints::default()).expect("a list");
    let labels: Vec<&str> = p.rows.iter().map(|r| r.label.as_ref().map_or("", |l| l.value.as_str())).collect();
    assert_eq!(labels, ["1", "1.1", "1.8", "1.9", "1.10", "1.11"]);
    assert_eq!((p.changed.len(), p.changed[0].cell.cell.as_str(), p.changed[0].became.as_str()), (1, "A6", "1.10"));
}

#[test]
fn answers_are_obeyed() {
    let text = "Name,Qty,Mass (g),Price\nArm,1,60,1\nTube,1,10,2\nCap,1,20,3\nPin,1,30,4\nFoot,1,7,5\n";
    let first = take(text);
    let mut answers: std::collections::BTreeMap<String, String> = [("currency".to_owned(), "EUR".to_owned())].into();
    let id = first.questions.iter().find(|q| q.id.starts_with("contains")).expect("asked").id.clone();
    answers.insert(id, "yes".to_owned());
    let p = propose(&book(text), &Hints { mapping: None, answers }).expect("a list");
    assert_eq!((p.parts, p.counts.assemblies, p.questions.len()), (4, 1, 0), "{:?}", p.questions);
    assert!(p.rows.iter().all(|r| r.price.as_ref().and_then(|p| p.currency.as_deref()) == Some("EUR")));
}

#[test]
fn places_on_a_board_are_counted_and_marks_are_not() {
    let p =
        take("Designator,Value,Footprint,DNP\n\"C1, C2, C3\",100n,0805,\nR1,10k,0603,x\nFID1,mark,round,\nSJ1,bridge,pads,\n");
    assert_eq!((p.rows[0].quantity.value, p.parts, p.total_quantity), (Some(3.0), 1, 3.0));
    assert_eq!((p.counts.not_components, p.counts.not_fitted, p.distinct.len()), (2, 1, 4));
}

#[test]
fn totals_may_hold_postage_and_units() {
    let p = take(
        "Pos.;Bezeichnung;Menge;Einheit;Gesamtpreis\n1;Blech;2;Stk;25,00 €\n2;Kabel;3,5;m;1.200,00 €\n;Versand;;;9,90 €\n;Summe;;;1.234,90 €\n",
    );
    assert_eq!((p.totals[0].stated, p.totals[0].verdict), (Some(1234.9), Verdict::Agrees), "{}", p.totals[0].says);
    let p = take("#,Component,Quantity,Unit Weight,Total Weight\n1,Cell,12,45g,540g\n2,Busbar,4,10 g,40 g\n,,,,580 g\n");
    assert_eq!((p.totals[0].stated, p.totals[0].verdict), (Some(580.0), Verdict::Agrees), "{}", p.totals[0].says);
}

#[test]
fn a_lone_name_is_asked_about_where_it_may_be_a_section() {
    let text = "Part,Qty\nBoard,1\nMechanics,\nBolt,4\n";
    let p = take(text);
    let q = p.questions.iter().find(|q| q.id.starts_with("section")).expect("asked");
    assert_eq!(p.parts, 3);
    let hints = Hints { mapping: None, answers: [(q.id.clone(), "section".to_owned())].into() };
    let p = propose(&book(text), &hints).expect("a list");
    assert_eq!((p.parts, p.counts.sections), (2, 1));
}

#[test]
fn rate_books_and_quotes() {
    let r = propose_rates(&book(
        "Invented rates\n\nWhat;Value;Unit;Source;Date;Place;From;To\nfitter;48,50 EUR;h;own;2024-05;north;;\nplate;1.234,00 €;t;quote 7;2024;south;10;99\n",
    ));
    assert_eq!(r.rates.len(), 2);
    assert_eq!(
        (r.rates[0].value, r.rates[0].currency.as_deref(), r.rates[0].unit.as_deref()),
        (Some(48.5), Some("EUR"), Some("h"))
    );
    assert_eq!((r.rates[1].value, r.rates[1].quantity_from, r.rates[1].quantity_to), (Some(1234.0), Some(10.0), Some(99.0)));
    assert_eq!(r.rates[1].origin.cell, "B5");
    assert!(propose_rates(&book("a,b\n1,2\n")).warnings.iter().any(tare_diag::Diag::is_error));
}
