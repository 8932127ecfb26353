//! The indented parts list.

use super::filling::Filling;
use crate::view::count_text;
use tare_model::{Field, Kind};
use tare_report::PartRow;
use tare_study::MassHow;

pub(super) fn parts(f: &mut Filling<'_>) -> Vec<PartRow> {
    f.group = "Parts".to_owned();
    let rows = f.study.parts.clone();
    let photos: Vec<(String, Vec<tare_model::Id>)> =
        f.document.of_kind(None, Kind::Photo).map(|p| (p.id.to_string(), p.all_refers(Field::Parts).to_vec())).collect();
    let mut found = Vec::with_capacity(rows.len());
    for (at, part) in rows.iter().enumerate() {
        let how = f.study.mass.get(at).map_or(MassHow::Unknown, |m| m.how);
        let note = match how {
            MassHow::Difference | MassHow::Share => format!("mass {}", how.word()),
            MassHow::Unknown => "mass unknown".to_owned(),
            _ => String::new(),
        };
        let mass = part.mass.map(|m| f.scaled(m, part.count, 4).resting_on(how.word()));
        let cost = part.cost.map(|c| f.scaled(c, part.count, 4));
        found.push(PartRow {
            id: part.label.clone(),
            level: u32::try_from(part.level).unwrap_or(u32::MAX),
            label: part.label.clone(),
            name: part.name.clone(),
            count: count_text(part.count),
            item: String::new(),
            material: material(f, &part.material),
            source: part.make.clone(),
            process: part.processes.join(", "),
            mass,
            cost,
            photos: photos.iter().filter(|(_, parts)| parts.contains(&part.id)).map(|(id, _)| id.clone()).collect(),
            review: String::new(),
            note,
        });
    }
    found
}

pub(super) fn material(f: &Filling<'_>, key: &str) -> String {
    f.library.material(key).map_or_else(|| key.to_owned(), |m| m.name.clone())
}
