//! Choosing among several values of a quantity.

use super::{Editing, Intent, Target, one};
use crate::clock;
use tare_diag::{Diag, Place};
use tare_model::{Change, Field, FieldValue, Kind, Record};

impl Editing<'_> {
    pub(super) fn choose(&self, target: &str, which: &str, why: Option<&str>) -> Result<Intent, Vec<Diag>> {
        let Target::Quantity { subject, quantity, .. } = self.target(target).map_err(one)? else {
            return Err(one(Diag::error("target", format!("`{target}` is no quantity, so there is nothing to choose"))
                .at(Place::address(target))));
        };
        let name = format!("{} {quantity}", self.addresses.of(subject.id));
        let standing: Vec<&Record> = self.stated(subject.id, &quantity).collect();
        let known = self.document.of_kind(Some(subject.id), Kind::Choose).filter(|c| c.text(Field::Quantity) == Some(&quantity));
        let mut changes: Vec<Change> = known.map(|c| Change::Remove { id: c.id }).collect();
        if which == "none" {
            if changes.is_empty() {
                let says = format!("{name} has no choice to take back; nothing was changed");
                return Err(one(Diag::error("choose-none", says).at(Place::address(target))));
            }
            return Ok(Intent { changes, says: format!("{name}: choice taken back") });
        }
        if standing.is_empty() {
            let stated = self.document.of_kind(Some(subject.id), Kind::Value).filter_map(|v| v.text(Field::Quantity));
            let diag = Diag::error("choose", format!("nothing is stated of {name}, so there is nothing to choose"));
            return Err(one(diag.at(Place::address(target)).did_you_mean(&quantity, stated)));
        }
        let mut record =
            Record::new(clock::new_id(), Kind::Choose).under(subject.id).ordered(self.document.last_order(Some(subject.id)));
        record = record.with_text(Field::Quantity, quantity);
        if let Some(why) = why {
            record = record.with_text(Field::Says, why);
        }
        let says = match which.parse::<usize>() {
            Ok(number) if (1..=standing.len()).contains(&number) => {
                let value = standing[number - 1];
                record = record.with_text(Field::Method, "one").with(Field::Value, FieldValue::Ref(value.id));
                format!("{name}: chosen {}", value.text(Field::Text).unwrap_or("?"))
            }
            _ if matches!(which, "mean" | "weighted mean") && standing.len() > 1 => {
                record = record.with_text(Field::Method, which);
                format!("{name}: chosen the {which} of {} values", standing.len())
            }
            _ => {
                let each: Vec<String> = standing
                    .iter()
                    .enumerate()
                    .map(|(i, v)| format!("{} {}", i + 1, v.text(Field::Text).unwrap_or("?")))
                    .collect();
                let diag = Diag::error("choose", format!("`{which}` chooses nothing; {name} has {} values", standing.len()))
                    .at(Place::address(target));
                return Err(one(diag.hint(format!("choose by number, `mean`, `weighted mean` or `none`: {}", each.join(", ")))));
            }
        };
        changes.push(Change::Add { record });
        Ok(Intent { changes, says })
    }
}
