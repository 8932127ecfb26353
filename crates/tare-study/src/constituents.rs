//! Constituents of an item, as written: `PA66-GF30 70 %; EPDM 30 %`.

use crate::builder::Builder;
use tare_diag::{Diag, Place};
use tare_model::Field;

/// Names and shares; nothing where any of it cannot be read, so that no mass is shared out by half a list.
pub fn constituents(text: &str) -> Vec<(String, f64)> {
    read(text).unwrap_or_default()
}

/// Names and shares, or what is wrong with each entry.
fn read(text: &str) -> Result<Vec<(String, f64)>, Vec<String>> {
    let (mut found, mut wrong) = (Vec::new(), Vec::new());
    for entry in text.split(';').map(str::trim).filter(|e| !e.is_empty()) {
        let share = |entry: &str| {
            let (name, share) = entry.strip_suffix('%')?.trim_end().rsplit_once(' ')?;
            Some((name.trim().to_owned(), share.parse::<f64>().ok()?))
        };
        match share(entry) {
            Some((name, share)) if share > 0.0 && share <= 100.0 && !name.is_empty() => found.push((name, share / 100.0)),
            Some((_, share)) => {
                wrong.push(format!("the share of `{entry}` is {share} %; expected more than 0 and at most 100 %"))
            }
            None => wrong.push(format!("`{entry}` is no constituent; expected a material and its share, such as `EPDM 30 %`")),
        }
    }
    let percent = found.iter().map(|(_, s)| s).sum::<f64>() * 100.0;
    if percent > 100.0 + 1e-6 {
        wrong.push(format!("the constituents add up to {} %", (percent * 1e6).round() / 1e6));
    }
    if found.is_empty() && wrong.is_empty() {
        wrong.push("no constituent is named".to_owned());
    }
    if wrong.is_empty() { Ok(found) } else { Err(wrong) }
}

impl Builder<'_> {
    /// Says which constituents cannot be read or are not known to the library.
    pub(crate) fn check_constituents(&mut self) {
        let library = self.sources.library;
        for item in self.index.items.clone() {
            let Some(text) = item.text(Field::Constituents) else { continue };
            let place = Place::address(format!("{}/constituents", self.item_address(item.id)));
            match read(text) {
                Err(wrong) => {
                    for says in wrong {
                        let diag = Diag::error("constituents", says).at(place.clone());
                        self.problem(diag.hint("write `PA66-GF30 70 %; EPDM 30 %`; what is left to 100 % is shown as other"));
                    }
                }
                Ok(found) => {
                    for (name, _) in found {
                        // A family (copper, steel) is as good as a grade: only the name is used.
                        if library.material(&name).is_some() || library.materials().any(|m| m.family == name) {
                            continue;
                        }
                        let says = format!("the library has no material or family `{name}`; its mass is shown under that name");
                        let diag = Diag::warning("material-unknown", says).at(place.clone());
                        self.problem(diag.did_you_mean(&name, library.materials().map(|m| m.key.as_str())));
                    }
                }
            }
        }
    }
}
