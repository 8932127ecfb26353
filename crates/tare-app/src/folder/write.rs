//! A study to the files of its folder.

use super::Folder;
use super::extra::{Extra, is_head};
use super::layout::{self, FILE, FORM, ID, PHOTOS, README, REF, STUDY, TEXTS, UNDER, has_file, has_ref, sequence};
use super::refs::refs;
use crate::photo::Format;
use crate::toml_text::{key, quoted};
use crate::workspace::kind_word;
use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::fmt::Write;
use tare_exchange::{Files, csv_field, keep_text};
use tare_model::{Document, Field, FieldType, FieldValue, Id, Kind, Record};

const EXPLAINED: &str = "\
This folder is a study (or rate book) of Tare: a form to read, compare, edit and hand on.
study.toml says which one, and holds what there is little of; each table holds one kind of record, one row each.
Open tables as UTF-8 with commas; save them as CSV with commas. An apostrophe before a text keeps it text: leave it there.
The order of the rows counts. `ref` is how other tables name a row; `under` names the record a row stands under.
To add a row, leave `id` empty (and give it a `ref`). To remove one, delete it and the rows that stand under it or name it.
Values are one statement each: quantity, text with unit (7.42 kg, 12.5 +- 0.2 mm), evidence.
photos/ holds the pictures as they came from the camera, which may have written in them where they were taken.
texts/ holds the calculations, materials and rates that the study computes with; they are checked by their digest.
Columns, tables and files that Tare does not know are kept. The history stays in the workspace.
Read it back with `tare new --from FOLDER`, or into the study it came from with `tare import FOLDER`.
";

/// Writes a study as files.
pub fn write(folder: &Folder) -> Files {
    let document = &folder.document;
    let sequence = sequence(document);
    let refs = refs(document, &sequence);
    let mut writing = Writing { folder, refs, head: None, files: Files::new(), named: BTreeMap::new(), taken: BTreeMap::new() };
    writing.head = sequence.iter().find(|record| is_head(record.kind)).map(|record| record.id);
    let mut kinds: BTreeMap<Kind, Vec<&Record>> = BTreeMap::new();
    for record in &sequence {
        kinds.entry(record.kind).or_default().push(record);
    }
    for path in folder.files.keys() {
        writing.files.insert(path.clone(), folder.files[path].clone());
        writing.taken.insert(path.to_lowercase(), None);
    }
    writing.files.insert(README.to_owned(), EXPLAINED.as_bytes().to_vec());
    for kind in [Kind::Photo, Kind::Lock] {
        for record in kinds.get(&kind).into_iter().flatten() {
            writing.file_of(record);
        }
    }
    let mut small = writing.head_text(kinds.keys().filter_map(|kind| layout::table(*kind)));
    for (kind, records) in &kinds {
        match layout::table(*kind) {
            Some(file) => {
                let text = writing.table(*kind, records);
                writing.files.insert(file.to_owned(), text.into_bytes());
            }
            None => records.iter().for_each(|record| writing.toml(&mut small, record)),
        }
    }
    writing.files.insert(STUDY.to_owned(), small.into_bytes());
    writing.files
}

struct Writing<'a> {
    folder: &'a Folder,
    refs: HashMap<Id, String>,
    /// The record that keeps what is not known of the whole.
    head: Option<Id>,
    files: Files,
    /// The file of a photo or text, by record.
    named: BTreeMap<Id, String>,
    /// The paths given, in small letters, since some systems take large ones for the same; `None` where a file of another program stands.
    taken: BTreeMap<String, Option<String>>,
}

impl Writing<'_> {
    fn document(&self) -> &Document {
        &self.folder.document
    }

    /// How a row names a record: its word, else its identifier; with its kind where several may stand there.
    fn named(&self, id: Id, kinds: &[Kind]) -> String {
        let word = self.refs.get(&id).cloned().unwrap_or_else(|| id.to_string());
        match self.document().get(id) {
            Some(record) if kinds.len() > 1 => format!("{}.{word}", record.kind),
            _ => word,
        }
    }

    /// Puts the picture of a photo or the text of a lock among the files, once where several name the same content.
    fn file_of(&mut self, record: &Record) {
        let Some(digest) = record.text(Field::Digest) else { return };
        let (wish, bytes) = match record.kind {
            Kind::Photo => {
                let Some(bytes) = self.folder.photos.get(digest) else { return };
                let end = match Format::of(bytes) {
                    Ok(Format::Jpeg) => "jpg",
                    Ok(Format::Png) => "png",
                    Ok(Format::WebP) => "webp",
                    Err(_) => "bin",
                };
                (format!("{PHOTOS}{}.{end}", path_of(self.refs.get(&record.id).map_or("photo", String::as_str))), bytes.clone())
            }
            _ => {
                let Some(text) = self.folder.texts.get(digest) else { return };
                let key = record.text(Field::Key).unwrap_or_default();
                let end = if key.starts_with("books/") { "json" } else { "toml" };
                (format!("{TEXTS}{}.{end}", path_of(key)), text.clone().into_bytes())
            }
        };
        let (stem, end) = wish.rsplit_once('.').unwrap_or((&wish, "bin"));
        let mut path = wish.clone();
        let mut number = 1;
        let same = |path: &String| self.files.get(path).is_some_and(|there| *there == bytes);
        while self.taken.get(&path.to_lowercase()).is_some_and(|by| by.as_ref() != Some(&path) || !same(&path)) {
            number += 1;
            path = format!("{stem}_{number}.{end}");
        }
        self.taken.insert(path.to_lowercase(), Some(path.clone()));
        self.files.insert(path.clone(), bytes);
        self.named.insert(record.id, path);
    }

    /// What is not known of a record and goes back to where it was found; or the text of `extra` as it is.
    fn extra(&self, record: &Record) -> (Option<Extra>, Option<String>) {
        let known = |word: &str| column_is_known(record.kind, word);
        match Extra::of(record) {
            Some(extra)
                if (self.head == Some(record.id) || (extra.tables.is_empty() && extra.files.is_empty()))
                    && !extra.cells.keys().any(|word| word.is_empty() || known(word))
                    && (layout::table(record.kind).is_some() || extra.cells.values().all(|text| is_toml(text)))
                    && extra.tables.iter().all(|(word, text)| {
                        Kind::from_word(word).is_none() && !matches!(word.as_str(), "form" | "document") && is_toml(text)
                    })
                    && extra.files.keys().all(|path| self.folder.files.contains_key(path)) =>
            {
                (Some(extra), None)
            }
            _ => (None, record.text(Field::Extra).map(str::to_owned)),
        }
    }

    fn table(&self, kind: Kind, records: &[&Record]) -> String {
        let schema = kind.schema();
        let used = |field: Field| schema.requires(field) || records.iter().any(|record| record.fields.get(field).is_some());
        let fields: Vec<(Field, FieldType)> =
            schema.fields.iter().filter(|(field, ..)| used(*field)).map(|(field, ty, _)| (*field, *ty)).collect();
        let extras: Vec<(Option<Extra>, Option<String>)> = records.iter().map(|record| self.extra(record)).collect();
        let unknown: BTreeSet<&str> =
            extras.iter().flat_map(|(extra, _)| extra).flat_map(|extra| extra.cells.keys()).map(String::as_str).collect();
        let raw = extras.iter().any(|(_, raw)| raw.is_some());
        let mut titles: Vec<String> = Vec::new();
        titles.extend(has_ref(kind).then(|| REF.to_owned()));
        titles.extend((!schema.parents.is_empty()).then(|| UNDER.to_owned()));
        titles.extend(fields.iter().map(|(field, _)| field.word().to_owned()));
        titles.extend(has_file(kind).then(|| FILE.to_owned()));
        titles.extend(raw.then(|| Field::Extra.word().to_owned()));
        titles.extend(unknown.iter().map(|word| csv_field(&keep_text(word))));
        titles.push(ID.to_owned());
        let mut out = titles.join(",");
        out.push('\n');
        for (record, (extra, raw_text)) in records.iter().zip(&extras) {
            let mut first = true;
            let mut put = |content: &str| {
                if !first {
                    out.push(',');
                }
                first = false;
                out.push_str(&csv_field(content));
            };
            if has_ref(kind) {
                put(&keep_text(self.refs.get(&record.id).map_or("", String::as_str)));
            }
            if !schema.parents.is_empty() {
                put(&record.parent.map_or_else(String::new, |parent| keep_text(&self.named(parent, schema.parents))));
            }
            for (field, ty) in &fields {
                put(&record.fields.get(*field).map_or_else(String::new, |value| self.cell(value, *ty)));
            }
            if has_file(kind) {
                put(&self.named.get(&record.id).map_or_else(String::new, |path| keep_text(path)));
            }
            if raw {
                put(&raw_text.as_deref().map_or_else(String::new, keep_text));
            }
            for word in &unknown {
                put(&extra.as_ref().and_then(|extra| extra.cells.get(*word)).map_or_else(String::new, |text| keep_text(text)));
            }
            put(&keep_text(&record.id.to_string()));
            out.push('\n');
        }
        out
    }

    fn cell(&self, value: &FieldValue, ty: FieldType) -> String {
        match value {
            FieldValue::Text(text) => keep_text(text),
            FieldValue::Number(number) => {
                let text = number.to_string();
                // a spreadsheet computes with 15 digits
                let digits = text.trim_start_matches(['-', '0', '.']).bytes().filter(u8::is_ascii_digit).count();
                if digits > 15 { format!("'{text}") } else { text }
            }
            FieldValue::Flag(flag) => if *flag { "yes" } else { "no" }.to_owned(),
            FieldValue::Ref(id) => keep_text(&self.named(*id, kinds_of(ty))),
            FieldValue::Refs(ids) => {
                let each: Vec<String> = ids.iter().map(|id| self.named(*id, kinds_of(ty))).collect();
                keep_text(&each.join("; "))
            }
        }
    }

    fn head_text<'t>(&self, tables: impl Iterator<Item = &'t str>) -> String {
        let folder = self.folder;
        let mut out = String::from("# A study of Tare as a folder: README.txt says how to read and change it.\n");
        let _ = writeln!(out, "form = {FORM}");
        let head = self.head.and_then(|id| self.document().get(id));
        if let Some((Some(extra), _)) = head.map(|head| self.extra(head)) {
            for (word, text) in &extra.tables {
                let _ = writeln!(out, "{} = {text}", key(word));
            }
        }
        let _ = writeln!(out, "\n[document]\nid = \"{}\"", folder.document.id);
        let _ = writeln!(out, "kind = \"{}\"", kind_word(folder.document.kind));
        let _ = writeln!(out, "entry = {}", folder.entry);
        if let Some(id) = folder.entry_id {
            let _ = writeln!(out, "entry_id = \"{id}\"");
        }
        let tables: Vec<String> = tables.map(quoted).collect();
        let _ = writeln!(out, "tables = [{}]", tables.join(", "));
        out
    }

    fn toml(&self, out: &mut String, record: &Record) {
        let kind = record.kind;
        let _ = writeln!(out, "\n[[{kind}]]");
        if has_ref(kind) {
            let _ = writeln!(out, "{REF} = {}", quoted(self.refs.get(&record.id).map_or("", String::as_str)));
        }
        let _ = writeln!(out, "{ID} = \"{}\"", record.id);
        if let Some(parent) = record.parent {
            let _ = writeln!(out, "{UNDER} = {}", quoted(&self.named(parent, kind.schema().parents)));
        }
        for (field, ty, _) in kind.schema().fields {
            let Some(value) = record.fields.get(*field) else { continue };
            let shown = match value {
                FieldValue::Text(text) => quoted(text),
                FieldValue::Number(number) => number.to_string(),
                FieldValue::Flag(flag) => flag.to_string(),
                FieldValue::Ref(id) => quoted(&self.named(*id, kinds_of(*ty))),
                FieldValue::Refs(ids) => {
                    let each: Vec<String> = ids.iter().map(|id| quoted(&self.named(*id, kinds_of(*ty)))).collect();
                    format!("[{}]", each.join(", "))
                }
            };
            let _ = writeln!(out, "{field} = {shown}");
        }
        let (extra, raw) = self.extra(record);
        if let Some(raw) = raw {
            let _ = writeln!(out, "{} = {}", Field::Extra, quoted(&raw));
        }
        for (word, text) in extra.iter().flat_map(|extra| &extra.cells) {
            let _ = writeln!(out, "{} = {text}", key(word));
        }
    }
}

/// Whether a column or key of a kind's rows means something to this program.
pub(super) fn column_is_known(kind: Kind, word: &str) -> bool {
    matches!(word, REF | ID | UNDER)
        || (word == FILE && has_file(kind))
        || Field::from_word(word).is_some_and(|f| kind.schema().field(f).is_some())
}

pub(super) fn kinds_of(ty: FieldType) -> &'static [Kind] {
    match ty {
        FieldType::Ref(kinds) | FieldType::Refs(kinds) => kinds,
        _ => &[],
    }
}

/// Names that some system takes for devices, whatever ends them.
const DEVICES: &[&str] = &["con", "prn", "aux", "nul", "com", "lpt"];

/// The path of a file by the key of a text: with everything replaced that some system takes for something else.
fn path_of(key: &str) -> String {
    let letter = |c: char| if c.is_alphanumeric() || matches!(c, '-' | '_' | '.') { c } else { '_' };
    let part = |part: &str| {
        let name: String = part.trim_matches('.').chars().take(60).map(letter).collect();
        let stem = name.split('.').next().unwrap_or_default().trim_end_matches(|c: char| c.is_ascii_digit()).to_lowercase();
        if DEVICES.contains(&stem.as_str()) { format!("_{name}") } else { name }
    };
    let path: Vec<String> = key.split('/').map(part).filter(|part| !part.is_empty()).take(6).collect();
    if path.is_empty() { "text".to_owned() } else { path.join("/") }
}

/// Whether a text is one value of TOML on a line.
fn is_toml(text: &str) -> bool {
    text.parse::<toml::Value>().is_ok_and(|value| value.to_string() == text)
}

#[cfg(test)]
mod tests {
    use super::*;
    use tare_store::Sha256;

    #[test]
    fn no_system_takes_one_file_for_another() {
        for (key, path) in [
            ("motions/tmu", "motions/tmu"),
            ("../../etc/x", "etc/x"),
            ("a/CON", "a/_CON"),
            ("lpt1.old", "_lpt1.old"),
            ("a:b\\c", "a_b_c"),
            ("console", "console"),
            ("/", "text"),
        ] {
            assert_eq!(path_of(key), path);
        }
        let mut texts = BTreeMap::new();
        let locks = ["own/Press", "own/press", "own/PRESS"].into_iter().zip(["1", "2", "1"]).zip(1..).map(|((key, text), n)| {
            let digest = Sha256::of(text.as_bytes()).to_string();
            texts.insert(digest.clone(), text.to_owned());
            Record::new(Id(n), Kind::Lock).with_text(Field::Key, key).with_text(Field::Digest, digest)
        });
        let document = Document::from_records(Id(9), tare_model::DocumentKind::Study, locks.collect());
        let (photos, files) = (BTreeMap::new(), Files::new());
        let written = write(&Folder { document, entry: 1, entry_id: None, photos, texts, files });
        let texts: Vec<&str> = written.keys().map(String::as_str).filter(|path| path.starts_with(TEXTS)).collect();
        assert_eq!(texts, ["texts/own/PRESS_3.toml", "texts/own/Press.toml", "texts/own/press_2.toml"]);
    }
}
