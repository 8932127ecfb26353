//! A generator of studies for benches and tests: any size, always the same for the same seed. Its figures mean nothing.

use tare_model::{Document, DocumentKind, Field, FieldValue, Id, Kind, Record, first_order, order_between};

/// How large a generated study is.
#[derive(Clone, Copy, Debug)]
pub struct Size {
    /// Parts in the tree, the product and its groups included.
    pub parts: usize,
    /// Different items among them.
    pub items: usize,
    /// Joints.
    pub joints: usize,
}

/// Generates a study of a size. Assemblies hold about twenty parts; two fifths of the items are bought, the rest moulded, stamped
/// or machined.
pub fn study(size: Size, seed: u64) -> Document {
    let mut make = Generator { records: Vec::new(), next: 1, random: seed, order: first_order() };
    let root = make.record(Kind::Study, None, &[(Field::Name, "Generated"), (Field::Currency, "EUR"), (Field::Book, "region-a")]);
    let _ = root;
    let scenario = make.record(Kind::Scenario, None, &[(Field::Name, "Generated")]);
    make.value(scenario, "volume", "20000 1/a", "assumed");
    make.value(scenario, "life", "6 a", "assumed");
    let maker = make.record(Kind::Organisation, None, &[(Field::Name, "Maker")]);
    let assemblies = (size.parts / 20).max(1);
    let leaf_items: Vec<Id> = (0..size.items.saturating_sub(assemblies).max(1)).map(|n| make.leaf_item(n)).collect();
    let top_item = make.assembly_item(0, maker);
    let top = make.part(top_item, None, 1.0);
    let (mut parents, mut parts) = (vec![top], vec![]);
    for n in 1..assemblies {
        // A tree of assemblies with a fan of about ten keeps four levels at ten thousand parts.
        let parent = parents[(n - 1) / 10];
        let item = make.assembly_item(n, maker);
        parents.push(make.part(item, Some(parent), 1.0 + (n % 2) as f64));
    }
    for n in 0..size.parts.saturating_sub(parents.len()) {
        let parent = parents[n % parents.len()];
        let item = leaf_items[(n * 7 + n / leaf_items.len()) % leaf_items.len()];
        let count = 1.0 + make.draw(4) as f64;
        parts.push((make.part(item, Some(parent), count), parent));
    }
    for n in 0..size.joints.min(parts.len().saturating_sub(parents.len())) {
        let (a, b) = (parts[n].0, parts[n + parents.len()].0);
        let joint = make.record(Kind::Joint, None, &[(Field::Name, "screwed"), (Field::Calculation, "joints/screw-tapped-hole")]);
        make.records.last_mut().map(|r| r.fields.set(Field::Parts, Some(FieldValue::Refs(vec![a, b]))));
        let count = 2 + make.draw(6);
        make.value(joint, "count", &count.to_string(), "measured");
        make.value(joint, "diameter", "6 mm", "measured");
    }
    Document::from_records(Id(0xface), DocumentKind::Study, make.records)
}

struct Generator {
    records: Vec<Record>,
    next: u128,
    random: u64,
    order: String,
}

impl Generator {
    /// A small whole number below `below` (SplitMix64, Steele and others 2014).
    fn draw(&mut self, below: u64) -> u64 {
        self.random = self.random.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.random;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        (z ^ (z >> 31)) % below
    }

    fn record(&mut self, kind: Kind, parent: Option<Id>, texts: &[(Field, &str)]) -> Id {
        let id = Id(self.next);
        self.next += 1;
        // Keys restart now and then: they only have to be in order within one parent, and ids decide between equals.
        if self.next.is_multiple_of(64) {
            self.order = first_order();
        } else {
            self.order = order_between(Some(&self.order), None);
        }
        let mut record = Record::new(id, kind).ordered(self.order.clone());
        record.parent = parent;
        for (field, text) in texts {
            record = record.with_text(*field, *text);
        }
        self.records.push(record);
        id
    }

    fn value(&mut self, subject: Id, quantity: &str, text: &str, evidence: &str) {
        self.record(Kind::Value, Some(subject), &[(Field::Quantity, quantity), (Field::Text, text), (Field::Evidence, evidence)]);
    }

    fn assembly_item(&mut self, n: usize, maker: Id) -> Id {
        let item = self.record(
            Kind::Item,
            None,
            &[(Field::Name, &format!("Assembly {n}")), (Field::Make, "make"), (Field::Form, "assembly")],
        );
        if let Some(last) = self.records.last_mut() {
            last.fields.set(Field::Organisation, Some(FieldValue::Ref(maker)));
        }
        item
    }

    fn leaf_item(&mut self, n: usize) -> Id {
        let name = format!("Part {n}");
        let mass = 20 + self.draw(2000);
        let bought = n % 5 < 2;
        let made = ["PA66-GF30", "steel-DC04", "EN-AW-6082-T6"][n % 3];
        let item = self.record(
            Kind::Item,
            None,
            &[(Field::Name, &name), (Field::Make, if bought { "buy" } else { "make" }), (Field::Material, made)],
        );
        self.value(item, "mass", &format!("{mass} g"), "measured");
        let (length, width, height) = (60 + self.draw(400), 40 + self.draw(20), 5 + self.draw(30));
        for (quantity, size) in [("length", length), ("width", width), ("height", height)] {
            self.value(item, quantity, &format!("{size} mm"), "measured");
        }
        if bought {
            let cents = 50 + self.draw(3000);
            self.value(item, "price", &format!("{}.{:02} EUR", cents / 100, cents % 100), "quoted");
            return item;
        }
        self.value(item, "wall_thickness", "2.5 mm", "measured");
        self.value(item, "projected_area", &format!("{} mm^2", length * width), "measured");
        self.value(item, "surface_area", &format!("{} mm^2", 2 * (length * width + length * height + width * height)), "derived");
        self.value(item, "perimeter", &format!("{} mm", 2 * (length + width)), "measured");
        let keys = ["processes/injection-moulding", "processes/stamping-progressive", "processes/cnc-milling-setup"];
        self.record(Kind::Operation, Some(item), &[(Field::Name, "make"), (Field::Calculation, keys[n % 3])]);
        if n % 3 == 2 {
            let feature =
                self.record(Kind::Feature, Some(item), &[(Field::Name, "holes"), (Field::Calculation, "processes/drilling")]);
            for (quantity, text) in [("diameter", "6 mm"), ("depth", "12 mm"), ("count", "4")] {
                self.value(feature, quantity, text, "measured");
            }
        }
        item
    }

    fn part(&mut self, item: Id, parent: Option<Id>, count: f64) -> Id {
        let part = self.record(Kind::Part, parent, &[]);
        if let Some(last) = self.records.last_mut() {
            last.fields.set(Field::Item, Some(FieldValue::Ref(item)));
            last.fields.set(Field::Count, Some(FieldValue::Number(count)));
            last.fields.set(Field::Needed, Some(FieldValue::Number(1.0)));
        }
        part
    }
}
