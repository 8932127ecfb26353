//! An expression of 30 operations over ten million draws: the tape against a plain loop, numpy and numexpr, in alternating rounds of one run.
//!
//! Results go into an array that is there already; new memory costs as much again wherever it is touched first, and has lines of its own.
//!
//! `cargo bench -p tare-engine --bench expression` prints a table. The script beside this file needs numpy and numexpr, which are installed into an
//! environment of their own under `target/` on the first run; without them the table ends with the Rust figures.
#![expect(
    clippy::disallowed_methods,
    clippy::print_stdout,
    reason = "the platform's functions are compared with; a bench prints its figures"
)]

use std::hint::black_box;
use std::io::{BufRead as _, BufReader, Write as _};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdin, ChildStdout, Command, Stdio};
use std::time::Instant;
use tare_engine::sample::Stream;
use tare_engine::{Draws, Graph, How, LANES, Lane, Op, Tape, Width, eval_point, math};

const CHUNKS: usize = 78_125;
const DRAWS: usize = CHUNKS * LANES;
const NODES: usize = 30;
const ROUNDS: usize = 9;

/// Leaves whose values were drawn before.
struct Columns<'a>([&'a [f64]; 5]);

impl Draws for Columns<'_> {
    type Scratch = ();

    #[inline(always)]
    fn ready(&self, leaf: u32, chunk: u64) -> Option<&Lane> {
        let start = chunk as usize * LANES;
        self.0[leaf as usize][start..].first_chunk()
    }

    fn fill(&self, leaf: u32, chunk: u64, lane: &mut Lane, (): &mut ()) {
        unreachable!("bug: leaf {leaf}, chunk {chunk}, {} draws: all lie ready", lane.len());
    }
}

/// The expression as a graph.
fn tape() -> Tape {
    let mut graph = Graph::default();
    let [a, b, c, d, e] = std::array::from_fn(|_| graph.leaf());
    let (one, ten) = (graph.constant(1.0), graph.constant(10.0));
    let before = graph.nodes.len();
    let mut push = |op, operands: &[u32]| graph.push(op, operands);
    let n5 = push(Op::Mul, &[a, b]);
    let n6 = push(Op::Ln, &[c]);
    let n7 = push(Op::Div, &[n6, d]);
    let n8 = push(Op::Sqrt, &[e]);
    let n9 = push(Op::Mul, &[n7, n8]);
    let n10 = push(Op::Add, &[n5, n9]);
    let n11 = push(Op::Mul, &[a, d]);
    let n12 = push(Op::Sub, &[n11, b]);
    let n13 = push(Op::Exp, &[n7]);
    let n14 = push(Op::Div, &[n12, n13]);
    let n15 = push(Op::Mul, &[n10, n14]);
    let n16 = push(Op::Sqrt, &[n10]);
    let n17 = push(Op::Add, &[n15, n16]);
    let n18 = push(Op::Mul, &[c, e]);
    let n19 = push(Op::Ln, &[n18]);
    let n20 = push(Op::Mul, &[n19, n19]);
    let n21 = push(Op::Sub, &[n17, n20]);
    let n22 = push(Op::Div, &[b, e]);
    let n23 = push(Op::Add, &[n22, one]);
    let n24 = push(Op::Mul, &[n23, n21]);
    let n25 = push(Op::Exp, &[n22]);
    let n26 = push(Op::Div, &[n24, n25]);
    let n27 = push(Op::Mul, &[d, d]);
    let n28 = push(Op::Mul, &[n27, c]);
    let n29 = push(Op::Sqrt, &[n28]);
    let n30 = push(Op::Add, &[n29, n26]);
    let n31 = push(Op::Div, &[a, n30]);
    let n32 = push(Op::Add, &[n31, ten]);
    let n33 = push(Op::Mul, &[n32, n5]);
    let n34 = push(Op::Sub, &[n33, n18]);
    assert_eq!(graph.nodes.len() - before, NODES);
    let mut values = Vec::new();
    eval_point(&graph, &[1.5; 5], &mut values);
    Tape::new(&graph, &values, &[true; 5], &[n34])
}

/// The expression as a loop.
#[inline(always)]
fn plain(columns: &[&[f64]; 5], out: &mut [f64], ln: impl Fn(f64) -> f64, exp: impl Fn(f64) -> f64) {
    let n = out.len();
    let [a, b, c, d, e] = columns.map(|column| &column[..n]);
    for k in 0..n {
        let (a, b, c, d, e) = (a[k], b[k], c[k], d[k], e[k]);
        let n5 = a * b;
        let n7 = ln(c) / d;
        let n10 = n5 + n7 * e.sqrt();
        let n14 = (a * d - b) / exp(n7);
        let n17 = n10 * n14 + n10.sqrt();
        let n18 = c * e;
        let n19 = ln(n18);
        let n21 = n17 - n19 * n19;
        let n22 = b / e;
        let n26 = (n22 + 1.0) * n21 / exp(n22);
        let n30 = (d * d * c).sqrt() + n26;
        out[k] = (a / n30 + 10.0) * n5 - n18;
    }
}

/// The loop with the engine's mathematics, compiled for the instructions the tape takes.
#[cfg_attr(target_arch = "x86_64", expect(unsafe_code, reason = "instructions that were detected may be used"))]
fn plain_ours(columns: &[&[f64]; 5], out: &mut [f64]) {
    match Width::found() {
        #[cfg(target_arch = "x86_64")]
        // SAFETY: this width was detected
        Width::Most => unsafe { plain_most(columns, out) },
        #[cfg(target_arch = "x86_64")]
        // SAFETY: as above
        Width::Middle => unsafe { plain_middle(columns, out) },
        _ => plain(columns, out, math::ln, math::exp),
    }
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx512f,avx512dq,avx512vl,avx512bw")]
fn plain_most(columns: &[&[f64]; 5], out: &mut [f64]) {
    plain(columns, out, math::ln, math::exp);
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx2")]
fn plain_middle(columns: &[&[f64]; 5], out: &mut [f64]) {
    plain(columns, out, math::ln, math::exp);
}

/// The script, once it has loaded the columns.
struct Script {
    child: Child,
    ask: ChildStdin,
    answer: BufReader<ChildStdout>,
    versions: String,
}

impl Script {
    /// Hands columns and results over and waits until the script has compared its own; says what is in the way.
    fn start(columns: &[&[f64]; 5], result: &[f64]) -> Result<Self, String> {
        let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("expression");
        let python = environment(&folder)?;
        let write = |name: String, values: &[f64]| {
            let bytes: Vec<u8> = values.iter().flat_map(|x| x.to_le_bytes()).collect();
            std::fs::write(folder.join(&name), bytes).map_err(|error| format!("{name} cannot be written ({error})"))
        };
        for (k, column) in columns.iter().enumerate() {
            write(format!("column{k}.bin"), column)?;
        }
        write("result.bin".to_owned(), result)?;
        let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("benches/expression.py");
        let started = Command::new(python).arg(script).arg(&folder).stdin(Stdio::piped()).stdout(Stdio::piped()).spawn();
        let mut child = started.map_err(|error| format!("the script does not start ({error})"))?;
        let (Some(ask), Some(answer)) = (child.stdin.take(), child.stdout.take()) else { return Err("no pipes".to_owned()) };
        let mut answer = BufReader::new(answer);
        let mut line = String::new();
        answer.read_line(&mut line).map_err(|error| error.to_string())?;
        let (versions, farthest) = line.trim().split_once('\t').ok_or("the script ended early")?;
        let farthest: f64 = farthest.parse().map_err(|_| format!("not a number: {farthest}"))?;
        assert!(farthest < 1e-12, "numpy or numexpr differ by {farthest}");
        Ok(Script { child, ask, answer, versions: format!("{versions}; they differ by {farthest:.1e} at most") })
    }

    /// The times of one round.
    fn round(&mut self) -> Vec<(String, f64)> {
        let mut line = String::new();
        let asked = self.ask.write_all(b"\n").and_then(|()| self.answer.read_line(&mut line));
        asked.expect("the script goes on");
        let fields: Vec<&str> = line.trim().split('\t').collect();
        fields.chunks_exact(2).map(|pair| (pair[0].to_owned(), pair[1].parse().expect("seconds"))).collect()
    }
}

/// A Python with numpy and numexpr, installed on the first run.
fn environment(folder: &Path) -> Result<PathBuf, String> {
    let python = folder.join(if cfg!(windows) { "venv/Scripts/python.exe" } else { "venv/bin/python" });
    let run = |program: &Path, arguments: &[&str]| {
        let done = Command::new(program).args(arguments).stdout(Stdio::null()).stderr(Stdio::null()).status();
        done.is_ok_and(|status| status.success())
    };
    let ready = || run(&python, &["-c", "import numpy, numexpr"]);
    if ready() {
        return Ok(python);
    }
    std::fs::create_dir_all(folder).map_err(|error| format!("no folder for the environment ({error})"))?;
    let venv = folder.join("venv").display().to_string();
    if !["python3", "python"].iter().any(|python| run(Path::new(python), &["-m", "venv", &venv])) {
        return Err("no Python with venv was found".to_owned());
    }
    if !run(&python, &["-m", "pip", "install", "--quiet", "numpy", "numexpr"]) || !ready() {
        return Err("numpy and numexpr could not be installed".to_owned());
    }
    Ok(python)
}

/// The machine in a line.
fn machine() -> String {
    let cpus = std::fs::read_to_string("/proc/cpuinfo").unwrap_or_default();
    let model = cpus.lines().find_map(|line| line.strip_prefix("model name")).and_then(|rest| rest.split_once(':'));
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    let model = model.map_or(std::env::consts::ARCH, |(_, name)| name.trim());
    let width = match Width::found() {
        Width::Least => "no wider than the least",
        Width::Middle => "256 bits (AVX2)",
        Width::Most => "512 bits (AVX-512)",
    };
    let load = std::fs::read_to_string("/proc/loadavg").unwrap_or_default();
    let load = load.split_whitespace().next().map_or(String::new(), |load| format!(", load {load} before"));
    format!("{model}, {cores} cores, instructions {width}{load}")
}

/// Best times by name, in the order in which they first came.
#[derive(Default)]
struct Times(Vec<(String, f64)>);

impl Times {
    fn take(&mut self, name: &str, seconds: f64) {
        match self.0.iter_mut().find(|(known, _)| known == name) {
            Some((_, best)) => *best = best.min(seconds),
            None => self.0.push((name.to_owned(), seconds)),
        }
    }

    fn best(&self, name: &str) -> Option<f64> {
        self.0.iter().find(|(known, _)| known == name).map(|(_, best)| *best)
    }
}

const ONE: &str = "tape, one thread";
const TWO: &str = "tape, two threads";
const OURS: &str = "plain loop, same mathematics";
const ONE_NEW: &str = "tape, one thread, new array";
const ONE_MIDDLE: &str = "tape, one thread, AVX2";
const OURS_MIDDLE: &str = "plain loop, same mathematics, AVX2";
const OURS_NEW: &str = "plain loop, same, new array";
const PLATFORM: &str = "plain loop, platform's ln and exp";

#[cfg_attr(target_arch = "x86_64", expect(unsafe_code, reason = "instructions that were detected may be used"))]
fn main() {
    if !std::env::args().any(|argument| argument == "--bench") {
        println!("measures nothing unless run by cargo bench");
        return;
    }
    let drawn: Vec<Vec<f64>> = (0..5_u64)
        .map(|k| {
            let stream = Stream::new("column", k);
            // six numbers ahead, as the system hands out such arrays 16 bytes behind a line of the cache: vectors then touch one line, for all alike
            let ahead = std::iter::repeat_n(0.0, 6);
            ahead.chain((0..DRAWS as u64).map(|draw| 1.0 + stream.at(draw))).collect()
        })
        .collect();
    let columns: [&[f64]; 5] = std::array::from_fn(|k| &drawn[k][drawn[k].len() - DRAWS..]);
    let (tape, draws) = (tape(), Columns(columns));
    let all = 0..CHUNKS as u64;
    let how = |threads| How { threads, ..How::default() };
    let mut results = Vec::new();

    let mut out = vec![0.0; DRAWS];
    plain(&columns, &mut out, f64::ln, f64::exp);
    let platform = out.clone();
    plain_ours(&columns, &mut out);
    let off = |x: f64, y: f64| (x - y).abs() / y.abs().max(1.0);
    let farthest = out.iter().zip(&platform).map(|(x, y)| off(*x, *y)).fold(0.0, f64::max);
    assert!(farthest < 1e-12, "the platform's functions differ by {farthest}");
    for threads in [1, 2] {
        assert!(tape.run_into(&draws, all.clone(), how(threads), &mut results));
        assert!(results[0].iter().zip(&out).all(|(x, y)| x.to_bits() == y.to_bits()), "tape and loop differ");
    }
    drop(platform);

    println!("{}", machine());
    println!("{NODES} operations, {DRAWS} draws, best of {ROUNDS} rounds; tape and loop agree in every bit");
    let mut script = Script::start(&columns, &out);
    match &script {
        Ok(script) => println!("{}", script.versions),
        Err(reason) => println!("without numpy and numexpr: {reason}"),
    }
    let mut times = Times::default();
    for _ in 0..ROUNDS {
        let mut time = |name: &str, work: &mut dyn FnMut()| {
            let start = Instant::now();
            work();
            times.take(name, start.elapsed().as_secs_f64());
        };
        time(ONE, &mut || {
            black_box(tape.run_into(&draws, all.clone(), how(1), black_box(&mut results)));
        });
        time(OURS, &mut || plain_ours(&columns, black_box(&mut out)));
        time(TWO, &mut || {
            black_box(tape.run_into(&draws, all.clone(), how(2), black_box(&mut results)));
        });
        time(PLATFORM, &mut || plain(&columns, black_box(&mut out), f64::ln, f64::exp));
        // the width on which the aim was set: wider instructions help the loop more, whose values stay in registers
        #[cfg(target_arch = "x86_64")]
        if Width::found() >= Width::Middle {
            let how = How { width: Width::Middle, ..How::default() };
            time(ONE_MIDDLE, &mut || {
                black_box(tape.run_into(&draws, all.clone(), how, black_box(&mut results)));
            });
            // SAFETY: this width was detected
            time(OURS_MIDDLE, &mut || unsafe { plain_middle(&columns, black_box(&mut out)) });
        }
        time(ONE_NEW, &mut || drop(black_box(tape.run(&draws, all.clone(), how(1)))));
        time(OURS_NEW, &mut || {
            let mut new = vec![0.0; DRAWS];
            plain_ours(&columns, &mut new);
            drop(black_box(new));
        });
        for (name, seconds) in script.as_mut().map(Script::round).unwrap_or_default() {
            times.take(&name, seconds);
        }
    }
    report(&times);
    if let Ok(Script { mut child, ask, .. }) = script {
        drop(ask);
        // it ends with its input; how does not matter any more
        let _ = child.wait();
    }
}

fn report(times: &Times) {
    println!("\n{:36}{:>9}{:>16}{:>22}", "", "ms", "ns / node-draw", "of tape, one thread");
    let one = times.best(ONE).unwrap_or(f64::NAN);
    for (name, seconds) in &times.0 {
        let each = seconds * 1e9 / (DRAWS * NODES) as f64;
        println!("{name:36}{:>9.1}{each:>16.3}{:>22.2}", seconds * 1e3, seconds / one);
    }
    let ratio = |of: &str, to: &str| Some(times.best(of)? / times.best(to)?);
    let aims = [
        (ratio(ONE, OURS), "tape by plain loop with the same mathematics, at most", 1.3),
        (ratio(ONE_MIDDLE, OURS_MIDDLE), "the same, both with AVX2, at most", 1.3),
        (ratio(ONE_NEW, OURS_NEW), "the same, both with new arrays, at most", 1.3),
        (ratio("numpy, chunks of 4096", ONE), "numpy in chunks by tape, at least", 1.6),
        (ratio("numexpr, one thread", ONE), "numexpr on one thread by tape, at least", 2.2),
        (ratio(ONE, TWO), "one thread by two threads, at least", 1.8),
    ];
    println!();
    for (found, what, aim) in aims {
        match found {
            Some(found) => println!("{what:56}{aim:>5}: {found:.2}"),
            None => println!("{what:56}{aim:>5}: not measured"),
        }
    }
}
