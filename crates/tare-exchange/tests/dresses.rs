//! The same oddities in other dresses: other languages, marks, layouts and containers than the first fixtures.

use tare_exchange::*;

mod common;
use common::*;

#[track_caller]
fn answered(text: &str, id: &str, answer: &str) -> Proposal {
    let hints = Hints { mapping: None, answers: [(id.to_owned(), answer.to_owned())].into() };
    propose(&book(text), &hints).expect("the text is a parts list")
}

#[track_caller]
fn take_file(name: &str, bytes: &[u8]) -> Proposal {
    propose(&read(&Source { name, bytes }).expect("the file is readable"), &Hints::default()).expect("the file is a parts list")
}

fn codes(p: &Proposal) -> Vec<&str> {
    p.warnings.iter().map(|w| w.code).collect()
}

fn meanings(p: &Proposal) -> Vec<Meaning> {
    p.mapping.tables[0].columns.iter().map(|c| c.meaning).collect()
}

fn names(p: &Proposal) -> Vec<&str> {
    p.rows.iter().map(|r| r.name.as_ref().map_or("", |n| n.value.as_str())).collect()
}

fn parents(p: &Proposal) -> Vec<Option<usize>> {
    p.rows.iter().map(|r| r.parent).collect()
}

/// The names of the groups around a row, outermost first.
fn path(p: &Proposal, row: usize) -> String {
    let mut out = Vec::new();
    let mut at = p.rows[row].group;
    while let Some(g) = at {
        out.insert(0, p.groups[g].name.as_str());
        at = p.groups[g].parent;
    }
    out.join("/")
}

#[test]
fn a_german_list_with_subtotals_carried_lines_and_tax() {
    let p = take(
        "Stückliste Prüfstand;;;;;;;\n\
         Bearbeiter: niemand;;;;;;;\n\
         Pos.;Sachnr.;Benennung;Menge;ME;Gewicht [kg];E-Preis (€);G-Preis (€)\n\
         10;0004711;Gehäuse;1;Stk;1.234,500;1.250,00;1.250,00\n\
         20;0004712;Welle;2;Stk;12,750;85,50;171,00\n\
         ;;;;;Zwischensumme;;1.421,00\n\
         40;0004714;Schlauch;2,5;m;0,200;4,00;10,00\n\
         ;;;;;Übertrag von Seite 1;;1.431,00\n\
         ;;zzgl. 19 % MwSt;;;;;271,89\n\
         ;;Gesamtsumme brutto;;;;;1.702,89\n",
    );
    use Meaning as M;
    assert_eq!(meanings(&p), [M::Position, M::PartNumber, M::Name, M::Quantity, M::Unit, M::Mass, M::Price, M::PriceLine]);
    assert_eq!((p.parts, p.rows[0].mass.as_ref().and_then(|m| m.kg)), (3, Some(1234.5)));
    assert_eq!(p.totals.len(), 3);
    assert!(p.totals.iter().all(|t| t.verdict == Verdict::Agrees), "{:?}", p.totals);
    assert_eq!(p.tables[0].title, None, "a line that names its author is no title");
    assert!(p.skipped.iter().any(|s| s.why.contains("tax")));
}

#[test]
fn titles_mean_what_their_head_says() {
    use Meaning as M;
    let first = |title: &str, cells: [&str; 2]| {
        let p = take(&format!("Name,Qty,{title}\nA,2,{}\nB,3,{}\n", cells[0], cells[1]));
        p.mapping.tables[0].columns[2].meaning
    };
    for (title, meaning) in [
        ("Material cost", M::Price),
        ("Einkaufspreis", M::Price),
        ("Stückgewicht", M::Mass),
        ("Masse ges. [g]", M::MassLine),
        ("Cena netto [zł]", M::Price),
        ("Importe", M::PriceLine),
        ("Anzahl Geräte", M::Multiplier),
        ("No. of assemblies", M::Multiplier),
        ("Bestellt", M::QuantityBought),
        ("Price qty 100", M::Price),
    ] {
        assert_eq!(first(title, ["1", "2"]), meaning, "{title}");
    }
    assert_eq!(first("Supplier name", ["one", "two"]), M::Supplier);
    assert_eq!(first("Supplier part number", ["S-1", "S-2"]), M::PartNumber);
    let p = take(
        "Lp.;Nazwa części;Ilość szt.;Materiał;Masa jednostkowa [g];Uwagi\n1;Śruba M6;4;stal;5,2;\n2;Korpus;1;PETG;145,0;\nRazem;;5;;;\n",
    );
    assert_eq!(meanings(&p), [M::Position, M::Name, M::Quantity, M::Material, M::Mass, M::Note]);
    assert_eq!((p.parts, p.totals[0].verdict), (2, Verdict::Agrees));
}

#[test]
fn titles_over_two_rows_and_units_below_them() {
    let p = take_file("double.xlsx", include_bytes!("fixtures/double.xlsx"));
    let titles: Vec<&str> = p.mapping.tables[0].columns.iter().map(|c| c.title.as_str()).collect();
    assert_eq!(titles, ["Part Number", "Part Name", "Cost Unit", "Cost Total", "Qty"]);
    assert_eq!((p.parts, p.total_quantity), (2, 6.0));
    assert_eq!(p.rows[0].line_price.as_ref().and_then(|l| l.value), Some(5.0));
    assert_eq!(p.rows[0].supplier.as_ref().map(|s| s.value.as_str()), None);
    let p = take("Bezeichnung;Menge;Gewicht;Preis\n;[Stk];[kg];€/Stk\nArm;2;0,5;3,20\nFuß;4;0,25;1,00\n");
    assert_eq!((p.parts, p.rows[1].mass.as_ref().and_then(|m| m.kg)), (2, Some(0.25)));
    assert_eq!(p.rows[0].price.as_ref().and_then(|p| p.currency.as_deref()), Some("EUR"));
}

#[test]
fn columns_that_lie_or_say_nothing_are_read_by_their_content() {
    use Meaning as M;
    let p = take("Name,Qty,Weight\nA,1,$2.50\nB,2,$3.10\n");
    assert_eq!((p.mapping.tables[0].columns[2].meaning, codes(&p).contains(&"column-lies")), (M::Price, true));
    let p = take(
        "Part,Qty needed,Pack of,Packs,Price per pack,Cost\nM3x8,43,50,1,4.99,4.99\nM3 nut,120,100,2,3.50,7.00\nTotal,,,,,11.99\n",
    );
    assert_eq!(p.mapping.tables[0].columns[5].meaning, M::PriceLine, "packs times price");
    assert_eq!((p.rows[0].price.as_ref().map(|p| p.per), p.totals[0].verdict), (Some(Per::Pack(50.0)), Verdict::Agrees));
    let p =
        take("Item,Qty,Amount\nA,1,10.00\nB,2,20.00\nCarried forward,,30.00\nBrought forward,,30.00\nC,1,5.00\nTotal,,35.00\n");
    assert_eq!((p.parts, p.total_quantity, p.totals.len()), (3, 4.0, 3));
    assert!(p.totals.iter().all(|t| t.verdict == Verdict::Agrees), "{:?}", p.totals);
    let p = take("Part No.,Name,Qty\nA100,Frame,1\nA110,Tube,4\nA120,Plate,2\n");
    assert_eq!(p.mapping.tables[0].columns[0].meaning, M::PartNumber, "no places, for nothing else is of a circuit board");
}

#[test]
fn depth_over_columns() {
    let tree = [None, Some(0), Some(1), Some(0)];
    let staircase = take("Part,,,Qty\nPump,,,1\n,Housing,,1\n,,Screw,4\n,Cover,,1\n");
    assert_eq!(
        (parents(&staircase).as_slice(), names(&staircase).as_slice()),
        (&tree[..], &["Pump", "Housing", "Screw", "Cover"][..])
    );
    let numbers = take("Ebene 1;Ebene 2;Ebene 3;Benennung;Menge\n1;;;Pumpe;1\n;2;;Gehäuse;1\n;;3;Schraube;4\n;2;;Deckel;1\n");
    let marks = take("1,2,3,Name,Qty\nx,,,Pump,1\n,x,,Housing,1\n,,x,Screw,4\n,x,,Cover,1\n");
    assert_eq!((parents(&numbers).as_slice(), parents(&marks).as_slice()), (&tree[..], &tree[..]));
    let p = take(
        "Main assembly,Sub assembly,Group,Component,Qty\nVehicle,Front axle,Hub,Bearing,2\n,,,Seal,2\n,,Brake,Disc,1\n,Rear axle,Hub,Nut,1\nBody,Door,Frame,Hinge,2\n",
    );
    assert_eq!(
        (0..5).map(|i| path(&p, i)).collect::<Vec<_>>(),
        [
            "Vehicle/Front axle/Hub",
            "Vehicle/Front axle/Hub",
            "Vehicle/Front axle/Brake",
            "Vehicle/Rear axle/Hub",
            "Body/Door/Frame"
        ]
    );
}

#[test]
fn depth_by_marks_and_other_numbers() {
    let tree = [None, Some(0), Some(1), Some(0)];
    for text in [
        "Stufe,Benennung,Menge\n1,Pumpe,1\n*2,Gehäuse,1\n**3,Schraube,4\n*2,Deckel,1\n",
        "Level,Name,Qty\n*,Pump,1\n**,Housing,1\n***,Screw,4\n**,Cover,1\n",
        "Name,Qty\nPump,1\n- Housing,1\n-- Screw,4\n- Cover,1\n",
        "No,Name,Qty\n1,Pump,1\n1-1,Housing,1\n1-1-1,Screw,4\n1-2,Cover,1\n",
        "Pos;Name;Qty\nA;Pump;1\nA.1;Housing;1\nA.1.a;Screw;4\nA.2;Cover;1\n",
    ] {
        assert_eq!(parents(&take(text)), tree, "{text}");
    }
    assert_eq!(names(&take("Name,Qty\nPump,1\n- Housing,1\n-- Screw,4\n- Cover,1\n")), ["Pump", "Housing", "Screw", "Cover"]);
    let p = take("Name,Qty\n-12 V supply,1\n-5 V supply,1\nCase,1\n");
    assert_eq!((parents(&p), names(&p)[0]), (vec![None; 3], "-12 V supply"), "a minus before a number is no mark");
}

#[test]
fn totals_named_after_their_group_are_no_parts() {
    let p = take(
        "Part,Qty,Mass (g)\nMechanics,,\nBolt,4,2.5\nPlate,1,100\nTotal mechanics,5,102.5\nElectronics,,\nBoard,1,30\nCable,2,10\nTotal electronics,3,41\nGrand total,8,142.5\n",
    );
    assert_eq!((p.parts, p.total_quantity, p.totals.len()), (4, 8.0, 6));
    let wrong: Vec<f64> = p.totals.iter().filter(|t| t.verdict == Verdict::Differs).filter_map(|t| t.stated).collect();
    assert_eq!(wrong, [41.0], "{:?}", p.totals);
    assert_eq!(take("Name,Qty\nTripod,2\nTotal station,1\nSum frame,4\n").parts, 3);
}

#[test]
fn masses_are_compared_across_units() {
    let p = take("Part,Qty,Unit weight (g),Total weight (kg)\nA,10,50,0.5\nB,4,250,1\nC,1,100,0.2\nTotal,,,1.7\n");
    assert_eq!(codes(&p).iter().filter(|c| **c == "mass-line-differs").count(), 1);
    assert_eq!((p.totals[0].recomputed, p.totals[0].verdict), (Some(1.6), Verdict::Differs));
    let p = take("Name,Qty,Mass/Stk,Masse ges.\nA,2,500 g,1 kg\nB,4,0.25 kg,1000 g\nTotal,,,2 kg\n");
    assert_eq!((p.totals[0].verdict, p.rows[0].mass.as_ref().map(|m| m.per)), (Verdict::Agrees, Some(Per::Piece)));
    let p = take("Name,Qty,Mass (g)\nA,1,<5\nB,1,2\nC,1,n/a\n");
    assert_eq!(codes(&p).iter().filter(|c| **c == "value-unread").count(), 1, "a mark for not known is no slip");
}

#[test]
fn a_multiplier_is_checked_against_the_lists_own_total() {
    let p = take("Name;Stk pro Gerät;Anzahl Geräte;Bedarf;Bestellt\nRad;4;10;40;45\nAchse;2;10;30;30\n");
    assert_eq!((p.rows[0].quantity.value, p.rows[1].quantity.value), (Some(40.0), Some(20.0)));
    assert_eq!(p.rows[0].bought.as_ref().and_then(|b| b.value), Some(45.0));
    assert_eq!(codes(&p).iter().filter(|c| **c == "quantity-total-differs").count(), 1);
    let p = take("Name,Qty\nPad,2 per leg\nFoot,4\n");
    assert!(codes(&p).contains(&"quantity-per"));
}

#[test]
fn options_and_alternatives_in_other_words() {
    let counted = |p: &Proposal| p.rows.iter().map(|r| r.counted).collect::<Vec<_>>();
    let p = take(
        "Name,Qty,Remark\nMotor A,1,\nor Motor B,1,\nLamp,1,(option)\nFuse,2,Ersatzteil\nCover,1,either this or Cover X\nCover X,1,or this\nStand [optional],1,\nBag - optional,1,\n",
    );
    assert_eq!(counted(&p), [true, false, false, false, true, false, false, false]);
    let p = take(
        "Name,Qty,Note\nBearing,2,or similar\nMotor,1,oder gleichwertig\nBelt,1,alternatively use a 200 mm belt\nScrew or nail,4,\n",
    );
    assert_eq!(counted(&p), [true; 4], "what says how particular one is takes nothing away");
    let p = take("Teil;Menge;Bemerkung\nSicherung;1;\nDeckel alt.;1;alternativ zu Deckel\nDeckel;1;\n");
    assert_eq!(counted(&p), [true, false, true], "the note names its counterpart, which stands below");
    let p = take("Name,Qty,Optional,Spare\nA,1,,\nB,1,x,\nC,2,,x\nD,2,no,\n");
    assert_eq!(counted(&p), [true, false, false, true]);
}

#[test]
fn boards_in_other_dresses() {
    let p = take(
        "Reference,Value,Footprint,DNP\n\"R1,R2\",10k,0603,\nC1,100n,0402,DNP\nU1,MCU,QFN,excluded from BOM\nTP1,TestPoint,TP,\nH1,MountingHole,MH,\nR3-R6,4k7,0603,\n",
    );
    assert_eq!((p.parts, p.total_quantity), (2, 6.0), "a run of places is counted out");
    assert_eq!((p.counts.not_components, p.counts.not_fitted), (2, 2));
    assert_eq!(p.rows[5].designators, ["R3", "R4", "R5", "R6"]);
    let p = take("Designator,Comment,Footprint,Fitted\nR1,10k,0603,Fitted\nR2,10k,0603,Not Fitted\nC1,1u,0402,no\n");
    assert_eq!((p.parts, p.rows[0].value.as_ref().map(|v| v.value.as_str())), (1, Some("10k")));
}

#[test]
fn words_merged_over_rows_hold_for_all_of_them_numbers_do_not() {
    let p = take_file("merged-words.xlsx", include_bytes!("fixtures/merged-words.xlsx"));
    let suppliers: Vec<&str> = p.rows.iter().map(|r| r.supplier.as_ref().map_or("", |s| s.value.as_str())).collect();
    assert_eq!(suppliers, ["First", "First", "Second"]);
    assert_eq!(p.rows.iter().map(|r| r.quantity.value).collect::<Vec<_>>(), [Some(2.0), None, Some(8.0)]);
    assert!(p.warnings.iter().any(|w| w.code == "merged-value" && w.message.contains("quantity")));
}

#[test]
fn hidden_sheets_stay_out_and_copies_are_asked_about() {
    let bytes = include_bytes!("fixtures/sheets.xlsx");
    let p = take_file("sheets.xlsx", bytes);
    assert_eq!(p.tables.iter().map(|t| t.sheet.as_str()).collect::<Vec<_>>(), ["List", "Copy"]);
    assert!(p.warnings.iter().any(|w| w.code == "table-left-out" && w.message.contains("hidden")));
    let question = p.questions.iter().find(|q| q.id.starts_with("copy:")).expect("a copy is asked about");
    let hints = Hints { mapping: None, answers: [(question.id.clone(), "copy".to_owned())].into() };
    let book = read(&Source { name: "sheets.xlsx", bytes }).expect("readable");
    assert_eq!(propose(&book, &hints).expect("a list").total_quantity, 5.0);
}

#[test]
fn running_numbers_and_conditions_are_recomputed() {
    let p = take_file("formulas.xlsx", include_bytes!("fixtures/formulas.xlsx"));
    let labels: Vec<&str> = p.rows.iter().map(|r| r.label.as_ref().map_or("", |l| l.value.as_str())).collect();
    assert_eq!((labels[0], labels[59]), ("1", "60"), "a chain over all rows");
    assert_eq!(p.rows[0].line_price.as_ref().and_then(|l| l.value), Some(3.0), "a condition");
    assert_eq!(p.totals.len(), 1, "a total that cannot be recomputed is no part");
    assert_eq!((p.parts, p.totals[0].verdict), (60, Verdict::Unchecked));
}

#[test]
fn code_pages_are_told_by_the_letters_inside_words() {
    for (bytes, page, name) in [
        (&b"Name;Menge\r\nGeh\x84use f\x81r T\x81r;2\r\n"[..], "850", "Gehäuse für Tür"),
        (&b"Name;Menge\r\nGeh\xE4use \x84gro\xDF\x93;2\r\n"[..], "1252", "Gehäuse „groß“"),
        (&b"Name,Menge\rGeh\x8Ause f\x9Fr T\x9Fr,2\r"[..], "Macintosh", "Gehäuse für Tür"),
        (&b"\x95\x69\x96\xBC,\x90\x94\x97\xCA\n\x83\x82\x81\x5B\x83\x5E\x81\x5B,2\n"[..], "Shift JIS", "モーター"),
    ] {
        let book = read(&Source { name: "l.csv", bytes }).expect("readable");
        let said = book.encoding.clone().expect("decided");
        assert!(said.name.contains(page) && !said.certain && !book.remarks.is_empty(), "{said:?}");
        assert_eq!(names(&propose(&book, &Hints::default()).expect("a list")), [name]);
    }
    let p = take_file("nul.csv", b"Name,Qty\nA\x00B,1\nC,2\n");
    assert_eq!(names(&p), ["AB", "C"], "one bad byte refuses nothing");
}

#[test]
fn part_numbers_that_programs_spoilt_are_told() {
    let p = take("P/N,Name,Qty\n1.23457E+19,A,1\n100E10,B,1\n\"=\"\"00077\"\"\",C,1\n");
    assert_eq!(codes(&p), ["part-number-shortened"]);
    assert_eq!(p.rows[2].part_number.as_ref().map(|n| n.value.as_str()), Some("00077"));
}

#[test]
fn a_currency_may_stay_unknown() {
    let text = "Name,Qty,Price\nA,1,2.50\n";
    let q = &take(text).questions[0];
    assert!(q.id == "currency" && q.choices.iter().any(|c| c.0 == "unknown"), "{q:?}");
    let known = |answer: &str| {
        let p = answered(text, "currency", answer);
        (p.rows[0].price.as_ref().and_then(|p| p.currency.clone()), p.questions.len())
    };
    assert_eq!(known("unknown"), (None, 0));
    assert_eq!(known("CHF"), (Some("CHF".to_owned()), 0));
    assert_eq!(known("some"), (None, 1), "what is no code is asked again");
}

#[test]
fn more_private_data_is_named() {
    let p = take("Name,Qty,Note\nA,1,file:///home/jo/x.step\nB,1,+49 30 1234567\nC,1,order 302-1234567-1234567\n");
    assert_eq!(codes(&p).iter().filter(|c| **c == "private-data").count(), 3);
    assert!(!codes(&take("Name,Qty,Note\nA,1,+5 V\nB,2,https://x.test/home/a\n")).contains(&"private-data"));
}

#[test]
fn refusals_name_the_kind_of_file() {
    for (text, why) in [
        ("Profile,Length (mm),Pieces,Stock bar,Waste\nP1,300,4,1,20\n", "cut plan"),
        ("Zuschnittliste;;;\nProfil;Zuschnitt [mm];Anzahl;Stange;Rest\n40x40;300;4;1;120\n", "cut plan"),
        ("Aufgabe;Verantwortlich;Termin;Status\nTeile bestellen;A;1.5.;offen\n", "task list"),
        ("Category,Amount\nMaterials,12000\nLabour,5000\nOverheads,3000\nTotal,20000\n", "cost summary"),
        ("Kostenart;Betrag (EUR)\nMaterialkosten;12000\nGemeinkosten;3000\nSumme;15000\n", "cost summary"),
        ("Cost item,Unit cost,Quantity,Cost\nLabour,45,10,450\nOverhead,1,100,100\n", "cost summary"),
        ("Subsystem,CBE mass (kg),Contingency (%),Predicted mass (kg)\nStructure,120,10,132\n", "mass model"),
        ("Component,Mass [kg],x [m],y [m],z [m],Ixx\nHull,300,1,0,0,12\n", "mass model"),
        ("Parts to order:\n- 4 screws M5\n- two plates, 3 mm\n- glue\n", "note"),
        ("Date,Event,Location\n2024-01-01,Kickoff,Room 1\n2024-02-01,Review,Room 2\n", "no column names parts"),
    ] {
        let said = propose(&book(text), &Hints::default()).expect_err(text)[0].message.clone();
        assert!(said.starts_with("nothing is imported") && said.contains(why), "{text}: {said}");
    }
}

/// Masses of which nobody says the unit are asked about: they are neither guessed nor dropped.
#[test]
fn masses_without_a_unit_are_asked_about() {
    let text = "Part number;Name;Qty;Mass\nA-3;Beam;4;30,5\nA-4;Bolt;6;3,5\nA-5;Lid;1;120,5\n";
    let asked = take(text);
    assert!(asked.questions.iter().any(|q| q.id == "mass-unit"), "{:?}", asked.questions);
    assert!(asked.warnings.iter().any(|w| w.code == "mass-unit-unknown" && w.message.starts_with("3 masses")));
    let told = answered(text, "mass-unit", "g");
    let kg: Vec<Option<f64>> = told.rows.iter().map(|r| r.mass.as_ref().and_then(|m| m.kg)).collect();
    assert_eq!(kg, [Some(0.0305), Some(0.0035), Some(0.1205)]);
    assert!(told.questions.is_empty(), "{:?}", told.questions);
    assert!(answered(text, "mass-unit", "unknown").questions.is_empty());
}
