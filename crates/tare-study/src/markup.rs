//! Mark-ups, freight and duty where an item leaves the organisation that makes it.

use crate::builder::{Builder, Given};
use crate::kinds::{CostKind, Costs};
use crate::lines::LineRef;
use crate::part_cost::PartCost;
use std::collections::BTreeMap;
use tare_model::Field;

/// Bases a mark-up is taken on, as one organisation sees them.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Base {
    Bought,
    Conversion,
    Tooling,
    Directed,
}

impl Base {
    const ALL: [Self; 4] = [Self::Bought, Self::Conversion, Self::Tooling, Self::Directed];
    fn name(self) -> &'static str {
        ["bought", "conversion", "tooling", "directed"][self as usize]
    }
    fn of(kind: CostKind) -> Self {
        match kind {
            CostKind::Bought | CostKind::Material => Self::Bought,
            CostKind::Tooling => Self::Tooling,
            _ => Self::Conversion,
        }
    }
}

impl Builder<'_> {
    /// The bases of a mark-up as the organisation that makes the part sees them.
    pub(crate) fn bases(
        &mut self,
        part: usize,
        own: &Costs,
        rejects: Option<LineRef>,
        children: &[usize],
        found: &[PartCost],
    ) -> BTreeMap<Base, LineRef> {
        let subject = self.record_subject(self.index.parts[part].record.id);
        let mut bases = BTreeMap::new();
        for base in Base::ALL {
            let mut terms: Vec<LineRef> = own.iter().filter(|(k, _)| Base::of(**k) == base).map(|(_, l)| *l).collect();
            if base == Base::Conversion {
                terms.extend(rejects);
            }
            let mine = match terms.as_slice() {
                [] => None,
                [one] => Some(*one),
                many => {
                    self.roll(subject, &format!("own {}", base.name()), "roll-ups/sum", &[("terms", Given::Many(many))], "total")
                }
            };
            if let Some(line) =
                self.gather(subject, &format!("{} base", base.name()), mine, children, |c| found[c].bases.get(&base).copied())
            {
                bases.insert(base, line);
            }
        }
        bases
    }

    /// Whether a part leaves the organisation that makes it. Bought items carry their supplier's mark-ups in their price.
    pub(crate) fn crosses(&self, part: usize) -> bool {
        let node = &self.index.parts[part];
        if self.costed_here(node.item.id) {
            return false;
        }
        let here = self.organisation(node.item.id);
        match node.parent {
            Some(parent) => here != self.organisation(self.index.parts[parent].item.id),
            None => here.is_some(),
        }
    }

    /// What the organisation adds where the part leaves it.
    pub(crate) fn mark_up(&mut self, part: usize, cost: &PartCost) -> Costs {
        let item = self.index.parts[part].item.id;
        let subject = self.record_subject(self.index.parts[part].record.id);
        let organisation = self.organisation(item);
        let record = organisation.and_then(|o| self.sources.study.get(o));
        let key = record
            .and_then(|r| r.text(Field::BuildUp))
            .or_else(|| self.index.study.and_then(|s| s.text(Field::BuildUp)))
            .unwrap_or("build-up/study-teardown")
            .to_owned();
        let tier = record.and_then(|r| r.text(Field::Tier)).map(str::to_owned);
        let mut context = crate::bind::Context { item: Some(item), part: Some(part), organisation, ..Default::default() };
        if let Some(tier) = tier {
            // The tier's end-item scrap stays out: operations carry yields, and one loss is carried once.
            for share in ["sga", "profit", "engineering"] {
                if let Some(line) = self.rate(organisation, &format!("markup.{tier}.{share}")) {
                    context.extra.push((format!("rate.tier.{share}"), line));
                }
            }
        }
        let nothing = self.no_money();
        let bases: Vec<(String, LineRef)> =
            Base::ALL.iter().map(|b| (b.name().to_owned(), cost.bases.get(b).copied().unwrap_or(nothing))).collect();
        let mut added = Costs::new();
        if let Some(block) = self.bind_given(subject, "mark-up", &key, &context, &bases) {
            for (name, kind) in [
                ("overhead", CostKind::Overhead),
                ("engineering", CostKind::Engineering),
                ("sga", CostKind::Sga),
                ("profit", CostKind::Profit),
            ] {
                added.extend(self.line(block, name).map(|line| (kind, line)));
            }
        }
        if self.item_mass(item).is_some() {
            self.freight(subject, &context, cost, &mut added);
        }
        added
    }

    /// Freight of the piece, and duty on its price and freight where the rate book states a share.
    pub(crate) fn freight(
        &mut self,
        subject: crate::lines::SubjectId,
        context: &crate::bind::Context,
        cost: &PartCost,
        added: &mut Costs,
    ) {
        let dutiable = self.rate(context.organisation, "duty.share").is_some();
        let mut given = Vec::new();
        if dutiable {
            let terms: Vec<LineRef> = cost.kinds.values().chain(added.values()).copied().collect();
            let price = self.roll(subject, "price before freight", "roll-ups/sum", &[("terms", Given::Many(&terms))], "total");
            given.extend(price.map(|line| ("price".to_owned(), line)));
        }
        let Some(block) = self.bind_given(subject, "freight out", "build-up/study-freight", context, &given) else { return };
        added.extend(self.line(block, "freight").map(|line| (CostKind::Freight, line)));
        if dutiable {
            added.extend(self.line(block, "duty").map(|line| (CostKind::Duty, line)));
        }
    }

    pub(crate) fn no_money(&mut self) -> LineRef {
        self.shared_leaf("definition", "nothing", |subject| crate::builder::LeafSpec {
            subject,
            name: "nothing".to_owned(),
            quantity: tare_units::Quantity::parse("0 money").unwrap_or_else(|_| crate::builder::plain(0.0)),
            word: None,
            evidence: crate::lines::Evidence::Derived,
            source: "definition: none of this kind occurs".to_owned(),
            record: None,
            shared: true,
        })
    }

    /// To the next organisation everything is bought, except tools that are paid with the piece.
    pub(crate) fn transfer(&mut self, subject: crate::lines::SubjectId, cost: &mut PartCost) {
        let Some(total) = cost.total else { return };
        let tooling: Vec<LineRef> = cost.kinds.get(&CostKind::Tooling).copied().into_iter().collect();
        let rest = self.roll(
            subject,
            "price without tools",
            "roll-ups/without",
            &[("total", Given::One(total)), ("dominant", Given::Many(&tooling))],
            "rest",
        );
        cost.bases =
            [rest.map(|r| (Base::Bought, r)), tooling.first().map(|t| (Base::Tooling, *t))].into_iter().flatten().collect();
    }
}
