//! Ideas to change the product: what each comes to alone, and the best set of them.

use crate::Figure;
use serde::{Deserialize, Serialize};

/// The ideas of a report.
///
/// A saving is positive where money is saved; a change of mass, time, operators, pieces or joints is negative where there is less.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Ideas {
    /// Unit of the chart of net savings: `EUR per pack`.
    pub unit: String,
    /// How the numbers were found, in words: draws, life, volume.
    pub how: String,
    /// Safety findings; printed first and apart from every number.
    pub safety: Vec<SafetyFinding>,
    /// Ideas in any order; the page sorts them by net saving.
    pub rows: Vec<Idea>,
    /// The best set, where one was asked for.
    pub set: Option<IdeaSet>,
    /// Ideas that were dropped.
    pub dropped: Vec<DroppedIdea>,
    /// Remarks.
    pub notes: Vec<String>,
}

/// A safety finding, for qualified people.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct SafetyFinding {
    /// What the rule that points at it is called.
    pub name: String,
    /// Where.
    pub place: String,
    /// Id of the part it is about.
    pub part: Option<String>,
    /// What was seen.
    pub says: String,
    /// What has to be settled, and by whom.
    pub advice: String,
    /// Where the rule comes from.
    pub source: String,
}

/// One idea.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Idea {
    /// Unique key in this report; sets refer to it.
    pub id: String,
    /// Its name.
    pub name: String,
    /// Where: `J9`.
    pub place: String,
    /// Id of the part it is about.
    pub part: Option<String>,
    /// What kind of change it is: `fastening`.
    pub kind: String,
    /// Why.
    pub says: String,
    /// Where it comes from.
    pub source: String,
    /// What has to be settled first.
    pub advice: String,
    /// Risk in words; empty where nobody has said.
    pub risk: String,
    /// State in words: `open`, `taken`.
    pub state: String,
    /// Its edits to the study.
    pub edits: Vec<IdeaEdit>,
    /// What it comes to; none where it cannot be carried out as it stands.
    pub worth: Option<IdeaWorth>,
    /// Why it cannot, and what the study says of it only with the idea.
    pub problems: Vec<String>,
    /// The change line by line, one table after the other: by kind of cost, by item.
    pub changes: Vec<ChangeTable>,
}

/// How an edit stands against the study as it is now.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum EditState {
    /// It can be carried out.
    #[default]
    Fits,
    /// The study says so already.
    AlreadySo,
    /// The study has changed at that place since.
    Conflicts,
    /// The place is no longer there.
    Gone,
}

impl EditState {
    /// The word shown.
    pub fn word(self) -> &'static str {
        match self {
            Self::Fits => "fits",
            Self::AlreadySo => "already so",
            Self::Conflicts => "conflicts",
            Self::Gone => "gone",
        }
    }
}

/// One edit of an idea.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct IdeaEdit {
    /// What it does.
    pub text: String,
    /// How it stands.
    pub state: EditState,
    /// What stands against it; empty where nothing does.
    pub problem: String,
}

/// What an idea, or a set of them, comes to.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct IdeaWorth {
    /// Saving of a product before the one-off cost, with its range.
    pub saving: Figure,
    /// Saving of a product when the one-off cost is paid back over the life, with its range.
    pub net_saving: Figure,
    /// Mean of the draws of the net saving.
    pub mean: Option<Figure>,
    /// Share of the draws in which the net saving is a gain; the number is from 0 to 1, the text
    /// is a share: `93 %`. None where nothing was drawn.
    pub chance: Option<Figure>,
    /// Net saving of a year.
    pub yearly: Option<Figure>,
    /// One-off cost.
    pub one_off: Option<Figure>,
    /// Change of the investment in tools.
    pub investment: Option<Figure>,
    /// One-off cost and investment together: the money laid out.
    pub stake: Option<Figure>,
    /// Payback time; none where nothing is saved.
    pub payback: Option<Figure>,
    /// Products a year from which on it pays within the life; none where nothing is saved.
    pub turning_volume: Option<Figure>,
    /// Change of the mass of a product.
    pub mass: Option<Figure>,
    /// Change of the manual time of a product.
    pub seconds: Option<Figure>,
    /// Change of the operators on all lines.
    pub operators: Option<Figure>,
    /// Change of the number of pieces.
    pub pieces: Option<Figure>,
    /// Change of the number of joints.
    pub joints: Option<Figure>,
    /// Ideal-time share before and after.
    pub ideal_share: Option<(Figure, Figure)>,
}

/// What changes line by line.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct ChangeTable {
    /// What the lines are by: `By kind of cost`.
    pub title: String,
    /// Lines that change, the largest change first.
    pub rows: Vec<ChangeRow>,
}

/// One line before and after.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct ChangeRow {
    /// What it is.
    pub name: String,
    /// As it is now; none where it is not there.
    pub before: Option<Figure>,
    /// As it is with the idea; none where it is no longer there.
    pub after: Option<Figure>,
    /// The change.
    pub change: Figure,
}

/// The best set of ideas that was found.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct IdeaSet {
    /// Ids of its ideas.
    pub ideas: Vec<String>,
    /// What it comes to as a whole.
    pub worth: Option<IdeaWorth>,
    /// How far a better set is ruled out, as a sentence.
    pub bound: String,
    /// Unit of the money laid out: `EUR`.
    pub stake_unit: String,
    /// Unit of the saving of a year: `EUR a year`.
    pub saving_unit: String,
    /// The most saved in a year for so much money. All of its points: the chart joins neighbours, and the table folds what is long.
    pub frontier: Vec<FrontierPoint>,
    /// Groups of ids whose ideas have to be computed together.
    pub groups: Vec<Vec<String>>,
}

/// One point of the frontier of saving against money laid out.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct FrontierPoint {
    /// Money laid out.
    pub stake: Figure,
    /// Net saving of a year.
    pub saving: Figure,
    /// Ids of the ideas.
    pub ideas: Vec<String>,
    /// Whether this is the set shown.
    pub chosen: bool,
}

/// An idea that was dropped.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct DroppedIdea {
    /// Its name.
    pub name: String,
    /// Where.
    pub place: String,
    /// Why it was dropped.
    pub reason: String,
}
