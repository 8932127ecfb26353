//! Studies of every kind and field with texts that tables are easily broken by.

use std::collections::BTreeMap;
use tare_app::folder::{Files, Folder};
use tare_model::{Document, DocumentKind, Field, FieldType, FieldValue, Id, Kind, Record, order_between};

/// Names and texts as they come from all over the world, and as attackers and machines write them.
pub(crate) const TEXTS: &[&str] = &[
    "Cover",
    "upper cover, left; \"special\"",
    "=cmd()",
    "=cmd|' /C calc'!A0",
    "+1",
    "-2",
    "@x",
    "\tx",
    " =1+1",
    "'quoted",
    "''",
    "'\"",
    "\"",
    "",
    "1.10",
    "007",
    "100E10",
    "1e5",
    "TRUE",
    "2026-03-02",
    "12:30",
    "3/4",
    "5 a",
    "MAR1",
    "18.40 EUR",
    "7.42 kg",
    "70 %",
    "#N/A",
    "  both  ",
    "one\ntwo\n\nfour",
    "cr\rlf\r\nend",
    "null\0inside",
    "\u{feff}bom",
    "\u{2028}line",
    "電池パック",
    "배터리",
    "บรรจุภัณฑ์",
    "батарея",
    "μπαταρία",
    "סוללה",
    "بطارية \u{200f}(١٢٣)\u{200e} end",
    "\u{202e}gnp.exe",
    "हैंडल",
    "e\u{301}",
    "🔋🔩",
    "ＡＢＣ＝１",
    "\u{200b}zero",
    "a\u{7f}b\u{85}c",
    "ref",
    "id",
    "11112222333344445555666677778888",
    "0x1F",
    "P1; P2",
    "part.P1",
    "{\"cells\":{\"colour\":\"red\"}}",
    "[table]\nx = 1",
    "$A$1",
    "%%",
    "\\u0041\\n",
    "a,b\r\n\"c\"",
    "----",
    "--",
    "~$x",
    "null",
    "NaN",
    "inf",
    "<b>&amp;</b>",
    "../../etc",
    "CON",
    "a/b\\c",
];

pub(crate) struct Dice(pub(crate) u64);

impl Dice {
    pub(crate) fn below(&mut self, n: usize) -> usize {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) % n as u64) as usize
    }

    fn id(&mut self) -> Id {
        let mut digits = 0u128;
        let decimal = self.below(4) == 0;
        for _ in 0..32 {
            digits = digits * 16 + self.below(if decimal { 10 } else { 16 }) as u128;
        }
        Id(digits)
    }

    fn text(&mut self) -> String {
        match self.below(10) {
            0 => (0..self.below(12)).filter_map(|_| char::from_u32(self.below(0x2_0000) as u32)).collect(),
            1 => format!("{}{}", TEXTS[self.below(TEXTS.len())], TEXTS[self.below(TEXTS.len())]),
            2 if self.below(20) == 0 => "long \"text\", ".repeat(4_000),
            _ => TEXTS[self.below(TEXTS.len())].to_owned(),
        }
    }

    fn number(&mut self) -> f64 {
        [0.0, 1.0, 2.5, 4.0, 1e12, 1e-9, 0.1 + 0.2, 1.0 / 3.0, 123_456_789.125, 1e-300][self.below(10)]
    }
}

/// A folder with random records of every kind and field.
pub(crate) fn folder(seed: u64) -> Folder {
    let mut dice = Dice(seed);
    let mut records: Vec<Record> = vec![Record::new(dice.id(), Kind::Study).with_text(Field::Name, dice.text())];
    let add = |records: &mut Vec<Record>, kind: Kind, dice: &mut Dice| {
        let parents: Vec<Id> = records.iter().filter(|r| kind.schema().parents.contains(&r.kind)).map(|r| r.id).collect();
        let top = kind.schema().parents.is_empty() || (kind == Kind::Part && (parents.is_empty() || dice.below(4) == 0));
        if !top && parents.is_empty() {
            return;
        }
        let siblings: Vec<String> = records.iter().map(|r| r.order.clone()).collect();
        let order = match dice.below(5) {
            0 => siblings[dice.below(siblings.len())].clone(),
            1 => order_between(None, Some(&siblings[dice.below(siblings.len())])),
            2 => "V!~".to_owned(),
            _ => order_between(siblings.last().map(String::as_str), None),
        };
        let mut record = Record::new(dice.id(), kind).ordered(order);
        if !top {
            record = record.under(parents[dice.below(parents.len())]);
        }
        records.push(record);
    };
    for kind in [Kind::Item, Kind::Item, Kind::Part] {
        add(&mut records, kind, &mut dice);
    }
    for kind in Kind::ALL {
        add(&mut records, *kind, &mut dice);
    }
    for _ in 0..dice.below(60) {
        let kind = Kind::ALL[dice.below(Kind::ALL.len())];
        add(&mut records, kind, &mut dice);
    }
    let of: BTreeMap<Kind, Vec<Id>> = records.iter().fold(BTreeMap::new(), |mut of, r| {
        of.entry(r.kind).or_insert_with(Vec::new).push(r.id);
        of
    });
    for record in &mut records {
        for (field, ty, required) in record.kind.schema().fields {
            if !required && dice.below(2) == 0 {
                continue;
            }
            let targets = |kinds: &[Kind], dice: &mut Dice| {
                let all: Vec<Id> = kinds.iter().filter_map(|kind| of.get(kind)).flatten().copied().collect();
                (!all.is_empty()).then(|| all[dice.below(all.len())])
            };
            let value = match ty {
                FieldType::Text => Some(FieldValue::Text(dice.text())),
                FieldType::Word(words) => Some(FieldValue::Text(words[dice.below(words.len())].to_owned())),
                FieldType::Count => Some(FieldValue::Number(dice.number())),
                FieldType::Flag => Some(FieldValue::Flag(dice.below(2) == 0)),
                FieldType::Ref(kinds) => targets(kinds, &mut dice).map(FieldValue::Ref),
                FieldType::Refs(kinds) => {
                    Some(FieldValue::Refs((0..dice.below(4)).filter_map(|_| targets(kinds, &mut dice)).collect()))
                }
            };
            record.fields.set(*field, value);
        }
        let extra = match dice.below(12) {
            0 => Some(dice.text()),
            1 => Some(
                serde_json::json!({ "cells": { "colour": dice.text(), TEXTS[dice.below(TEXTS.len())]: "\"x\"" } }).to_string(),
            ),
            2 => Some("{\"cells\":{\"bin\":\"3\"}}".to_owned()),
            _ => None,
        };
        record.fields.set(Field::Extra, extra.map(FieldValue::Text));
    }
    let (mut photos, mut texts, mut files) = (BTreeMap::new(), BTreeMap::new(), Files::new());
    for record in records.iter_mut().filter(|r| matches!(r.kind, Kind::Photo | Kind::Lock)) {
        let content = format!("content {}", dice.below(3));
        let digest = tare_store::Sha256::of(content.as_bytes()).to_string();
        if dice.below(3) > 0 {
            record.fields.set(Field::Digest, Some(FieldValue::Text(digest.clone())));
            match record.kind {
                Kind::Photo => drop(photos.insert(digest, content.into_bytes())),
                _ => drop(texts.insert(digest, content)),
            }
        }
    }
    // what is kept of the whole stands with the first study
    let studies = (0..records.len()).filter(|at| records[*at].kind == Kind::Study);
    let head = studies.min_by_key(|at| (records[*at].order.clone(), records[*at].id)).expect("a study");
    if dice.below(3) == 0 {
        files.insert("photos/photo.bin".to_owned(), b"content 1".to_vec());
        files.insert("gadgets.csv".to_owned(), b"a;b\n".to_vec());
        let digests: BTreeMap<&str, String> =
            files.iter().map(|(p, b)| (p.as_str(), tare_store::Sha256::of(b).to_string())).collect();
        let extra = serde_json::json!({ "tables": { "gadget": "[{ x = 1 }]" }, "files": digests });
        records[head].fields.set(Field::Extra, Some(FieldValue::Text(extra.to_string())));
    } else {
        records[head].fields.set(Field::Extra, None);
    }
    let document = Document::from_records(dice.id(), DocumentKind::Study, records);
    let entry_id = (dice.below(4) > 0).then(|| dice.id());
    Folder { document, entry: dice.below(1000) as u64, entry_id, photos, texts, files }
}
