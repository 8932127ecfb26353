//! `tare report --watch`: the file follows the study.
//!
//! Each state is written twice. At once with everything that takes a moment: stated values, first-order spreads and every table; what takes
//! seconds is said to be on its way. Then, computed beside on a thread that the next entry stops, with all draws, drivers, ideas and comparison.

use super::{Args, Wanted};
use crate::command::{Context, Outcome};
use crate::output::Output;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, TryRecvError, channel};
use std::time::{Duration, Instant, SystemTime};
use tare_app::report::{Report, put_pictures_kept};
use tare_app::{Id, Session, Stop, Workspace, compare, files, report};
use tare_diag::Diag;

/// How often the journals are looked at.
const LOOK: Duration = Duration::from_millis(15);

/// What the report rests on: the last entry of every document, and the files of the own library.
#[derive(Clone, Debug, PartialEq, Eq)]
struct State {
    heads: Vec<(Id, u64)>,
    library: Vec<(PathBuf, u64, Option<SystemTime>)>,
}

impl State {
    fn of(workspace: &Workspace) -> Result<Self, Diag> {
        let heads = workspace.documents()?.iter().map(|d| (d.id, d.head)).collect();
        let mut library = Vec::new();
        listed(&workspace.folder().join("library"), 0, &mut library);
        library.sort();
        Ok(Self { heads, library })
    }
}

/// Files below a folder with their size and time; none where there is no such folder.
fn listed(folder: &Path, depth: usize, found: &mut Vec<(PathBuf, u64, Option<SystemTime>)>) {
    for entry in std::fs::read_dir(folder).into_iter().flatten().flatten() {
        let path = entry.path();
        match entry.metadata() {
            Ok(of) if of.is_dir() && depth < 8 => listed(&path, depth + 1, found),
            Ok(of) => found.push((path, of.len(), of.modified().ok())),
            Err(_) => {}
        }
    }
}

/// A report being computed beside.
struct Beside {
    stop: Arc<AtomicBool>,
    done: Receiver<Result<Report, Vec<Diag>>>,
    began: Instant,
    /// The entry it is of.
    entry: u64,
}

impl Drop for Beside {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
    }
}

/// What is kept from one writing to the next.
struct Watching<'a> {
    args: &'a Args,
    context: &'a Context,
    session: Session,
    file: PathBuf,
    /// Pictures made small, by their digest.
    pictures: BTreeMap<String, Option<String>>,
}

pub(super) fn run(args: &Args, context: &Context, output: &mut Output) -> Outcome {
    let stop = Arc::new(AtomicBool::new(false));
    for signal in [signal_hook::consts::SIGINT, signal_hook::consts::SIGTERM] {
        // without an ear the key ends the program at once, as it would anyway
        let _ = signal_hook::flag::register(signal, Arc::clone(&stop));
    }
    let session = context.session(false, output)?;
    let mut watching = Watching { args, context, session, file: args.file(context), pictures: BTreeMap::new() };
    // a study that is not there, or a file that may not be written, is said at once and not waited for
    let mut state = State::of(&watching.session.workspace).map_err(|d| vec![d])?;
    let mut beside = watching.write(output)?;
    if !output.json {
        output.line("Watching; Ctrl-C ends it.");
    }
    output.flush();
    while !stop.load(Ordering::Relaxed) {
        std::thread::sleep(LOOK);
        match beside.as_ref().map(|b| b.done.try_recv()) {
            None | Some(Err(TryRecvError::Empty)) => {}
            // a thread that broke off has said why on standard error
            Some(Err(TryRecvError::Disconnected)) => beside = None,
            Some(Ok(report)) => {
                if let Some(of) = beside.take() {
                    watching.put(report, &of, output);
                }
            }
        }
        let now = match State::of(&watching.session.workspace) {
            Ok(now) if now != state => now,
            // a journal that another program has locked is looked at again
            _ => continue,
        };
        drop(beside.take());
        if now.library != state.library {
            match context.session(false, output) {
                Ok(session) => watching.session = session,
                Err(problems) => output.messages(&problems),
            }
        }
        state = now;
        beside = watching.write(output).unwrap_or_else(|problems| {
            output.messages(&problems);
            None
        });
        output.flush();
    }
    Ok(true)
}

fn millis(time: Duration) -> serde_json::Value {
    u64::try_from(time.as_millis()).unwrap_or(u64::MAX).into()
}

/// One object of JSON on one line, since what is watched has no end.
fn line(output: &Output, value: &serde_json::Value) {
    output.line(value.to_string());
}

impl Watching<'_> {
    /// Writes the present state at once and begins what takes longer.
    fn write(&mut self, output: &Output) -> Result<Option<Beside>, Vec<Diag>> {
        let began = Instant::now();
        let (info, loaded) = self.context.document(&self.session.workspace)?;
        let study = self.session.compiled(&info, &loaded)?;
        let compiled = began.elapsed();
        let wanted = self.args.on_paper(Wanted::new(&self.args.content)?);
        let mut filled = report::fill(&loaded.document, &study, &self.session.library, loaded.head, None);
        wanted.set_printing(&mut filled);
        let later = [("ranges", wanted.options.most > 0), ("ideas", wanted.ideas()), ("compare", wanted.comparison())];
        filled.printing.computing = later.iter().filter(|(_, wanted)| *wanted).map(|(id, _)| (*id).to_owned()).collect();
        let waits = !filled.printing.computing.is_empty();
        let printed = self.printed(&mut filled, &loaded.document, &wanted);
        let filled_at = began.elapsed();
        files::write(&self.file, printed.as_bytes()).map_err(|d| vec![d])?;
        let done = began.elapsed();
        let steps = [("computed", compiled), ("laid out", filled_at - compiled), ("file", done - filled_at)];
        if output.json {
            let steps: serde_json::Map<_, _> = steps.iter().map(|(what, took)| ((*what).to_owned(), millis(*took))).collect();
            line(
                output,
                &serde_json::json!({ "report": self.file.display().to_string(), "entry": loaded.head, "ms": millis(done), "steps_ms": steps, "whole": !waits }),
            );
        } else {
            let steps: Vec<String> = steps.iter().map(|(what, took)| format!("{what} {}", took.as_millis())).collect();
            output.line(format!("entry {}: written in {} ms ({})", loaded.head, done.as_millis(), steps.join(", ")));
        }
        Ok(waits.then(|| self.beside(info.name.clone(), loaded.head)))
    }

    fn printed(&mut self, filled: &mut Report, document: &tare_app::Document, wanted: &Wanted<'_>) -> String {
        if wanted.has("photos") {
            let workspace = &self.session.workspace;
            put_pictures_kept(filled, document, |digest| workspace.photo(digest).ok().flatten(), &mut self.pictures);
        }
        report::html(filled)
    }

    /// Computes the whole report of the present state on a thread of its own.
    fn beside(&self, name: String, entry: u64) -> Beside {
        let (stop, began) = (Arc::new(AtomicBool::new(false)), Instant::now());
        let (tell, done) = channel();
        let (folder, args, stopped) = (self.context.folder(), self.args.clone(), Arc::clone(&stop));
        std::thread::spawn(move || {
            let whole = || {
                let mut session = Session::open(&folder, false)?;
                let info = session.workspace.study(Some(&name)).map_err(|d| vec![d])?;
                let loaded = session.workspace.load(&info).map_err(|d| vec![d])?;
                let study = session.compiled(&info, &loaded)?;
                let stop = Stop { stop: Some(&stopped), ..Stop::default() };
                let studies = match args.content.against.is_empty() {
                    true => Vec::new(),
                    false => compare::load(&session.workspace, &args.content.compared(&info.name))?,
                };
                let wanted = args.on_paper(Wanted::new(&args.content)?);
                wanted.whole(&session, &loaded.document, &study, loaded.head, studies, stop)
            };
            // who no longer waits has a newer state
            let _ = tell.send(whole());
        });
        Beside { stop, done, began, entry }
    }

    /// Writes what was computed beside.
    fn put(&mut self, computed: Result<Report, Vec<Diag>>, of: &Beside, output: &Output) {
        let written = computed.and_then(|mut filled| {
            let (_, loaded) = self.context.document(&self.session.workspace)?;
            let wanted = self.args.on_paper(Wanted::new(&self.args.content)?);
            let printed = self.printed(&mut filled, &loaded.document, &wanted);
            files::write(&self.file, printed.as_bytes()).map_err(|d| vec![d])
        });
        let took = of.began.elapsed();
        match written {
            Err(problems) => output.messages(&problems),
            Ok(()) if output.json => line(
                output,
                &serde_json::json!({ "report": self.file.display().to_string(), "entry": of.entry, "ms": millis(took), "whole": true }),
            ),
            Ok(()) => output.line(format!("  all draws, drivers, ideas: written after {:.1} s", took.as_secs_f64())),
        }
        output.flush();
    }
}
