//! A published redesign: a motor drive before and after, as two studies and as an idea that leads from one to the other.
//!
//! Source: Yang K., El-Haik B., Design for Six Sigma: A Roadmap for Product Development, 2003, tables 10.2 (p. 363) and 10.3 (p. 364), after
//! Huang 1996, after Boothroyd and Dewhurst; seen as a second-hand copy. The printed times are 160.0 s and 46.0 s. The rows of table 10.2
//! as printed add to 163.0; the printed total, the cost column (26.0 cents for the cover screws) and the text (97.4 s removed) agree on
//! 160.0. Ideal-time shares of the page: 12 s of 160.0 s is 7.5 %, 12 s of 46.0 s is 26.1 %.

use tare_app::compare::{self, Compared};
use tare_app::create::from_text;
use tare_app::idea::{self, Idea};
use tare_app::text_form::TextFile;
use tare_app::{Document, DocumentInfo, Field, Id, Kind, LineRef, Loaded, Options, Record, Session, Stop, Study, Workspace};

const ORIGINAL: &str = include_str!("published/motor-drive/original/study.toml");
const REDESIGN: &str = include_str!("published/motor-drive/redesign/study.toml");
const IDEA: &str = include_str!("published/motor-drive/idea.txt");

/// Both designs in one workspace.
struct Drives {
    _place: tempfile::TempDir,
    session: Session,
    studies: [(DocumentInfo, Loaded); 2],
}

fn drives() -> Drives {
    let place = tempfile::tempdir().expect("a folder");
    let session = Session::with(Workspace::open_or_create(&place.path().join("w")).expect("a workspace")).expect("a session");
    let studies = [("motor-drive/original", ORIGINAL), ("motor-drive/redesign", REDESIGN)].map(|(set, text)| {
        let files = [TextFile { name: "study.toml", text }];
        let made = from_text(&session.workspace, &session.library, set, None, &files, "test").expect("the text holds");
        let made = made.into_iter().next().expect("one study");
        (made.info, made.loaded)
    });
    Drives { _place: place, session, studies }
}

impl Drives {
    fn document(&self, at: usize) -> &Document {
        &self.studies[at].1.document
    }

    fn compiled(&self, at: usize) -> Study {
        self.session.compile_document(self.document(at)).expect("it compiles")
    }

    fn compared(&self) -> Compared {
        let texts = |at: usize| self.session.texts(self.document(at)).expect("texts");
        let options = Options { most: 256, least: 256, ..Options::default() };
        let own = [texts(0), texts(1)];
        let found = compare::compare(&texts(0), &own, self.studies.to_vec(), None, options, Stop::default());
        found.expect("it compares").expect("not stopped")
    }

    /// The idea of the redesign: the commands of `idea.txt` sealed against the original.
    fn idea(&self) -> Idea {
        let lines: Vec<String> =
            IDEA.lines().map(str::trim).filter(|l| !l.is_empty() && !l.starts_with('#')).map(str::to_owned).collect();
        let edits = idea::seal(self.document(0), &self.session.library, &lines).expect("every command fits");
        let record = Record::new(Id(0x1dea), Kind::Idea).with_text(Field::Name, "Redesign");
        Idea {
            id_of_costs: vec![record.id],
            record,
            values: Vec::new(),
            label: "I1".into(),
            edits,
            recorded: false,
            advice: String::new(),
            place: String::new(),
            problems: Vec::new(),
        }
    }
}

/// Items as table 10.2 counts them, and needed ones: read off the records, so that nothing computed is asked.
fn counted(document: &Document) -> (f64, f64) {
    let parts: Vec<&Record> = document.records().filter(|r| r.kind == Kind::Part && r.parent.is_some()).collect();
    let count = |part: &&Record| part.number(Field::Count).expect("a count");
    let needed = |part: &&Record| part.number(Field::Needed).expect("judged");
    (parts.iter().map(count).sum(), parts.iter().map(needed).sum())
}

fn time_and_share(study: &Study) -> (f64, f64) {
    let of = |line: Option<LineRef>| study.value(line.expect("known"));
    (of(study.totals.manual), of(study.totals.ideal_share))
}

/// The relative expanded uncertainty (k = 2) that the library states for its motion times, read where the study holds it.
fn stated_error(study: &Study) -> f64 {
    let used = study
        .lines
        .leaves
        .iter()
        .enumerate()
        .find(|(_, leaf)| leaf.name == "method" && study.lines.subject_of(leaf).address.contains("motions/tmu"));
    let (at, _) = used.expect("every motion passes through motions/tmu");
    2.0 * study.standard_uncertainty(LineRef::Leaf(at as u32))
}

#[test]
fn items_and_needed_items_are_those_of_the_tables() {
    let drives = drives();
    let (before, after) = (counted(drives.document(0)), counted(drives.document(1)));
    assert_eq!((before, after), ((19.0, 4.0), (7.0, 4.0)), "tables 10.2 and 10.3");
    // and the program counts them so
    for (at, (items, needed)) in [before, after].into_iter().enumerate() {
        let study = drives.compiled(at);
        let row = study.assemblies.iter().find(|row| row.part == 0).expect("the drive is put together");
        assert_eq!((row.parts, row.needed, row.unjudged), (items, Some(needed), 0));
    }
    let found = drives.compared();
    let pieces = found.comparison.headlines.iter().find(|row| row.name == "pieces").expect("a row");
    let value = |line: &Option<LineRef>| found.comparison.study.value(line.expect("known"));
    assert_eq!(pieces.lines.iter().map(value).collect::<Vec<_>>(), [19.0, 7.0]);
    assert_eq!(value(&pieces.changes[1]), -12.0);
}

#[test]
fn the_idea_leads_from_the_original_to_the_redesign() {
    let drives = drives();
    let (original, redesign) = (drives.compiled(0), drives.compiled(1));
    let idea = drives.idea();
    let changed = idea::applied(drives.document(0), &idea.edits).expect("it fits");
    assert_eq!(counted(&changed), (7.0, 4.0));
    let texts = drives.session.texts(drives.document(0)).expect("texts");
    let options = Options { most: 256, least: 256, ..Options::default() };
    let found = idea::evaluate(&texts, drives.document(0), &original, vec![idea], None, options, Stop::default());
    let found = found.expect("not stopped");
    let with = found.ideas[0].study.as_ref().expect("it is carried out");
    let (now, before, wanted) = (time_and_share(with), time_and_share(&original), time_and_share(&redesign));
    assert!(before.0 > 2.0 * wanted.0, "so that the next lines can fail");
    assert!((now.0 / wanted.0 - 1.0).abs() < 1e-12, "manual time {} against {}", now.0, wanted.0);
    assert!((now.1 / wanted.1 - 1.0).abs() < 1e-12, "ideal-time share {} against {}", now.1, wanted.1);
}

/// What the change comes to, against the page.
///
/// Absolute seconds are another scale and are not compared: elementary motions give about 116.5 s for the original, the page prints 160.0 s, which
/// is outside the stated error of the motion times. Nearly all of that error is one shared factor (the bias of the time system), and a shared factor
/// cancels in a ratio; so the stated error is used here as the width within which two time systems are expected to agree, not as the uncertainty of
/// the ratio, which is smaller. Measured when this was written: time ratio 0.311 against 0.2875 (+8.3 %), share ratio 3.21 against 3.478
/// (-7.7 %).
#[test]
fn the_change_of_time_and_share_is_as_published_within_the_stated_error() {
    let drives = drives();
    let (original, redesign) = (drives.compiled(0), drives.compiled(1));
    let error = stated_error(&original);
    assert!((error - 0.1).abs() < 1e-9, "library/motions/tmu.toml states 10 %, found {error}");
    let (before, after) = (time_and_share(&original), time_and_share(&redesign));
    let published = (46.0 / 160.0, (12.0 / 46.0) / (12.0 / 160.0));
    let off = (after.0 / before.0 / published.0 - 1.0, after.1 / before.1 / published.1 - 1.0);
    println!("{:.1} s -> {:.1} s; time ratio {:+.1} %, share ratio {:+.1} %", before.0, after.0, off.0 * 100.0, off.1 * 100.0);
    assert!(off.0.abs() < error, "time ratio {} against {}", after.0 / before.0, published.0);
    assert!(off.1.abs() < error, "share ratio {} against {}", after.1 / before.1, published.1);
    // the scales differ by more than that, as said above
    assert!((before.0 / 160.0 - 1.0).abs() > error, "absolute seconds agree now ({}): say so above", before.0);
}
