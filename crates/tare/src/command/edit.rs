//! `tare edit`: changes to the study, one entry each.

use super::history::print_entry;
use super::{Context, Outcome, Written};
use crate::output::Output;
use clap::Subcommand;
use serde_json::json;
use tare_app::edit_command::{About, EditCommand, addable, intent};
use tare_app::{DocumentKind, Loaded, Session, Stamp};
use tare_diag::Diag;

/// Change the study: every change is one entry that `tare undo` takes back
#[derive(Debug, clap::Args)]
#[command(after_help = "\
A target is an address with a field or quantity behind its last stroke:
  P12/mass  P12/name  P12/op2/hits  J3/count  scenario/volume  product/book  rate/wage.operator
`P12/mass#2` is the second of several values. A new text is a new statement: what was said
beside the old one (instrument, who, when, source ...) goes unless it is said again.

Examples:
  tare edit set P12/mass \"7.5 kg\" --evidence measured --instrument \"bench scale\"
  tare edit set P12 name \"Lid\"
  tare edit set scenario/volume \"30000 1/a\"
  tare edit set P12/price \"18.40 EUR\" --beside --evidence quoted --source \"quote 7\"
  tare edit choose P12/price 2 --says \"the quote is for our volume\"
  tare edit add part --under P1 name=Lid count=2 label=P99
  tare edit add operation --under P12 name=Press calculation=processes/stamping-transfer hits=5
  tare edit remove P99
  tare edit move P12 --under P3")]
pub(crate) struct Args {
    #[command(subcommand)]
    command: Change,
    /// Words for the history instead of the usual ones
    #[arg(long, global = true, value_name = "TEXT")]
    says: Option<String>,
}

#[derive(Debug, Subcommand)]
enum Change {
    /// Set a field, a value or a rate
    #[command(after_help = "\
Examples:
  tare edit set P12/mass \"7.5 +- 0.1 kg\" --evidence measured --instrument \"bench scale\" --who \"J. Doe\"
  tare edit set P12/wall_thickness \"2.5 .. 3 mm\"      a range; `2 .. 2.5 .. 3 mm` names the likely one
  tare edit set P12/mass \"4.1 oz\" --beside            a second value; then `tare edit choose`
  tare edit set P12/material PA66-GF30                 a field; `tare calc materials` lists them
  tare edit set P12/op1/melt \"540 degF\"               an input of an operation's calculation
  tare edit set rate/wage.operator \"28 USD/h\"
  tare edit set \"Voltage absent\" state recorded --who \"J. Doe\" --when 2025-03-06      a hold")]
    Set {
        /// `P12/mass`, or `P12` and then a field
        target: String,
        /// The new content; or a field and its content
        #[arg(required = true, num_args = 1..=2)]
        to: Vec<String>,
        #[command(flatten)]
        about: Box<AboutArgs>,
        /// Let the value stand beside those that are there
        #[arg(long)]
        beside: bool,
    },
    /// Clear a field, or remove the values of a quantity
    #[command(after_help = "Examples:\n  tare edit clear P12/material\n  tare edit clear P12/mass#2")]
    Clear {
        /// `P12/material`, `P12/mass#2`
        target: String,
        /// A field, if the target is a record alone
        field: Option<String>,
    },
    /// Add a record: part, item, operation, feature, joint, tool, finding ...
    #[command(after_help = format!("\
Kinds: {}
`tare edit add KIND` alone says what one takes.

Examples:
  tare edit add part --under P1 name=Lid label=L1 count=2 material=PA66-GF30 mass=\"4.2 oz\"
  tare edit add part --under P1 name=\"Screw M6x16\" label=S1 count=8 make=buy form=fastener price=\"0.08 USD\"
  tare edit add operation --under L1 name=Mould calculation=processes/injection-moulding
  tare edit add joint name=\"lid screws\" calculation=joints/screw-tapped-hole parts=L1,P2 fastener=S1 count=8 diameter=\"6 mm\"
  tare edit add line name=\"Line 1\" takt=\"2 min\"
  tare edit add operation --under P1 name=\"Station 1\" calculation=processes/station-manual line=\"Line 1\"
  tare edit add quote item=M1 name=\"Quote 7\" price=\"24.50 USD\" volume=\"20000 1/a\" date=2025-03-06 --evidence quoted
  tare edit add hold name=\"Voltage absent\" state=open", kinds()))]
    Add {
        /// The kind of record
        kind: String,
        /// What it stands under
        #[arg(long, value_name = "ADDRESS")]
        under: Option<String>,
        /// Fields and values: `name=Lid`, `count=2`, `hits=5`
        fields: Vec<String>,
        #[command(flatten)]
        about: Box<AboutArgs>,
    },
    /// Remove a record with all that stands under it, or a value
    #[command(after_help = "Examples:\n  tare edit remove P99\n  tare edit remove P12/mass#2")]
    Remove {
        /// `P99`, `J3`, `P12/mass#2`
        target: String,
    },
    /// Choose which of several values stands
    #[command(after_help = "\
Examples:
  tare edit choose P12/mass 2 --says \"weighed again after cleaning\"
  tare edit choose P12/mass mean
  tare edit choose P12/mass none       takes the choice back")]
    Choose {
        /// `P12/price`
        target: String,
        /// A number from 1, `mean`, or `none`
        which: String,
    },
    /// Put a record elsewhere
    #[command(after_help = "Examples:\n  tare edit move P12 --under P3\n  tare edit move P12 --after P14")]
    Move {
        /// What to move
        target: String,
        /// The new record above
        #[arg(long, value_name = "ADDRESS")]
        under: Option<String>,
        /// The sibling it follows
        #[arg(long, value_name = "ADDRESS")]
        after: Option<String>,
    },
    /// Hold on to the texts of all calculations, materials and books in use (every entry does so for what it brings)
    #[command(after_help = "Examples:\n  tare edit lock")]
    Lock,
    /// Take the present texts of library and rate books; `--dry-run` shows first what that would change
    #[command(after_help = "Examples:\n  tare edit renew --dry-run\n  tare edit renew")]
    Renew {
        /// Show what each text would change, headline by headline and line by line, and record nothing
        #[arg(long)]
        dry_run: bool,
    },
}

#[derive(Debug, clap::Args)]
struct AboutArgs {
    /// measured, derived, handbook, quoted or assumed
    #[arg(long)]
    evidence: Option<String>,
    /// Where it is from
    #[arg(long)]
    source: Option<String>,
    /// Instrument, by name
    #[arg(long)]
    instrument: Option<String>,
    /// Mass state: as removed, cleaned, with residue, wet, dry, after cutting
    #[arg(long)]
    state: Option<String>,
    /// Who took it
    #[arg(long)]
    who: Option<String>,
    /// When
    #[arg(long)]
    when: Option<String>,
    /// Name of the set of readings it belongs to
    #[arg(long)]
    set: Option<String>,
    /// Pieces weighed together
    #[arg(long)]
    number: Option<f64>,
    /// Period in which the instrument kept its errors
    #[arg(long)]
    period: Option<String>,
    /// `tare` for a container read on the same instrument
    #[arg(long, value_parser = ["tare"])]
    method: Option<String>,
    /// Specimen it was taken of, by name
    #[arg(long)]
    specimen: Option<String>,
}

pub(crate) fn run(args: &Args, context: &Context, output: &mut Output) -> Outcome {
    let mut session = context.session(true, output)?;
    let (written, mut loaded) = context.document_to_write(&session.workspace)?;
    let command = match &args.command {
        Change::Lock => return lock(&mut session, (&written, &mut loaded), context, output),
        Change::Renew { dry_run: true } => {
            return super::renewal::preview(&session, &loaded.document, output);
        }
        Change::Renew { dry_run: false } => return lock(&mut session, (&written, &mut loaded), context, output),
        Change::Set { target, to, about, beside } => {
            let (target, to) = match to.as_slice() {
                [field, to] => (format!("{target}/{field}"), to.trim().to_owned()),
                other => (target.clone(), other.first().map(|to| to.trim().to_owned()).unwrap_or_default()),
            };
            EditCommand::Set { target, to, about: Box::new(about.as_ref().into()), beside: *beside }
        }
        Change::Clear { target, field } => {
            EditCommand::Clear { target: field.as_ref().map_or_else(|| target.clone(), |f| format!("{target}/{f}")) }
        }
        Change::Add { kind, under, fields, about } => EditCommand::Add {
            kind: kind.clone(),
            under: under.clone(),
            fields: fields.clone(),
            about: Box::new((&**about).into()),
            id: None,
        },
        Change::Remove { target } => EditCommand::Remove { target: target.clone() },
        Change::Choose { target, which } => {
            EditCommand::Choose { target: target.clone(), which: which.clone(), says: args.says.clone() }
        }
        Change::Move { target, under, after } => {
            EditCommand::Move { target: target.clone(), under: under.clone(), after: after.clone() }
        }
    };
    let meant = intent(&loaded.document, &session.library, &command)?;
    let says = args.says.clone().map_or(meant.says.clone(), |said| format!("{}: {said}", meant.says));
    let stamp = Stamp { author: context.author.clone(), says };
    let done = session.workspace.record(&mut loaded, &meant.changes, &stamp)?;
    print_entry(&done, &written, output);
    if loaded.document.kind == DocumentKind::Book {
        let hint = "a study takes it with `tare edit renew --study NAME`";
        let says = "studies that hold an earlier text of this book keep computing with that";
        output.messages(&[Diag::note("book-held", says).hint(hint)]);
    }
    Ok(true)
}

/// The kinds that can be added, for the help.
fn kinds() -> String {
    addable().map(|kind| kind.to_string()).collect::<Vec<_>>().join(", ")
}

fn lock(session: &mut Session, (written, loaded): (&Written, &mut Loaded), context: &Context, output: &Output) -> Outcome {
    let (done, differences) = session.renew_locks(loaded, &context.author)?;
    let Some(done) = done else {
        print_differences(&differences, output);
        return Ok(true);
    };
    if !output.json {
        print_differences(&differences, output);
    }
    print_entry(&done, written, output);
    Ok(true)
}

pub(super) fn print_differences(differences: &[tare_app::Difference], output: &Output) {
    if output.json {
        output.json(&json!({ "differences": differences }));
        return;
    }
    if differences.is_empty() {
        output.line("the study holds the present texts already; nothing was changed");
    }
    for difference in differences {
        output.line(format!("{:8} {}", difference.what, difference.key));
    }
}

impl From<&AboutArgs> for About {
    fn from(args: &AboutArgs) -> Self {
        Self {
            evidence: args.evidence.clone(),
            source: args.source.clone(),
            instrument: args.instrument.clone(),
            state: args.state.clone(),
            who: args.who.clone(),
            when: args.when.clone(),
            set: args.set.clone(),
            number: args.number,
            period: args.period.clone(),
            method: args.method.clone(),
            specimen: args.specimen.clone(),
        }
    }
}
