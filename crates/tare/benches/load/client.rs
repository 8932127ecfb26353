//! One person at a browser, as far as a server can tell.

use crate::Plan;
use crate::server::{Api, STUDY, escaped};
use serde_json::{Value, json};
use std::collections::HashMap;
use std::time::{Duration, Instant};

/// What is asked for, in the order of the table.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Kind {
    Overview,
    Parts,
    Part,
    Reason,
    List,
    Edit,
}

/// One request and what came of it.
#[derive(Clone, Debug)]
pub(crate) struct Deed {
    pub(crate) kind: Kind,
    /// None where the connection broke.
    pub(crate) status: Option<u16>,
    /// Milliseconds.
    pub(crate) server: Option<f64>,
    pub(crate) wall: f64,
}

/// The parts a client looks at and writes.
#[derive(Clone, Debug, Default)]
pub(crate) struct Slice {
    parts: Vec<String>,
    lines: Vec<String>,
}

impl Slice {
    pub(crate) fn take(&mut self, row: &Value) {
        self.parts.push(row["id"].as_str().expect("a part has an id").to_owned());
        self.lines.extend(row["mass"]["line"].as_str().map(escaped));
    }
}

/// A client and everything it was told.
pub(crate) struct Client {
    name: usize,
    slice: Slice,
    draw: Draw,
    edits: u32,
    pub(crate) deeds: Vec<Deed>,
    /// Words and entry number of every acknowledged edit; the words are each used once.
    pub(crate) acknowledged: Vec<(String, u64)>,
    /// Words of edits the server said no to.
    pub(crate) refused: Vec<String>,
    /// Masses that may stand: the last acknowledged, and those sent after it whose answer never came.
    pub(crate) last: HashMap<String, Vec<String>>,
}

impl Client {
    pub(crate) fn new(name: usize, slice: Slice, plan: &Plan) -> Self {
        let draw = Draw(plan.seed.wrapping_mul(1_000_003).wrapping_add(name as u64));
        let (deeds, acknowledged, refused) = (Vec::new(), Vec::new(), Vec::new());
        Self { name, slice, draw, edits: 0, deeds, acknowledged, refused, last: HashMap::new() }
    }

    /// Works until the time is over.
    pub(crate) fn work(&mut self, url: &str, plan: &Plan) {
        let mut api = Api::to(url);
        let start = Instant::now();
        loop {
            let pause = self.draw.pause(plan.think);
            if start.elapsed() + pause >= plan.time {
                return;
            }
            std::thread::sleep(pause);
            // 60 % pages, 15 % lists, 25 % edits
            let kind = match self.draw.below(100) {
                0..10 => Kind::Overview,
                10..25 => Kind::Parts,
                25..45 => Kind::Part,
                45..60 => Kind::Reason,
                60..75 => Kind::List,
                _ => Kind::Edit,
            };
            self.ask(&mut api, kind);
        }
    }

    fn ask(&mut self, api: &mut Api, kind: Kind) {
        let part = self.draw.one(&self.slice.parts).clone();
        let path = match kind {
            Kind::Overview => format!("/s/{STUDY}"),
            Kind::Parts => format!("/s/{STUDY}/parts"),
            Kind::Part => format!("/s/{STUDY}/part?of=@{part}"),
            // a study where nothing is weighed has no reasons yet
            Kind::Reason if self.slice.lines.is_empty() => format!("/s/{STUDY}"),
            Kind::Reason => format!("/s/{STUDY}/reason?line={}", self.draw.one(&self.slice.lines)),
            Kind::List => format!("/api/studies/{STUDY}/parts"),
            Kind::Edit => return self.edit(api, &part),
        };
        let start = Instant::now();
        let answer = api.wire.get(&path);
        let wall = start.elapsed().as_secs_f64() * 1e3;
        let server = answer.as_ref().ok().and_then(|answer| answer.server_time());
        self.deeds.push(Deed { kind, status: answer.ok().map(|answer| answer.status), server, wall });
    }

    /// Writes a new mass of a part and waits until the server says that it is recorded.
    fn edit(&mut self, api: &mut Api, part: &str) {
        self.edits += 1;
        let says = format!("load {} of client {}", self.edits, self.name);
        let mass = format!("{}.{} g", 1 + self.draw.below(2000), 1 + self.draw.below(9));
        let commands = json!([{"set": {"target": format!("@{part}/mass"), "to": mass}}]);
        let id = format!("{:016x}{:016x}", self.draw.next(), self.draw.next());
        let start = Instant::now();
        let answer = api.entry(&id, &says, &commands);
        let wall = start.elapsed().as_secs_f64() * 1e3;
        let server = answer.as_ref().ok().and_then(|answer| answer.server_time());
        let status = answer.as_ref().ok().map(|answer| answer.status);
        self.deeds.push(Deed { kind: Kind::Edit, status, server, wall });
        let number = answer.ok().and_then(|a| serde_json::from_slice::<Value>(&a.body).ok()).and_then(|a| a["number"].as_u64());
        match (status, number) {
            (Some(200), Some(number)) => {
                self.last.insert(part.to_owned(), vec![mass]);
                self.acknowledged.push((says, number));
            }
            (Some(400..=499), _) => self.refused.push(says),
            // recorded or not: nobody was told. Where nothing was acknowledged for the part before, nothing is claimed of it.
            _ => self.last.get_mut(part).into_iter().for_each(|texts| texts.push(mass.clone())),
        }
    }
}

/// A generator of numbers (splitmix64): the same requests in the same order for the same seed.
struct Draw(u64);

impl Draw {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut bits = self.0;
        bits = (bits ^ (bits >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        bits = (bits ^ (bits >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        bits ^ (bits >> 31)
    }

    fn below(&mut self, end: u64) -> u64 {
        self.next() % end
    }

    fn one<'a>(&mut self, of: &'a [String]) -> &'a String {
        &of[self.below(of.len() as u64) as usize]
    }

    /// A pause of an exponential distribution.
    #[expect(clippy::disallowed_methods, reason = "no result hangs on the last bit of a pause")]
    fn pause(&mut self, mean: Duration) -> Duration {
        let share = (self.next() >> 11) as f64 / (1u64 << 53) as f64;
        mean.mul_f64(-(1.0 - share).ln())
    }
}
