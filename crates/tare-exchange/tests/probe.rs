use tare_exchange::*;
#[test]
fn probe() {
    for t in [
        "Bill of materials,,,\nRev 3,,2024-01-02,\n\nItem,Description,Qty,Notes\n1,Bolt M5,4,\n2,Nut M5,4,\n3,Plate,1,Cut from stock\n,,9,\n",
        "Pos.;Bezeichnung;Menge;Einheit;Einzelpreis;Gesamtpreis\n1;Blech;2;Stk;12,50 €;25,00 €\n2;Kabel;3,5;m;1.200,00 €;4.200,00 €\n;Versand;;;;9,90 €\n;Summe;;;;4.234,90 €\n",
        "Part,Qty\nElectronics,\nBoard,1\nGlue,\nMechanics,\nBolt,4\n",
        "Name,Qty,,Name,Qty\nA,1,,B,2\nC,3,,D,4\n",
        "#,Component,Quantity,Unit Weight,Total Weight\n1,Cell,12,45g,540g\n2,Busbar,4,10 g,40 g\n,,,,580 g\n",
        "Qty,Value,Device,Parts\n2,100n,C0805,\"C1, C2\"\n1,10k,R0603,R1\n",
        "Name,Qty,Price\nEither motor A,1,10 EUR\nor motor B,1,12 EUR\n",
    ] {
        match propose(&read(&Source { name: "l.csv", bytes: t.as_bytes() }).unwrap(), &Hints::default()) {
            Ok(p) => {
                println!("== parts {} total {} {:?} tables {}", p.parts, p.total_quantity, p.by_kind, p.tables.len());
                for c in p.mapping.tables.iter().flat_map(|t| &t.columns) { println!("   col {} {:?} {:?}", c.title, c.meaning, c.number); }
                for r in &p.rows { println!("   {:?} q={:?} {:?} m={:?} p={:?} l={:?} {:?}", r.name.as_ref().map(|n| &n.value), r.quantity.value, r.quantity.kind, r.mass.as_ref().map(|m| (m.kg, m.per)), r.price.as_ref().map(|p| (p.value, &p.currency, p.per)), r.line_price.as_ref().map(|p| p.value), r.why_not); }
                for w in &p.warnings { println!("   {w}"); }
                for t in &p.totals { println!("   total {}", t.says); }
                for s in &p.skipped { println!("   skipped {} {} {}", s.cell.cell, s.cell.raw, s.why); }
                for q in &p.questions { println!("   q {}", q.text); }
            }
            Err(e) => println!("== {}", e[0]),
        }
    }
}
