//! The commands, one file each, and what they share.

mod ask;
mod calc;
mod compare;
mod cost;
mod demo;
mod doctor;
mod drivers;
mod edit;
mod explain;
mod export;
mod export_folder;
mod history;
mod idea;
mod ideas;
mod import;
mod import_folder;
mod joints;
mod mass;
mod new;
mod next;
mod parts;
mod release;
mod renewal;
mod report;
mod serve;
mod spread;
mod time;
mod verify;
mod walk;

use crate::output::Output;
use crate::progress::Progress;
use clap::{Args, Parser, Subcommand};
use std::cell::RefCell;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use tare_app::privacy::{Class, Readers, Told};
use tare_app::release::{Program, Release};
use tare_app::{Basis, DocumentInfo, DocumentKind, Loaded, Session, Study, Workspace};
use tare_diag::{Diag, Place, any_error};

/// Things to look at that are listed on a terminal.
const LOOK: usize = 8;

/// What a command comes to: whether all is well, or why nothing was done.
pub(crate) type Outcome = Result<bool, Vec<Diag>>;

/// Strip a product down, and know what it weighs, how it goes together and what it should cost.
///
/// Every number can be followed back to a reading, a published source or a stated assumption.
#[derive(Debug, Parser)]
#[command(name = "tare", version, propagate_version = true, after_help = EXAMPLES, disable_help_subcommand = true)]
pub(crate) struct Cli {
    #[command(flatten)]
    pub(crate) global: Global,
    #[command(subcommand)]
    pub(crate) command: Command,
}

const EXAMPLES: &str = "\
Examples:
  tare demo                               make the example and its report
  tare cost                               what it should cost, by kind and item
  tare explain cost                       why, down to readings and sources
  tare import list.xlsx --dry-run         what an import would take
  tare release make --says \"for ...\"       freeze it under a number
  tare edit set P12/mass \"7.5 kg\"         change a reading; `tare undo` takes it back

The workspace is --workspace, else TARE_WORKSPACE, else ./tare-work (else ./tare-demo, else this folder, where that is one).
Exit codes: 0 all is well, 1 something is wrong and said, 2 the command line does not read.";

/// Options of every command.
#[derive(Debug, Args)]
pub(crate) struct Global {
    /// Folder of the workspace
    #[arg(long, global = true, value_name = "DIR", help_heading = "Everywhere")]
    workspace: Option<PathBuf>,
    /// Study (or rate book) by name, where the workspace holds several
    #[arg(long, global = true, value_name = "NAME", help_heading = "Everywhere")]
    study: Option<String>,
    /// Show the study as of a release, with the texts it froze; nothing can be recorded then
    #[arg(long, global = true, value_name = "N", help_heading = "Everywhere")]
    release: Option<u64>,
    /// Who records entries (else TARE_AUTHOR, else the user's name)
    #[arg(long, global = true, value_name = "NAME", help_heading = "Everywhere")]
    author: Option<String>,
    /// Print results as JSON
    #[arg(long, global = true, help_heading = "Everywhere")]
    pub(crate) json: bool,
}

/// For whom something is written: options of commands that give something away.
#[derive(Clone, Debug, Args)]
pub(crate) struct ReaderArgs {
    /// For whom: own (nothing is masked), client, or open (anybody)
    #[arg(long = "for", global = true, value_name = "WHOM", default_value = "own", value_parser = ["own", "client", "open"])]
    whom: String,
    /// Leave licensed prices out, instead of giving them as bands
    #[arg(long, global = true)]
    withhold: bool,
}

impl ReaderArgs {
    pub(crate) fn readers(&self) -> Readers {
        Readers { class: Class::from_word(&self.whom).unwrap_or_default(), withhold: self.withhold }
    }

    /// The word for the readers where they are others than the people of the workspace.
    pub(crate) fn others(&self) -> Option<&str> {
        self.readers().are_others().then_some(self.whom.as_str())
    }
}

/// What to do.
#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    Demo(demo::Args),
    New(new::Args),
    Import(import::Args),
    Export(export::Args),
    Parts(parts::Args),
    Mass(mass::Args),
    Joints(joints::Args),
    Time(time::Args),
    Cost(cost::Args),
    Explain(explain::Args),
    Spread(spread::Args),
    Drivers(drivers::Args),
    Next(next::Args),
    Ideas(ideas::Args),
    Idea(idea::Args),
    Compare(compare::Args),
    Walk(walk::Args),
    Ask(ask::Args),
    Edit(edit::Args),
    History(history::Args),
    Release(release::Args),
    Undo(history::UndoArgs),
    Redo(history::RedoArgs),
    Calc(calc::Args),
    Verify(verify::Args),
    Report(report::Args),
    Serve(serve::Args),
    Doctor(doctor::Args),
}

/// Runs a command.
pub(crate) fn run(command: Command, context: &Context, output: &mut Output) -> Outcome {
    if let Some(number) = context.release.filter(|_| !command.shows_one_study()) {
        let says = format!("this command does not work on a release, found `--release {number}`");
        let hint = "parts, mass, joints, time, cost, explain, spread, drivers, next, walk, report and export (workbook, parts) do; a release is never changed";
        return Err(vec![Diag::error("release-reads", says).at(Place::address("--release")).hint(hint)]);
    }
    match command {
        Command::Demo(args) => demo::run(&args, context, output),
        Command::New(args) => new::run(&args, context, output),
        Command::Import(args) => import::run(&args, context, output),
        Command::Export(args) => export::run(&args, context, output),
        Command::Parts(args) => parts::run(&args, context, output),
        Command::Mass(args) => mass::run(&args, context, output),
        Command::Joints(args) => joints::run(&args, context, output),
        Command::Time(args) => time::run(&args, context, output),
        Command::Cost(args) => cost::run(&args, context, output),
        Command::Explain(args) => explain::run(&args, context, output),
        Command::Spread(args) => spread::run(&args, context, output),
        Command::Drivers(args) => drivers::run(&args, context, output),
        Command::Next(args) => next::run(&args, context, output),
        Command::Ideas(args) => ideas::run(&args, context, output),
        Command::Idea(args) => idea::run(&args, context, output),
        Command::Compare(args) => compare::run(&args, context, output),
        Command::Ask(args) => ask::run(&args, context, output),
        Command::Walk(args) => walk::run(&args, context, output),
        Command::Edit(args) => edit::run(&args, context, output),
        Command::History(args) => history::run(&args, context, output),
        Command::Release(args) => release::run(&args, context, output),
        Command::Undo(args) => history::undo(&args, context, output),
        Command::Redo(args) => history::redo(&args, context, output),
        Command::Calc(args) => calc::run(&args, context, output),
        Command::Verify(args) => verify::run(&args, context, output),
        Command::Report(args) => report::run(&args, context, output),
        Command::Serve(args) => serve::run(&args, context, output),
        Command::Doctor(args) => doctor::run(&args, context, output),
    }
}

impl Command {
    /// Whether it reads one study and nothing else, so that it can show a release.
    fn shows_one_study(&self) -> bool {
        use Command as C;
        if let C::Export(args) = self {
            return args.shows_one_study();
        }
        matches!(
            self,
            C::Parts(_)
                | C::Mass(_)
                | C::Joints(_)
                | C::Time(_)
                | C::Cost(_)
                | C::Explain(_)
                | C::Spread(_)
                | C::Drivers(_)
                | C::Next(_)
                | C::Walk(_)
                | C::Report(_)
        )
    }
}

/// Where and as whom a command works.
#[derive(Debug)]
pub(crate) struct Context {
    workspace: Option<PathBuf>,
    study: Option<String>,
    /// The release that is shown instead of the study as it is.
    pub(crate) release: Option<u64>,
    pub(crate) author: String,
    /// For whom it works: others than the people of the workspace get nothing but masked documents.
    readers: Readers,
    /// What was masked for them.
    told: RefCell<Vec<Told>>,
}

/// An open study, compiled.
pub(crate) struct Open {
    pub(crate) session: Session,
    pub(crate) info: DocumentInfo,
    pub(crate) loaded: Loaded,
    pub(crate) study: Arc<Study>,
    /// The release it is shown as of.
    pub(crate) release: Option<Release>,
}

/// The document a command records in.
pub(crate) struct Written {
    pub(crate) info: DocumentInfo,
    /// Whether it is one of several and nobody named it.
    unsaid: bool,
}

impl Written {
    /// Where an entry went, for the end of its line; nothing where that goes without saying.
    pub(crate) fn place(&self) -> String {
        if self.unsaid { format!(" (in {})", self.info.name) } else { String::new() }
    }
}

impl Context {
    pub(crate) fn new(global: &Global) -> Self {
        let from = |name: &str| std::env::var(name).ok().filter(|v| !v.is_empty());
        let workspace = global.workspace.clone().or_else(|| from("TARE_WORKSPACE").map(PathBuf::from));
        let author = global.author.clone().or_else(|| from("TARE_AUTHOR")).or_else(|| from("USER")).or_else(|| from("USERNAME"));
        let author = author.unwrap_or_else(|| "unnamed".to_owned());
        let (study, release) = (global.study.clone(), global.release);
        Self { workspace, study, release, author, readers: Readers::default(), told: RefCell::default() }
    }

    /// For a workspace and study that are known.
    pub(crate) fn of(folder: &Path, study: &str, author: &str) -> Self {
        Self {
            workspace: Some(folder.to_path_buf()),
            study: Some(study.to_owned()),
            release: None,
            author: author.to_owned(),
            readers: Readers::default(),
            told: RefCell::default(),
        }
    }

    /// The same for readers: whatever is opened from here on is masked for them.
    pub(crate) fn for_readers(&self, readers: Readers) -> Self {
        let (workspace, study, author) = (self.workspace.clone(), self.study.clone(), self.author.clone());
        Self { workspace, study, release: self.release, author, readers, told: RefCell::default() }
    }

    /// What was masked for the readers, study by study; nothing for the people of the workspace.
    pub(crate) fn told(&self) -> Vec<Told> {
        self.told.borrow().clone()
    }

    /// The study that was named.
    pub(crate) fn study_named(&self) -> Option<&str> {
        self.study.as_deref()
    }

    /// The workspace folder; `otherwise` where none is named.
    pub(crate) fn folder_or(&self, otherwise: &str) -> PathBuf {
        self.workspace.clone().unwrap_or_else(|| PathBuf::from(otherwise))
    }

    /// The workspace folder: named, or the usual one, or the demo where only that is there, or this folder if it is one.
    pub(crate) fn folder(&self) -> PathBuf {
        let there = |name: &str| Path::new(name).join("workspace.sqlite").exists();
        // Where nothing else is said, a folder that is a workspace means itself.
        let usual = ["tare-work", "tare-demo", "."].into_iter().find(|name| there(name)).unwrap_or("tare-work");
        self.folder_or(usual)
    }

    /// Opens workspace and library; lines of the workspace's own library files show in messages.
    pub(crate) fn session(&self, write: bool, output: &mut Output) -> Result<Session, Vec<Diag>> {
        let folder = self.folder();
        for (name, text) in tare_app::own_files(&folder)? {
            output.knows(&format!("library/{name}"), &text);
        }
        let session = Session::open(&folder, write)?;
        output.briefly(&session.library_problems, "`tare doctor` shows them all");
        Ok(session.for_readers(self.readers))
    }

    /// Masks a document for the readers and says what was masked, and what to look at before giving anything away.
    pub(crate) fn masked(
        &self,
        session: &mut Session,
        info: DocumentInfo,
        loaded: Loaded,
        output: &Output,
    ) -> Result<(DocumentInfo, Loaded), Vec<Diag>> {
        if !self.readers.are_others() {
            return Ok((info, loaded));
        }
        let (info, loaded, told) = session.masked(info, loaded)?;
        let mut said = vec![Diag::note("masked", told.line())];
        if !told.look.is_empty() {
            let mut look = Diag::warning("look", "before you give it away, look at what nobody but you can tell");
            look.hints = told.look.iter().take(LOOK).cloned().collect();
            if told.look.len() > LOOK {
                look.hints.push(format!("and {} more; `--json` lists them all", told.look.len() - LOOK));
            }
            said.push(look);
        }
        output.messages(&said);
        self.told.borrow_mut().push(told);
        Ok((info, loaded))
    }

    /// The document a command reads, masked for the readers, with its session.
    pub(crate) fn read(&self, output: &mut Output) -> Result<(Session, DocumentInfo, Loaded), Vec<Diag>> {
        let mut session = self.session(false, output)?;
        let (info, loaded) = self.found(&session.workspace, Workspace::study)?;
        let (info, loaded) = self.masked(&mut session, info, loaded, output)?;
        Ok((session, info, loaded))
    }

    /// The document a command works on, as it is: the named study or book, or the study begun first. For other readers use [`Context::read`].
    pub(crate) fn document(&self, workspace: &Workspace) -> Result<(DocumentInfo, Loaded), Vec<Diag>> {
        if self.readers.are_others() {
            return Err(vec![Diag::error("not-masked", "bug: a study that was not masked was to be given to others")]);
        }
        self.found(workspace, Workspace::study)
    }

    /// The document a command records in: as [`Context::document`], but a part of a name will not do.
    pub(crate) fn document_to_write(&self, workspace: &Workspace) -> Result<(Written, Loaded), Vec<Diag>> {
        let (info, loaded) = self.found(workspace, Workspace::study_of_whole_name)?;
        let studies = workspace.documents().map_err(|d| vec![d])?;
        let several = studies.iter().filter(|d| d.kind == DocumentKind::Study).count() > 1;
        Ok((Written { unsaid: self.study.is_none() && several, info }, loaded))
    }

    fn found(
        &self,
        workspace: &Workspace,
        study: impl Fn(&Workspace, Option<&str>) -> Result<DocumentInfo, Diag>,
    ) -> Result<(DocumentInfo, Loaded), Vec<Diag>> {
        let one = |diag| vec![diag];
        let info = match &self.study {
            Some(name) => {
                let book = workspace.documents().map_err(one)?.into_iter().find(|d| d.name == *name);
                book.map_or_else(|| study(workspace, Some(name)), Ok).map_err(one)?
            }
            // where nobody names one, the study begun first; every table says its name
            None => match workspace.documents().map_err(one)?.into_iter().find(|d| d.kind == DocumentKind::Study) {
                Some(first) => first,
                None => study(workspace, None).map_err(one)?,
            },
        };
        let loaded = workspace.load(&info).map_err(one)?;
        Ok((info, loaded))
    }

    /// Refuses what no release can show: it would be computed with more than the release froze.
    pub(crate) fn not_of_a_release(&self, what: &str, hint: &str) -> Result<(), Vec<Diag>> {
        let Some(number) = self.release else { return Ok(()) };
        let says = format!("{what} would need more than a release froze, found `--release {number}`");
        Err(vec![Diag::error("release-reads", says).at(Place::address("--release")).hint(hint)])
    }

    /// The study a command reads, compiled.
    pub(crate) fn open(&self, output: &mut Output) -> Result<Open, Vec<Diag>> {
        let _progress = Progress::of("computing the study");
        if let Some(number) = self.release {
            let mut session = self.session(false, output)?;
            let (info, _) = self.found(&session.workspace, Workspace::study)?;
            let (release, loaded) = session.turn_to_release(&info, number)?;
            let (mut info, loaded) = self.masked(&mut session, info, loaded, output)?;
            let study = session.compiled(&info, &loaded)?;
            // what is masked need not come to what was released
            if !self.readers.are_others() {
                output.messages(session.not_as_released(&release, &study, &Program::this()).as_slice());
            }
            info.name = format!("{}, release {number}", info.name);
            return Ok(Open { session, info, loaded, study, release: Some(release) });
        }
        let (mut session, info, loaded) = self.read(output)?;
        let study = session.compiled(&info, &loaded)?;
        // what is masked differs from any text there is
        let newer = if self.readers.are_others() { Vec::new() } else { session.newer_texts(&loaded.document)? };
        if !newer.is_empty() {
            let named: Vec<&str> = newer.iter().take(4).map(String::as_str).collect();
            let more = if newer.len() > named.len() { format!(" and {} more", newer.len() - named.len()) } else { String::new() };
            let says = format!("the study holds earlier texts of {}{more}", named.join(", "));
            let hint = "`tare edit renew --dry-run` shows what they would change, `tare edit renew` takes the present texts";
            output.messages(&[Diag::note("texts-newer", says).hint(hint)]);
        }
        Ok(Open { session, info, loaded, study, release: None })
    }
}

/// Prints messages of the computation and tells whether they hold no error.
pub(crate) fn said(problems: &[Diag], output: &Output) -> bool {
    output.by_kind(problems);
    !any_error(problems)
}

impl Open {
    /// How the headlines are drawn: at most as often as asked, else as the release was that is shown.
    pub(crate) fn draws(&self, asked: Option<u64>) -> Result<tare_app::Options, Vec<Diag>> {
        let usual = tare_app::ranges::report_options();
        match (&self.release, asked) {
            (Some(release), None) => release.frozen.draws.options(usual.threads).map_err(|diag| vec![diag]),
            (_, asked) => Ok(tare_app::Options { most: asked.unwrap_or(usual.most), ..usual }),
        }
    }

    /// Ends a command that shows what draws say: as JSON under a name with the problems of the study, or printed with its errors. `well` tells
    /// whether the draws went well.
    pub(crate) fn show<V: serde::Serialize>(
        &self,
        name: &str,
        view: &V,
        well: bool,
        output: &mut Output,
        print: impl FnOnce(&V, &Output),
    ) -> Outcome {
        let problems = &self.study.problems;
        if output.json {
            let rows = tare_app::view::problem_rows(problems);
            output.json(&serde_json::json!({ "study": self.info.name, name: view, "problems": rows }));
            return Ok(well && !any_error(problems));
        }
        output.line(&self.info.name);
        output.line("");
        print(view, output);
        Ok(without_error(problems, output) && well)
    }
}

/// Prints the errors of the computation and tells whether there are none: for commands whose numbers hang on them, but that have nothing to do
/// with warnings.
fn without_error(problems: &[Diag], output: &Output) -> bool {
    let errors: Vec<Diag> = problems.iter().filter(|d| d.is_error()).cloned().collect();
    said(&errors, output)
}

/// Says that draws failed, where they did.
pub(crate) fn failed(failed: usize, draws: u64, name: &str, output: &Output) {
    if failed > 0 {
        let says =
            format!("{name}: no number in {failed} of {draws} draws, which are left out; `tare spread {name}` shows the first");
        output.wrapped("", &says);
    }
}

/// Whether a message is about the order of work on the specimen: every table of the study shows it.
pub(crate) fn concerns_order(diag: &Diag) -> bool {
    matches!(diag.code, "removal-before-hold" | "reading-due")
}

/// Prints under which conditions totals hold.
pub(crate) fn print_basis(basis: &Basis, output: &Output) {
    print_basis_words(&basis.line(), &basis.boundary_line(), basis.illustrative, output);
}

/// The same in words that were kept.
pub(crate) fn print_basis_words(basis: &str, boundary: &str, illustrative: bool, output: &Output) {
    output.wrapped("Basis:    ", basis);
    output.wrapped("Boundary: ", boundary);
    if illustrative {
        output.wrapped("Note:     ", "rates or data are invented for illustration");
    }
}

/// A share as a percentage.
pub(crate) fn percent(share: f64) -> String {
    format!("{:.1} %", share * 100.0)
}

/// A count without needless decimals.
pub(crate) fn count(number: f64) -> String {
    if number.fract() == 0.0 && number.abs() < 1e15 { format!("{number:.0}") } else { tare_app::show_number(number, 4) }
}

/// The text of a figure, or a dash where there is none.
pub(crate) fn text(figure: Option<&tare_app::Figure>) -> String {
    figure.map_or_else(|| "-".to_owned(), |f| f.text.clone())
}
