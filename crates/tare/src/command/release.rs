//! `tare release`: a study frozen under a number, computed again bit for bit.

use super::{Context, Outcome, print_basis_words};
use crate::output::Output;
use crate::progress::Drawing;
use crate::table::Table;
use clap::Subcommand;
use serde_json::json;
use tare_app::privacy::Class;
use tare_app::ranges::{report_options, threads};
use tare_app::release::{Asked, Checked, Program, Release};
use tare_app::{DocumentInfo, DocumentKind, Layout, Workspace};
use tare_diag::Diag;

/// Freeze the study under a number, and compute it again bit for bit
#[derive(Debug, clap::Args)]
#[command(after_help = "\
A release names the entry of the study, all texts its numbers rest on, seed,
draws and version of the arithmetic, and keeps every line value. Its number is
never given again, whatever is undone.

Examples:
  tare release make --says \"offer to the client\" --class client
  tare release list
  tare release show 1
  tare release check 1            computes it again and compares every bit
  tare cost --release 1           any table as of the release
  tare walk --release 1 --to 2    from one to the next; `--to now` to the study as it is
  tare edit renew --dry-run       what newer texts would change")]
pub(crate) struct Args {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Make a release of the study as it is
    #[command(after_help = "\
Draws are made until the ranges of the headlines have settled; how many that
were is recorded. With --draws as many as asked for are made.

Examples:
  tare release make --says \"offer to the client\" --class client
  tare release make --says \"first costing\" --draws 100000 --seed 7
  tare release make --says \"state of Friday\" --with-errors")]
    Make(MakeArgs),
    /// List the releases
    #[command(after_help = "Examples:\n  tare release list\n  tare release list --json")]
    List,
    /// Show a release: headlines with ranges, what it froze, who made it
    #[command(after_help = "Examples:\n  tare release show 1")]
    Show {
        /// Its number
        number: u64,
    },
    /// Compute a release again and compare every bit; exit code 1 where it differs
    #[command(after_help = "Examples:\n  tare release check 1\n  tare release check 1 --threads 1")]
    Check {
        /// Its number
        number: u64,
        /// Threads to draw on (else all of the machine); they change nothing of the result
        #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=512))]
        threads: Option<u16>,
    },
}

#[derive(Debug, clap::Args)]
struct MakeArgs {
    /// What it is for
    #[arg(long, value_name = "TEXT")]
    says: String,
    /// For whom it is meant
    #[arg(long, value_name = "CLASS", default_value = "own", value_parser = ["own", "client", "open"])]
    class: String,
    /// Make so many draws, rounded up to a multiple of 128 (with `sobol` to a power of two)
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u64).range(128..=5_000_000))]
    draws: Option<u64>,
    /// Names the random numbers
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,
    /// How the random numbers are laid out; laid-out ones need --draws
    #[arg(long, value_name = "LAYOUT", default_value = "random", value_parser = ["random", "hypercube", "sobol"])]
    points: String,
    /// Make it though the study has errors, and record them with it
    #[arg(long)]
    with_errors: bool,
}

pub(crate) fn run(args: &Args, context: &Context, output: &mut Output) -> Outcome {
    match &args.command {
        Command::Make(args) => make(args, context, output),
        Command::List => {
            let (info, all) = all(context)?;
            list(&info, &all, output);
            Ok(true)
        }
        Command::Show { number } => {
            let workspace = Workspace::open(&context.folder(), false).map_err(|d| vec![d])?;
            let info = named(context, &workspace)?;
            let release = workspace.release(&info, *number).map_err(|d| vec![d])?;
            show(&info, &release, output);
            Ok(true)
        }
        Command::Check { number, threads: asked } => {
            let session = context.session(false, output)?;
            let info = named(context, &session.workspace)?;
            let drawing = Drawing::begin();
            let threads = asked.map_or_else(threads, usize::from);
            let checked = session.check_release(&info, *number, threads, &Program::this(), drawing.watch())?;
            drop(drawing);
            Ok(said(&info, &checked, output))
        }
    }
}

/// The study a command is about.
fn named(context: &Context, workspace: &Workspace) -> Result<DocumentInfo, Vec<Diag>> {
    let (info, _) = context.document(workspace)?;
    is_study(&info)?;
    Ok(info)
}

/// Rate books have no releases.
fn is_study(info: &DocumentInfo) -> Result<(), Vec<Diag>> {
    if info.kind == DocumentKind::Study {
        return Ok(());
    }
    let says = format!("`{}` is a rate book; releases are made of studies", info.name);
    Err(vec![Diag::error("release-study", says).hint("name a study with `--study`")])
}

fn all(context: &Context) -> Result<(DocumentInfo, Vec<Release>), Vec<Diag>> {
    let workspace = Workspace::open(&context.folder(), false).map_err(|d| vec![d])?;
    let info = named(context, &workspace)?;
    let all = workspace.releases(info.id).map_err(|d| vec![d])?;
    Ok((info, all))
}

fn make(args: &MakeArgs, context: &Context, output: &mut Output) -> Outcome {
    let layout = match args.points.as_str() {
        "hypercube" => Layout::Hypercube,
        "sobol" => Layout::Sobol,
        _ => Layout::Random,
    };
    if layout != Layout::Random && args.draws.is_none() {
        let says = format!("numbers laid out as {} are even only over all draws: how many is not said", args.points);
        return Err(vec![Diag::error("release-layout", says).hint("say it with `--draws`, such as `--draws 16384`")]);
    }
    let session = context.session(true, output)?;
    let (written, _) = context.document_to_write(&session.workspace)?;
    is_study(&written.info)?;
    let usual = report_options();
    let asked = Asked {
        says: args.says.clone(),
        class: Class::from_word(&args.class).unwrap_or_default(),
        options: tare_app::Options {
            seed: args.seed,
            layout,
            most: args.draws.unwrap_or(usual.most),
            least: args.draws.unwrap_or(0),
            ..usual
        },
        with_errors: args.with_errors,
    };
    let drawing = Drawing::begin();
    let made = session.make_release(&written.info, &asked, &context.author, drawing.watch())?;
    drop(drawing);
    if output.json {
        output.json(&json!({ "ok": true, "study": written.info.name, "release": made }));
        return Ok(true);
    }
    output.wrapped(&format!("release {}  ", made.number), &format!("{}{}", made.says, written.place()));
    headlines(&made, output);
    if !made.frozen.errors.is_empty() {
        output.wrapped("Errors that stood: ", &made.frozen.errors.join("; "));
    }
    if made.frozen.class != Class::Own {
        let (number, class) = (made.number, made.frozen.class.word());
        output.line(format!("Hand it over masked: tare report --release {number} --for {class}"));
    }
    Ok(true)
}

fn list(info: &DocumentInfo, all: &[Release], output: &Output) {
    if output.json {
        output.json(&json!({ "study": info.name, "releases": all }));
        return;
    }
    output.line(&info.name);
    if all.is_empty() {
        output.line("no release yet; `tare release make --says \"...\"` makes the first");
        return;
    }
    let mut table = Table::new(&[">no", "time", "~author", "class", ">entry", "~says", ">should-cost"]);
    for release in all {
        let cost = release.frozen.headlines.iter().find(|h| h.name == "should-cost");
        table.row([
            release.number.to_string(),
            release.time.chars().take(16).collect::<String>().replace('T', " "),
            release.author.clone(),
            release.frozen.class.word().to_owned(),
            release.frozen.entry.to_string(),
            release.says.clone(),
            cost.map_or_else(String::new, |h| h.figure.text.clone()),
        ]);
    }
    table.print(output);
}

fn headlines(release: &Release, output: &Output) {
    let share = release.frozen.draws.coverage.0 * 100.0;
    let mut table = Table::new(&["~headline", ">stated", &format!("~{} % of draws", tare_app::show_number(share, 4))]);
    for headline in &release.frozen.headlines {
        table.row([headline.name.clone(), headline.figure.text.clone(), headline.drawn.shown.clone()]);
    }
    table.print(output);
    output.wrapped("", &release.frozen.draws.words());
}

fn show(info: &DocumentInfo, release: &Release, output: &Output) {
    let frozen = &release.frozen;
    if output.json {
        output.json(&json!({ "study": info.name, "release": release }));
        return;
    }
    output.line(format!("{}, release {}", info.name, release.number));
    output.wrapped("Says:     ", &release.says);
    output.wrapped("Made:     ", &format!("{} by {}, class {}", release.time, release.author, frozen.class.word()));
    output.line("");
    headlines(release, output);
    output.line("");
    print_basis_words(&frozen.basis, &frozen.boundary, frozen.illustrative, output);
    output.wrapped(
        "Frozen:   ",
        &format!(
            "entry {} of the journal, {} texts of library and rate books, {} lines, version {} of the arithmetic, by {}",
            frozen.entry, frozen.texts_held, frozen.lines.count, frozen.numerics, frozen.program
        ),
    );
    for hold in &frozen.holds {
        output.wrapped("Hold:     ", hold);
    }
    for error in &frozen.errors {
        output.wrapped("Error that stood: ", error);
    }
}

/// How a release came out.
fn said(info: &DocumentInfo, checked: &Checked, output: &Output) -> bool {
    let (number, same) = (checked.release.number, checked.same);
    let well = checked.why_not.is_none();
    if output.json {
        let why = tare_app::view::problem_rows(checked.why_not.as_slice());
        output.json(&json!({ "ok": well, "study": info.name, "release": number, "same": same, "problems": why }));
    } else if well {
        let (lines, headlines, draws) = (same.lines, same.headlines, same.draws);
        let says = format!("release {number} reproduced bit for bit: {lines} lines, {headlines} headlines, {draws} draws");
        output.wrapped("", &says);
    }
    output.messages(checked.why_not.as_slice());
    well
}
