//! Cards of parts for a wall.

use super::filling::{Filling, joined};
use super::record;
use crate::basis::Basis;
use crate::view::count_text;
use std::collections::BTreeMap;
use tare_diag::Diag;
use tare_library::Library;
use tare_model::{Document, Field, Id, Kind};
use tare_report::{Card, Cards, Photo};
use tare_study::Study;

/// Which parts get a card.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Choice {
    /// Label of the part under which they sit; it gets a card too. The product where none is named.
    pub under: Option<String>,
    /// How deep: 1 for what sits directly in that part. As deep as it goes where nothing is said.
    pub level: Option<usize>,
}

/// Cards of the parts chosen, each with the id of its part.
///
/// # Errors
/// One message: no part has that label (with the nearest).
pub fn cards(
    document: &Document,
    study: &Study,
    library: &Library,
    head: u64,
    choice: &Choice,
    bytes_of: impl Fn(&str) -> Option<Vec<u8>>,
) -> Result<(Cards, Vec<Id>), Diag> {
    let rows = &study.parts;
    let first = match &choice.under {
        None => 0,
        Some(label) => rows.iter().position(|p| p.label.eq_ignore_ascii_case(label)).ok_or_else(|| {
            Diag::error("part-unknown", format!("no part has the label `{label}`"))
                .did_you_mean(label, rows.iter().map(|p| p.label.as_str()))
                .hint("`tare parts` lists the labels")
        })?,
    };
    let above = rows.get(first).map_or(0, |p| p.level);
    let within = rows.iter().skip(first + 1).take_while(|p| p.level > above).count() + 1;
    let deepest = choice.level.map_or(usize::MAX, |level| above + level);
    let chosen: Vec<usize> = (first..(first + within).min(rows.len())).filter(|at| rows[*at].level <= deepest).collect();
    let mut f = Filling::new(document, study, library, None);
    let mut pictures = Pictures { photos: record::photos(&f), document, known: BTreeMap::new() };
    let basis = Basis::new(document, study);
    let cards = chosen.iter().map(|at| card(&mut f, *at, &mut pictures, &bytes_of)).collect();
    let sheet = Cards {
        title: f.study_name(),
        invented: basis.illustrative.then(|| super::head::INVENTED.to_owned()),
        basis: basis.line(),
        state: format!("entry {head} of the journal, {}", crate::clock::today()),
        cards,
        ..Cards::default()
    };
    Ok((sheet, chosen.iter().map(|at| rows[*at].id).collect()))
}

fn card(f: &mut Filling<'_>, at: usize, pictures: &mut Pictures<'_>, bytes_of: &impl Fn(&str) -> Option<Vec<u8>>) -> Card {
    let part = f.study.parts[at].clone();
    let spread = |f: &mut Filling<'_>, line| {
        let figure = f.rounded(line);
        f.about(line, figure)
    };
    let mut path = Vec::new();
    let mut above = part.parent;
    while let Some(parent) = above {
        path.push(f.study.parts[parent].name.clone());
        above = f.study.parts[parent].parent;
    }
    path.reverse();
    let count = match part.parent {
        None => count_text(part.pieces),
        Some(_) if part.pieces == part.count => format!("{} in the product", count_text(part.pieces)),
        Some(_) => format!("{} in each, {} in the product", count_text(part.count), count_text(part.pieces)),
    };
    let picture = pictures.of(part.id, &part.label, bytes_of);
    let (photo, shows, callouts) = picture.map_or_else(Default::default, |p| (p.data, p.caption, p.callouts));
    Card {
        label: part.label.clone(),
        name: part.name.clone(),
        path: path.join(" \u{203a} "),
        count,
        mass: part.mass.map(|line| spread(f, line)),
        material: super::parts::material(f, &part.material),
        cost: part.cost.map(|line| spread(f, line)),
        make: joined([Some(part.make.as_str()), Some(part.processes.join(", ").as_str())], ": "),
        photo,
        shows,
        callouts,
        code: String::new(),
    }
}

/// Photos of the study; each is made small once.
struct Pictures<'a> {
    photos: Vec<Photo>,
    document: &'a Document,
    known: BTreeMap<String, Option<String>>,
}

impl Pictures<'_> {
    /// The photo of a part, else one on which a call-out points at it; of call-outs only those that point at it.
    fn of(&mut self, part: Id, label: &str, bytes_of: &impl Fn(&str) -> Option<Vec<u8>>) -> Option<Photo> {
        let own = self
            .document
            .of_kind(None, Kind::Photo)
            .find(|p| p.all_refers(Field::Parts).contains(&part))
            .map(|p| p.id.to_string());
        let points = |p: &&Photo| p.callouts.iter().any(|c| c.part.as_deref() == Some(label));
        let found = self.photos.iter().find(|p| Some(&p.id) == own.as_ref()).or_else(|| self.photos.iter().find(points))?;
        let mut photo = found.clone();
        photo.callouts.retain(|c| c.part.as_deref() == Some(label));
        let id = photo.id.clone();
        let digest = crate::id_of_text(&id).and_then(|id| self.document.get(id)).and_then(|r| r.text(Field::Digest));
        let small = || super::small(&bytes_of(digest?)?);
        photo.data = self.known.entry(id).or_insert_with(small).clone();
        photo.data.is_some().then_some(photo)
    }
}
