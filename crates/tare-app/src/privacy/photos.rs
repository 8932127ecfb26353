//! Photos: others get copies that do not say where they were taken, under the digest of the copy. The digest of the stored file would let somebody who
//! has the copy try places out until it fits.

use super::Masked;
use crate::photo::without_location;
use std::collections::BTreeMap;
use tare_diag::Diag;
use tare_model::{Document, Field, FieldValue, Kind, Record};
use tare_store::Sha256;

impl Masked {
    /// Names photos by the digest of the copy that others get, and gives the stored digest of each. One without a copy (not held, damaged, not to be
    /// cleaned) loses its digest, so that nobody gets it.
    pub fn clean_photos(&mut self, stored: impl Fn(&str) -> Result<Option<Vec<u8>>, Diag>) -> BTreeMap<String, String> {
        let mut found = BTreeMap::new();
        let mut left = Vec::new();
        let clean = |digest: &str| match stored(digest) {
            Ok(Some(bytes)) => without_location(&bytes).map(|copy| Some(Sha256::of(&copy).to_string())),
            Ok(None) => Ok(None),
            Err(problem) => Err(problem),
        };
        let each = |mut record: Record| {
            if record.kind != Kind::Photo {
                return record;
            }
            let Some(digest) = record.text(Field::Digest).map(str::to_owned) else { return record };
            let copy = clean(&digest).unwrap_or_else(|problem| {
                left.push(format!("a picture is left out, since no copy without its place can be made: {}", problem.message));
                None
            });
            if let Some(copy) = &copy {
                found.insert(copy.clone(), digest);
            }
            record.fields.set(Field::Digest, copy.map(FieldValue::Text));
            record
        };
        let records: Vec<Record> = self.document.records().cloned().map(each).collect();
        self.document = Document::from_records(self.document.id, self.document.kind, records);
        self.told.look.extend(left);
        found
    }
}
