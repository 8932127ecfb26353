//! All line values of a study as texts: what a release keeps so that a later computation can be held against it bit by bit.

use serde::{Deserialize, Deserializer, Serialize, Serializer};
use std::collections::{HashMap, VecDeque};
use std::fmt::Write;
use tare_study::{LineRef, Study};

/// A number by its bits; serialised as 16 hexadecimal digits. What is no number has many bit patterns and counts as one.
#[derive(Clone, Copy, Debug)]
pub struct Bits(pub f64);

impl Bits {
    fn bits(self) -> u64 {
        if self.0.is_nan() { 0x7ff8_0000_0000_0000 } else { self.0.to_bits() }
    }
}

impl PartialEq for Bits {
    fn eq(&self, other: &Self) -> bool {
        self.bits() == other.bits()
    }
}

impl Serialize for Bits {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(&format_args!("{:016x}", self.bits()))
    }
}

impl<'de> Deserialize<'de> for Bits {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        read_bits(&text).map(Self).ok_or_else(|| serde::de::Error::custom("expected 16 hexadecimal digits"))
    }
}

fn read_bits(text: &str) -> Option<f64> {
    let plain = text.len() == 16 && text.bytes().all(|b| b.is_ascii_hexdigit());
    u64::from_str_radix(text, 16).ok().filter(|_| plain).map(f64::from_bits)
}

/// Every leaf and every line of every block, by address, with its value in SI.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Values {
    pub(crate) rows: Vec<(String, Bits)>,
}

/// A line that is not what it was.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Differing {
    pub(crate) address: String,
    /// Its value then; none where there was no such line.
    pub(crate) then: Option<f64>,
    /// Its value now; none where there is no such line.
    pub(crate) now: Option<f64>,
}

/// The lines of a study in a fixed order.
pub(crate) fn lines(study: &Study) -> impl Iterator<Item = LineRef> {
    let leaves = (0..study.lines.leaves.len() as u32).map(LineRef::Leaf);
    leaves.chain((0..study.lines.blocks.len() as u32).flat_map(|block| study.lines.lines_of(block)))
}

/// The lines of a study, each with that of the same address in another: of several with one address the first with the first.
pub(crate) fn paired(before: &Study, after: &Study) -> Vec<(LineRef, Option<LineRef>)> {
    let mut there: HashMap<String, VecDeque<LineRef>> = HashMap::new();
    for line in lines(after) {
        there.entry(after.lines.address(line)).or_default().push_back(line);
    }
    let other = |line| there.get_mut(&before.lines.address(line)).and_then(VecDeque::pop_front);
    lines(before).zip(lines(before).map(other).collect::<Vec<_>>()).collect()
}

impl Values {
    pub(crate) fn of(study: &Study) -> Self {
        // an address stands on one line of the text
        let row = |line| (study.lines.address(line).replace('\n', " "), Bits(study.value(line)));
        Self { rows: lines(study).map(row).collect() }
    }

    /// The addresses as a text: each as the number of characters it has in common with the one before, and the rest.
    pub(crate) fn names(&self) -> String {
        let (mut text, mut before) = (String::new(), "");
        for (name, _) in &self.rows {
            let common = name.chars().zip(before.chars()).take_while(|(a, b)| a == b).count();
            let rest = name.char_indices().nth(common).map_or("", |(at, _)| &name[at..]);
            let _ = writeln!(text, "{common} {rest}");
            before = name;
        }
        text
    }

    /// The values as a text: 16 digits each.
    pub(crate) fn values(&self) -> String {
        let mut text = String::with_capacity(self.rows.len() * 16);
        for (_, value) in &self.rows {
            let _ = write!(text, "{:016x}", value.bits());
        }
        text
    }

    /// Reads both texts; none where they are no such texts.
    pub(crate) fn read(names: &str, values: &str) -> Option<Self> {
        let (mut rows, mut before) = (Vec::new(), String::new());
        let mut values = values.as_bytes().chunks(16);
        for line in names.split_terminator('\n') {
            let (common, rest) = line.split_once(' ')?;
            let name: String = before.chars().take(common.parse().ok()?).chain(rest.chars()).collect();
            let value = read_bits(std::str::from_utf8(values.next()?).ok()?)?;
            before.clone_from(&name);
            rows.push((name, Bits(value)));
        }
        values.next().is_none().then_some(Self { rows })
    }

    /// The first line that is not what it is in `now`. Lines that came beside them are no difference.
    pub(crate) fn first_difference(&self, now: &Self) -> Option<Differing> {
        if self.rows.len() == now.rows.len() {
            let apart = |((then, a), (now, b)): &(&(String, Bits), &(String, Bits))| then != now || a != b;
            let (then, found) = self.rows.iter().zip(&now.rows).find(apart)?;
            if then.0 == found.0 {
                return Some(Differing { address: then.0.clone(), then: Some(then.1.0), now: Some(found.1.0) });
            }
        }
        // not the same lines: each by its name
        let mut there: HashMap<&str, VecDeque<Bits>> = HashMap::new();
        for (name, value) in &now.rows {
            there.entry(name).or_default().push_back(*value);
        }
        self.rows.iter().find_map(|(name, then)| {
            let found = there.get_mut(name.as_str()).and_then(VecDeque::pop_front);
            let differs = found != Some(*then);
            differs.then(|| Differing { address: name.clone(), then: Some(then.0), now: found.map(|bits| bits.0) })
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn values(rows: &[(&str, f64)]) -> Values {
        Values { rows: rows.iter().map(|(name, value)| ((*name).to_owned(), Bits(*value))).collect() }
    }

    #[test]
    fn texts_read_back() {
        let all = values(&[("P1/mass", 1.5), ("P1/maß", -0.0), ("", f64::NAN), ("P1/maß/x\r", f64::INFINITY)]);
        assert_eq!(all.names(), "0 P1/mass\n5 ß\n0 \n0 P1/maß/x\r\n");
        assert_eq!(Values::read(&all.names(), &all.values()), Some(all.clone()));
        assert_eq!(Values::read(&all.names(), &all.values()[1..]), None);
        assert_eq!(Values::read("x", "0"), None);
    }

    #[test]
    fn the_first_line_that_differs_is_named() {
        let then = values(&[("a", 1.0), ("b", 2.0), ("b", 3.0)]);
        assert_eq!(then.first_difference(&then), None);
        let next = f64::from_bits(2f64.to_bits() + 1);
        let found = then.first_difference(&values(&[("a", 1.0), ("b", next), ("b", 4.0)])).expect("one bit");
        assert_eq!((found.address.as_str(), found.then, found.now), ("b", Some(2.0), Some(next)));
        assert_eq!(then.first_difference(&values(&[("new", 9.0), ("a", 1.0), ("b", 2.0), ("b", 3.0)])), None, "more lines");
        let found = then.first_difference(&values(&[("a", 1.0), ("b", 2.0)])).expect("one is gone");
        assert_eq!((found.address.as_str(), found.then, found.now), ("b", Some(3.0), None));
        assert!(values(&[("z", 0.0)]).first_difference(&values(&[("z", -0.0)])).is_some(), "the sign of nothing is a bit too");
    }
}
