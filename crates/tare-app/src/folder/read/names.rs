//! What columns are about, and what rows are called.

use super::super::layout::{FILE, ID, REF, STUDY, UNDER, has_file};
use super::super::raw::Content;
use super::words::one;
use super::{Column, Making};
use crate::text_form::id_of;
use std::collections::HashMap;
use std::fmt::Write;
use tare_diag::{Diag, Place};
use tare_model::{Field, FieldType, Kind};

impl Making<'_> {
    /// What each column is about; two of one name and missing ones are told.
    pub(super) fn columns(&mut self) {
        for table in &self.raw.tables {
            let schema = table.kind.schema();
            let in_table = table.file != STUDY;
            let mut found: Vec<Column> = Vec::new();
            for (at, (word, place)) in table.columns.iter().enumerate() {
                let column = match word.as_str() {
                    REF => Column::Ref,
                    ID => Column::Id,
                    UNDER => Column::Under,
                    FILE if has_file(table.kind) => Column::File,
                    word => match Field::from_word(word).and_then(|field| Some((field, schema.field(field)?))) {
                        Some((field, ty)) => Column::Field(field, ty),
                        None => Column::Unknown,
                    },
                };
                if in_table && !word.is_empty() && table.columns[..at].iter().any(|(other, _)| other == word) {
                    self.problem("column-twice", format!("the column `{word}` is there twice"), place.clone());
                }
                if column == Column::Unknown && !word.is_empty() {
                    let known = schema.fields.iter().map(|(field, ..)| field.word()).chain([REF, ID, UNDER]);
                    let says = format!("{} has no `{word}`; it is kept as it is", one(table.kind));
                    self.notes.push(Diag::note("folder-unknown", says).at(place.clone()).did_you_mean(word, known));
                }
                found.push(column);
            }
            if in_table && !table.rows.is_empty() {
                let missing = schema.fields.iter().filter(|(_, _, needed)| *needed).map(|(field, ..)| field.word());
                let under = (!schema.parents.is_empty() && table.kind != Kind::Part).then_some(UNDER);
                for word in missing.chain(under).filter(|word| !table.columns.iter().any(|(known, _)| known == word)) {
                    let near = tare_diag::nearest(word, table.columns.iter().map(|(known, _)| known.as_str()));
                    let hint = near.map(|near| format!("is it the column `{near}`?"));
                    self.problem(
                        "column-missing",
                        format!("the column `{word}` is missing"),
                        Place::cell(&table.file, None, 0, 0),
                    );
                    hint.into_iter().for_each(|hint| self.hint(hint));
                }
            }
            self.columns.push(found);
        }
    }

    /// Gives each row its identifier and its word.
    pub(super) fn identify(&mut self) {
        // A row without identifier gets the same one each time the folder is read, so that a folder taken twice adds nothing twice.
        let header = &self.raw.header;
        let set =
            format!("folder {} {}", header.id, header.entry_id.map_or_else(|| header.entry.to_string(), |id| id.to_string()));
        for (t, table) in self.raw.tables.iter().enumerate() {
            let column = |wanted: Column| self.columns[t].iter().position(|column| *column == wanted);
            let (id_at, ref_at) = (column(Column::Id), column(Column::Ref));
            let label_at = column(Column::Field(Field::Label, FieldType::Text));
            let (mut ids, mut same) = (Vec::with_capacity(table.rows.len()), HashMap::<String, usize>::new());
            for (r, row) in table.rows.iter().enumerate() {
                let text = |at: Option<usize>| match at.and_then(|at| table.cell(row, at)) {
                    Some(Content::Text(text)) => Some(text.trim()),
                    _ => None,
                };
                let stated = text(id_at).filter(|id| !id.is_empty());
                let own = text(ref_at).filter(|word| !word.is_empty());
                // a row that is not named is called by its label, unless another row is called so
                let word = own.or_else(|| text(label_at).filter(|word| !word.is_empty()));
                let id = match stated {
                    Some(text) => crate::id_of_text(text).unwrap_or_else(|| {
                        let says = format!("`{text}` is no identifier, which has 32 hexadecimal digits");
                        self.problem("id-form", says, table.place(row, id_at));
                        self.hint("leave the cell empty for a new row; a spreadsheet may have taken it for a number");
                        id_of(&set, &format!("{t}/{r}"))
                    }),
                    None => {
                        let mut path = match own {
                            Some(word) => format!("{}.{word}", table.kind),
                            None => format!("{} {:?}", table.kind, row.cells),
                        };
                        let count = same.entry(path.clone()).or_insert(0);
                        *count += 1;
                        if *count > 1 {
                            let _ = write!(path, " {count}");
                        }
                        id_of(&set, &path)
                    }
                };
                if let Some((other, at)) = self.rows.get(&id) {
                    let other = &self.raw.tables[*other];
                    let first = other.rows.get(*at).map(|row| other.place(row, None));
                    let says = format!("the identifier {id} is that of another row");
                    let diag = self.problem("id-twice", says, table.place(row, id_at));
                    if let Some(first) = first {
                        diag.related.push((first, "the other row".to_owned()));
                    }
                    self.hint("empty the cell of a row that was copied");
                } else {
                    self.rows.insert(id, (t, r));
                    self.kinds.insert(id, table.kind);
                }
                if let Some(known) = self.base.and_then(|base| base.get(id)).filter(|known| known.kind != table.kind) {
                    let says = format!("the study has {} of this identifier, found {}", one(known.kind), one(table.kind));
                    self.problem("id-kind", says, table.place(row, id_at));
                }
                if let Some(word) = word {
                    let words = self.words.entry(table.kind).or_default();
                    let other = words.get(word).copied();
                    if other.is_none() {
                        words.insert(word.to_owned(), id);
                    }
                    if let (Some(other), Some(_)) = (other, own) {
                        let first = self
                            .rows
                            .get(&other)
                            .and_then(|(t, r)| Some(self.raw.tables[*t].place(self.raw.tables[*t].rows.get(*r)?, ref_at)));
                        let says = format!("another {} is called `{word}`", table.kind);
                        let diag = self.problem("ref-twice", says, table.place(row, ref_at));
                        if let Some(first) = first {
                            diag.related.push((first, "the other row".to_owned()));
                        }
                    }
                }
                ids.push(id);
            }
            self.ids.push(ids);
        }
    }
}
