//! Products side by side: chosen from the workspace, computed under one scenario, with what their totals do not hold alike.

mod boundary;
mod scenario;
mod walks;

pub use boundary::{BoundaryDifference, boundary_differences};
use scenario::own_scenarios;
pub use scenario::under;
pub use walks::{WalkAsked, quotes, walk};

use crate::held::Texts;
use crate::workspace::{DocumentInfo, Loaded, Workspace};
use tare_analysis::compare::{Comparison, Rank, Side, Yard, compare as align, rank};
use tare_analysis::{Options, Sampling, Spread, Stop, spread};
use tare_diag::{Diag, Place};
use tare_model::{Document, DocumentKind, Field, Kind};
use tare_study::{LineRef, Sources, Study};

/// Products that are compared at once, at most: letters name them.
pub const MOST: usize = 12;

/// One product of a comparison.
#[derive(Debug)]
pub struct Product {
    /// Its letter, which stands in front of its addresses.
    pub letter: String,
    /// The study.
    pub info: DocumentInfo,
    /// Its records as they are.
    pub document: Document,
    /// Its records under the common scenario.
    pub common: Document,
    /// The study under its own scenario.
    pub own: Study,
    /// The study under the common one.
    pub study: Study,
    /// Errors of the study, under its own scenario or the common one.
    pub problems: Vec<Diag>,
    /// Items without a cost, which its totals lack.
    pub uncosted: Vec<String>,
}

/// Products side by side, with ranges.
#[derive(Debug)]
pub struct Compared {
    /// The products; the first gives the scenario.
    pub products: Vec<Product>,
    /// All rows.
    pub comparison: Comparison,
    /// What totals hold in one product and not in another.
    pub boundary: Vec<BoundaryDifference>,
    /// Ranges of headlines and costs per yardstick, of differences too: line and draws.
    pub spread: Spread,
    /// How sure the order by total cost, or by the yardstick asked for, is.
    pub rank: Option<Rank>,
    /// What was found wrong when the studies were joined.
    pub problems: Vec<Diag>,
    /// What was ranked by.
    pub ranked_by: String,
}

/// The client a study is for; none for the house's own.
pub fn client(document: &Document) -> Option<&str> {
    document.of_kind(None, Kind::Study).next().and_then(|r| r.text(Field::Client)).filter(|c| !c.trim().is_empty())
}

/// Refuses to bring studies of several clients together.
///
/// # Errors
/// One message that names them.
pub fn one_client<'d>(documents: impl IntoIterator<Item = (&'d str, &'d Document)>) -> Result<(), Diag> {
    let mut met: Vec<(&str, &str)> = Vec::new();
    for (name, document) in documents {
        if let Some(client) = client(document)
            && met.iter().all(|(known, _)| !known.eq_ignore_ascii_case(client))
        {
            met.push((client, name));
        }
    }
    if met.len() < 2 {
        return Ok(());
    }
    let each: Vec<String> = met.iter().map(|(client, study)| format!("{study} for {client}")).collect();
    let diag =
        Diag::error("clients-apart", format!("studies of different clients are not brought together: {}", each.join(", ")));
    Err(diag.hint("leave one out; studies without a client are the house's own and go with any"))
}

/// Loads studies by name, each once.
///
/// # Errors
/// Every name that is not there; fewer than two; more than [`MOST`]; studies of several clients.
pub fn load(workspace: &Workspace, names: &[String]) -> Result<Vec<(DocumentInfo, Loaded)>, Vec<Diag>> {
    let (mut found, mut problems): (Vec<(DocumentInfo, Loaded)>, Vec<Diag>) = (Vec::new(), Vec::new());
    for name in names {
        match workspace.study(Some(name)).and_then(|info| Ok((workspace.load(&info)?, info))) {
            Ok((loaded, info)) if found.iter().all(|(known, _)| known.id != info.id) => found.push((info, loaded)),
            Ok(_) => {}
            Err(problem) => problems.push(problem),
        }
    }
    if problems.is_empty() && found.len() < 2 {
        problems.push(Diag::error("compare-few", format!("a comparison takes two studies or more, found {}", found.len())));
    }
    if found.len() > MOST {
        problems.push(Diag::error("compare-many", format!("at most {MOST} studies are compared at once, found {}", found.len())));
    }
    if problems.is_empty() {
        problems.extend(one_client(found.iter().map(|(info, loaded)| (info.name.as_str(), &loaded.document))).err());
    }
    if problems.is_empty() { Ok(found) } else { Err(problems) }
}

/// The letter of the product at a place.
pub fn letter(at: usize) -> String {
    char::from(b'A' + (at % 26) as u8).to_string()
}

/// Computes studies under the scenario of the first, and sets them side by side; `None` when it was stopped.
///
/// # Errors
/// The texts a study holds do not read.
pub fn compare(
    texts: &Texts,
    own_texts: &[Texts],
    studies: Vec<(DocumentInfo, Loaded)>,
    yardstick: Option<&str>,
    options: Options,
    stop: Stop<'_>,
) -> Result<Option<Compared>, Vec<Diag>> {
    let reference = studies[0].1.document.clone();
    let mut products = Vec::new();
    for (at, (info, loaded)) in studies.into_iter().enumerate() {
        let common = if at == 0 { loaded.document.clone() } else { under(&loaded.document, &reference)? };
        let own = own_texts[at].compile(&loaded.document);
        let study = if at == 0 { own.clone() } else { texts.compile(&common) };
        let mut problems: Vec<Diag> = Vec::new();
        for problem in own.problems.iter().chain(&study.problems).filter(|p| p.is_error()) {
            if !problems.contains(problem) {
                problems.push(problem.clone());
            }
        }
        let uncosted = study.items.iter().filter(|item| item.uncosted).map(|item| item.name.clone()).collect();
        products.push(Product { letter: letter(at), info, document: loaded.document, common, own, study, problems, uncosted });
    }
    let books: Vec<&Document> = texts.books.iter().collect();
    let sources = Sources { study: &products[0].common, books: &books, library: &texts.library };
    let sides: Vec<Side<'_>> = products.iter().map(|p| Side { name: &p.letter, document: &p.common, study: &p.study }).collect();
    let comparison = align(sources, &sides);
    let mut boundary = boundary_differences(&products.iter().map(|p| &p.document).collect::<Vec<_>>());
    boundary.extend(own_scenarios(&products.iter().skip(1).map(|p| (p.letter.as_str(), &p.document)).collect::<Vec<_>>()));
    let sampling = Sampling::new(&comparison.study, options.seed);
    let watched = watched(&comparison);
    let Some(spread) = spread(&comparison.study, &sampling, &watched, options, stop) else { return Ok(None) };
    let (ranked_by, lines) = ranked(&comparison, yardstick)?;
    let rank = match lines {
        Some(lines) => match rank(&comparison.study, &lines, options, stop) {
            Some(rank) => Some(rank),
            None => return Ok(None),
        },
        None => None,
    };
    let problems = comparison.study.problems.clone();
    Ok(Some(Compared { products, comparison, boundary, spread, rank, problems, ranked_by }))
}

/// Lines whose ranges are shown.
fn watched(comparison: &Comparison) -> Vec<LineRef> {
    let rows = comparison.headlines.iter().chain(comparison.yards.iter().map(|y| &y.costs));
    let functions = comparison.cuts.get(&tare_analysis::compare::Cut::Function).into_iter().flatten();
    let mut lines: Vec<LineRef> =
        rows.chain(functions).flat_map(|r| r.lines.iter().chain(&r.changes)).flatten().copied().collect();
    lines.extend(comparison.best.iter().map(|b| b.total));
    lines.sort();
    lines.dedup();
    lines
}

/// What is ranked: cost per unit of the yardstick asked for, else of the first that all state, else the total.
fn ranked(comparison: &Comparison, yardstick: Option<&str>) -> Result<(String, Option<Vec<LineRef>>), Vec<Diag>> {
    let all = |lines: &[Option<LineRef>]| lines.iter().copied().collect::<Option<Vec<LineRef>>>();
    if let Some(name) = yardstick {
        let Some(yard) = comparison.yards.iter().find(|y| y.name.eq_ignore_ascii_case(name)) else {
            let known = comparison.yards.iter().map(|y| y.name.as_str());
            let diag = Diag::error("yardstick-unknown", format!("no two of the studies state the yardstick `{name}`"));
            return Err(vec![diag.at(Place::address(name)).did_you_mean(name, known)]);
        };
        return Ok((yard.costs.name.clone(), all(&yard.costs.lines)));
    }
    let alike = |yard: &&Yard| yard.qualifiers.windows(2).all(|pair| pair[0] == pair[1]);
    let yard = comparison.yards.iter().filter(alike).find_map(|y| Some((y.costs.name.clone(), all(&y.costs.lines)?)));
    if let Some((name, lines)) = yard {
        return Ok((name, Some(lines)));
    }
    let cost = comparison.headlines.first().filter(|r| r.name == "should-cost");
    Ok(("should-cost".to_owned(), cost.and_then(|r| all(&r.lines))))
}

/// The studies of a workspace that may stand beside one for a client: its own, and the house's own.
///
/// # Errors
/// One message of the store.
pub fn companions(workspace: &Workspace, beside: &Document) -> Result<Vec<DocumentInfo>, Diag> {
    let own = client(beside).map(str::to_owned);
    let mut found = Vec::new();
    for info in workspace.documents()?.into_iter().filter(|d| d.kind == DocumentKind::Study && d.id != beside.id) {
        let document = workspace.load(&info)?.document;
        if go_together(own.as_deref(), client(&document)) {
            found.push(info);
        }
    }
    Ok(found)
}

/// Whether studies of two clients may be brought together: of the same, or one is the house's own.
pub fn go_together(one: Option<&str>, other: Option<&str>) -> bool {
    match (one, other) {
        (Some(one), Some(other)) => one.to_lowercase() == other.to_lowercase(),
        _ => true,
    }
}
