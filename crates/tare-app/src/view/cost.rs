//! The should-cost.

use super::mass::{GroupRow, groups, share};
use crate::basis::Basis;
use crate::figure::Figure;
use serde::Serialize;
use tare_model::{Document, Field, Id};
use tare_study::{LineRef, Study};

/// The cost part of a study.
#[derive(Clone, Debug, PartialEq, Serialize, schemars::JsonSchema)]
pub struct CostView {
    /// Cost of one product.
    pub total: Option<Figure>,
    /// Two standard uncertainties, first order.
    pub uncertainty: Option<f64>,
    /// The same without the dominant bought item.
    pub without_dominant: Option<Figure>,
    /// Names of the dominant bought items.
    pub dominant: Vec<String>,
    /// Cost by kind.
    pub by_kind: Vec<KindRow>,
    /// Contribution by item, largest first.
    pub by_item: Vec<ItemRow>,
    /// Cost by calculation.
    pub by_process: Vec<GroupRow>,
    /// Investment in tools, all sets.
    pub investment: Option<Figure>,
    /// The tool register.
    pub tools: Vec<ToolRow>,
    /// Quotes and rough estimates beside the build-up.
    pub quotes: Vec<QuoteRow>,
    /// Items nothing could be said about.
    pub uncosted: Vec<String>,
    /// Under which conditions this holds.
    pub basis: Basis,
}

/// One kind of cost.
#[derive(Clone, Debug, PartialEq, Serialize, schemars::JsonSchema)]
pub struct KindRow {
    /// The kind.
    pub kind: &'static str,
    /// Its cost.
    pub cost: Figure,
    /// Share of the total.
    pub share: f64,
}

/// One item.
#[derive(Clone, Debug, PartialEq, Serialize, schemars::JsonSchema)]
pub struct ItemRow {
    /// Its address.
    pub address: String,
    /// Its name.
    pub name: String,
    /// Pieces a year.
    pub volume: Option<Figure>,
    /// Cost of one piece, children not included.
    pub own: Option<Figure>,
    /// What it adds to the product.
    pub contribution: Option<Figure>,
    /// Share of the product's cost.
    pub share: f64,
    /// Whether it is the dominant bought item.
    pub dominant: bool,
}

/// One tool.
#[derive(Clone, Debug, PartialEq, Serialize, schemars::JsonSchema)]
pub struct ToolRow {
    /// The tool.
    pub title: String,
    /// Items it serves.
    pub serves: Vec<String>,
    /// Cost of one set.
    pub cost: Figure,
    /// Life of one set in cycles.
    pub life: Figure,
    /// Pieces per cycle.
    pub pieces: Figure,
    /// Sets needed.
    pub sets: Option<Figure>,
    /// Investment in all sets.
    pub investment: Option<Figure>,
    /// In the piece price.
    pub per_piece: Option<Figure>,
    /// Paid as a lump by the client.
    pub lump: bool,
}

/// Build-up beside quotes and the rough route.
#[derive(Clone, Debug, PartialEq, Serialize, schemars::JsonSchema)]
pub struct QuoteRow {
    /// The item.
    pub item: String,
    /// Built up, per piece.
    pub build_up: Option<Figure>,
    /// Quoted prices with their terms.
    pub quotes: Vec<(String, Figure)>,
    /// A rough estimate from mass.
    pub rough: Option<Figure>,
}

/// The cost of a compiled study.
pub fn cost(document: &Document, study: &Study) -> CostView {
    let total = study.totals.cost;
    let whole = total.map_or(f64::NAN, |t| study.value(t));
    let figure = |line: LineRef| Figure::new(study, line, 5);
    let name = |id: Id| document.get(id).and_then(|r| r.text(Field::Name)).unwrap_or("?").to_owned();
    let mut by_item: Vec<ItemRow> = study
        .items
        .iter()
        .map(|i| ItemRow {
            address: i.address.clone(),
            name: i.name.clone(),
            volume: i.volume.map(figure),
            own: i.own.map(figure),
            contribution: i.contribution.map(figure),
            share: i.contribution.map_or(0.0, |c| share(study.value(c), whole)),
            dominant: i.dominant,
        })
        .collect();
    by_item.sort_by(|a, b| b.share.total_cmp(&a.share).then_with(|| a.address.cmp(&b.address)));
    let by_kind = study.totals.by_kind.iter().map(|(kind, line)| KindRow {
        kind: kind.word(),
        cost: figure(*line),
        share: share(study.value(*line), whole),
    });
    let tools = study.tools.iter().map(|t| ToolRow {
        title: t.title.clone(),
        serves: t.serves.iter().map(|id| name(*id)).collect(),
        cost: figure(t.cost),
        life: Figure::new(study, t.life, 3),
        pieces: Figure::new(study, t.pieces, 3),
        sets: t.sets.map(|s| Figure::new(study, s, 3)),
        investment: t.investment.map(figure),
        per_piece: t.per_piece.map(figure),
        lump: t.lump,
    });
    let quotes = study.items.iter().filter(|i| !i.quotes.is_empty()).map(|i| QuoteRow {
        item: i.name.clone(),
        build_up: i.own.map(figure),
        quotes: i.quotes.iter().map(|(id, line)| (terms(document, *id), figure(*line))).collect(),
        rough: i.rough.map(figure),
    });
    CostView {
        total: total.map(figure),
        uncertainty: total.map(|t| 2.0 * study.grounds(t).standard_uncertainty),
        without_dominant: study.totals.without_dominant.map(figure),
        dominant: study.items.iter().filter(|i| i.dominant).map(|i| i.name.clone()).collect(),
        by_kind: by_kind.collect(),
        by_process: groups(study, &study.totals.by_process, total),
        investment: study.totals.investment.map(figure),
        tools: tools.collect(),
        quotes: quotes.collect(),
        uncosted: study.items.iter().filter(|i| i.uncosted).map(|i| format!("{} {}", i.address, i.name)).collect(),
        basis: Basis::new(document, study),
        by_item,
    }
}

/// Place, date, supplier and contents of a quote.
fn terms(document: &Document, quote: Id) -> String {
    let Some(record) = document.get(quote) else { return String::new() };
    let fields = [Field::Supplier, Field::Place, Field::Date, Field::Contains, Field::State];
    let said: Vec<&str> = fields.into_iter().filter_map(|f| record.text(f)).collect();
    said.join(", ")
}
