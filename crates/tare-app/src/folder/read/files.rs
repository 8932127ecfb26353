//! The files beside the tables: pictures, held texts, and what is not known.

use super::super::extra::{Extra, is_head};
use super::super::layout::{PHOTOS, STUDY, TEXTS, is_of_form, is_own, table};
use super::super::raw::{RawRow, RawTable};
use super::Making;
use super::words::short;
use tare_diag::{Diag, Place};
use tare_model::{Field, FieldValue, Kind, Record};
use tare_store::Sha256;

impl Making<'_> {
    /// Takes in the file of a photo or held text, and sees that it is what its digest says.
    pub(super) fn file(&mut self, record: &mut Record, table: &RawTable, row: &RawRow, file: Option<(&str, usize)>) {
        let digest = record.text(Field::Digest).map(str::to_owned);
        let digest_at = table.columns.iter().position(|(word, _)| word == Field::Digest.word());
        let Some((path, at)) = file else {
            if digest.is_some() {
                self.lacking.push((record.id, table.place(row, digest_at)));
            }
            return;
        };
        let place = table.place(row, Some(at));
        let home = if record.kind == Kind::Photo { PHOTOS } else { TEXTS };
        if tare_exchange::plain_path(path).is_err() || !path.starts_with(home) {
            self.problem("file-place", format!("`{}` is no file of `{home}`", short(path)), place);
            return;
        }
        let Some(bytes) = self.files.get(path) else {
            let near =
                tare_diag::nearest(path, self.files.keys().map(String::as_str)).map(|near| format!("did you mean `{near}`?"));
            self.problem("file-missing", format!("there is no file `{}` in the folder", short(path)), place);
            near.into_iter().for_each(|hint| self.hint(hint));
            return;
        };
        self.claimed.insert(path.to_owned());
        let found = Sha256::of(bytes).to_string();
        match digest {
            Some(digest) if digest != found => {
                let says = format!(
                    "`{path}` is another file than its digest says ({}..., expected {}...)",
                    &found[..12],
                    short(digest.get(..12).unwrap_or(&digest))
                );
                self.problem("file-digest", says, place);
                self.hint(if record.kind == Kind::Photo {
                    "put the original back; a new picture is a new row without `digest`"
                } else {
                    "put the original back; a calculation of your own goes into `library/` of the workspace"
                });
                return;
            }
            Some(_) => {}
            None => {
                record.fields.set(Field::Digest, Some(FieldValue::Text(found.clone())));
            }
        }
        if record.kind == Kind::Photo {
            self.photos.insert(found, bytes.clone());
        } else {
            match String::from_utf8(bytes.clone()) {
                Ok(text) => drop(self.texts.insert(found, text)),
                Err(_) => drop(self.problem("file-text", format!("`{path}` is no text in UTF-8"), place)),
            }
        }
    }

    /// Keeps what is not known of the whole: files, and tables of `study.toml`.
    pub(super) fn foreign(&mut self, records: &mut [Record]) {
        for (path, bytes) in self.files {
            if is_own(path) || self.claimed.contains(path) {
                continue;
            }
            if let Err(why) = tare_exchange::plain_path(path) {
                self.problem("folder-path", format!("`{}` {why}", short(path)), Place::File(path.clone()));
                continue;
            }
            let says = format!("`{path}` is no file of a study, or no row names it; it is kept as it is");
            let tables = Kind::ALL.iter().filter_map(|kind| table(*kind)).chain([STUDY]);
            let diag = Diag::note("folder-unknown", says).at(Place::File(path.clone()));
            self.notes.push(if is_of_form(path) { diag } else { diag.did_you_mean(path, tables) });
            self.unknown.insert(path.clone(), bytes.clone());
        }
        if self.unknown.is_empty() && self.raw.unknown.is_empty() {
            return;
        }
        let Some(head) = records.iter_mut().find(|record| is_head(record.kind)) else { return };
        if head.fields.get(Field::Extra).is_some() && Extra::of(head).is_none() {
            let says = format!("`{}` of the {} leaves no room to keep unknown files and tables", Field::Extra, head.kind);
            let place = self.rows.get(&head.id).map(|(t, r)| self.raw.tables[*t].place(&self.raw.tables[*t].rows[*r], None));
            self.problem("extra-both", says, place.unwrap_or_else(|| Place::File(STUDY.to_owned())));
            return;
        }
        let mut extra = Extra::of(head).unwrap_or_default();
        extra.tables.extend(self.raw.unknown.clone());
        extra.files.extend(self.unknown.iter().map(|(path, bytes)| (path.clone(), Sha256::of(bytes).to_string())));
        head.fields.set(Field::Extra, extra.text().map(FieldValue::Text));
    }
}
