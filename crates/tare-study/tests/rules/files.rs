//! Tiny calculations of the tests' own: each owes just what one rule needs, and every input is stated by its operation.

/// Laid over the library by [`super::bench::library`].
pub(super) const OWN: &[(&str, &str)] = &[
    ("processes/test-step.toml", STEP),
    ("processes/test-press.toml", PRESS),
    ("processes/test-priced.toml", PRICED),
    ("processes/test-class.toml", CLASS),
    ("processes/test-blank.toml", BLANK),
    ("processes/test-tool.toml", TOOL),
    ("processes/test-plating.toml", PLATING),
    ("processes/test-learned.toml", LEARNED),
    ("processes/test-made.toml", MADE),
    ("processes/test-own-rate.toml", OWN_RATE),
    ("processes/test-cell.toml", CELL),
    ("processes/test-words.toml", WORDS),
    ("joints/test-glue.toml", GLUE),
    ("estimates/test-mass-by-wall.toml", MASS_BY_WALL),
    ("estimates/test-wall-by-mass.toml", WALL_BY_MASS),
    ("estimates/test-mass-by-mass.toml", MASS_BY_MASS),
    ("estimates/test-wall-by-wall.toml", WALL_BY_WALL),
    ("estimates/test-root.toml", ROOT),
    ("processes/test-hourly.toml", HOURLY),
    ("joints/test-stake.toml", STAKE),
    ("purchases/test-tooled.toml", TOOLED),
    ("build-up/test-compounded.toml", COMPOUNDED),
    ("build-up/test-margin.toml", MARGIN),
];

/// A step that costs what it is said to, with a yield.
const STEP: &str = r#"
title = "Step of a stated cost"
kind = "process"
[input]
spent = { unit = "money" }
yield = { unit = "1", default = "1", source = "definition" }
setup = { unit = "s", default = "0 s", source = "definition" }
[equation]
cycle = { unit = "s", is = "1 [s]" }
pieces = { unit = "1", is = "1" }
[consumable.all]
cost = "spent"
"#;

/// A step that asks for a rate of a key the library does not declare.
const OWN_RATE: &str = r#"
title = "Step at a fee"
kind = "process"
[input]
fee = { unit = "money", from = ["rate.own.fee"] }
[equation]
cycle = { unit = "s", is = "1 [s]" }
pieces = { unit = "1", is = "1" }
setup = { unit = "s", is = "0 [s]" }
yield = { unit = "1", is = "1" }
[consumable.all]
cost = "fee"
"#;

/// A machine at a stated hourly rate with a person who may serve several.
const PRESS: &str = r#"
title = "Machine at a stated rate"
kind = "process"
[input]
cycle = { unit = "s" }
rate = { unit = "money/h" }
people = { unit = "1", default = "1", source = "definition" }
pieces = { unit = "1", default = "1", source = "definition" }
spent = { unit = "money", default = "0 money", source = "definition" }
setup = { unit = "s", default = "0 s", source = "definition" }
yield = { unit = "1", default = "1", source = "definition" }
[labour.operator]
role = "operator"
people = "people"
time = "cycle"
[machine.press]
rate = "rate"
time = "cycle"
[consumable.piece]
cost = "spent"
"#;

/// A machine whose hourly rate is built from its price.
const PRICED: &str = r#"
title = "Machine of a stated price"
kind = "process"
[input]
cycle = { unit = "s" }
price = { unit = "money" }
power = { unit = "kW", default = "0 kW", source = "definition" }
yield = { unit = "1", default = "1", source = "definition" }
[equation]
pieces = { unit = "1", is = "1" }
setup = { unit = "s", is = "0 [s]" }
[machine.press]
price = "price"
power = "power"
floor = "0 [m^2]"
time = "cycle"
"#;

/// A machine picked by the force that is needed.
const CLASS: &str = r#"
title = "Machine picked by force"
kind = "process"
[input]
force = { unit = "kN" }
[table.machine]
source = "invented for a test"
key.force = { unit = "kN", rule = "up_to", outside = "refuse" }
column.rate = { unit = "money/h" }
rows = [
  { name = "50 t", force = "500 kN", rate = "36 EUR/h" },
  { name = "150 t", force = "1500 kN", rate = "72 EUR/h" },
]
[equation]
press = { unit = "row machine", is = "pick(machine, force)" }
cycle = { unit = "s", is = "100 [s]" }
pieces = { unit = "1", is = "1" }
setup = { unit = "s", is = "0 [s]" }
yield = { unit = "1", is = "1" }
[machine.press]
rate = "press.rate"
time = "cycle"
"#;

/// Material through a route with a material use.
const BLANK: &str = r#"
title = "Cut from stock"
kind = "process"
[input]
mass = { unit = "kg", from = ["item.mass"] }
machined_off = { unit = "kg", from = ["route.machined_off"], default = "0 kg", source = "definition" }
material_use = { unit = "1" }
recovery = { unit = "1", default = "0", source = "definition" }
[equation]
net = { unit = "kg", is = "mass + machined_off" }
gross = { unit = "kg", is = "net / material_use" }
offcut = { unit = "kg", is = "recovery * (gross - net)" }
cycle = { unit = "s", is = "1 [s]" }
pieces = { unit = "1", is = "1" }
setup = { unit = "s", is = "0 [s]" }
yield = { unit = "1", is = "1" }
[material.stock]
of = "item"
gross = "gross"
recovered = "offcut"
"#;

/// A tool and nothing else.
const TOOL: &str = r#"
title = "Tool alone"
kind = "process"
[input]
cost = { unit = "money" }
life = { unit = "1" }
cycle = { unit = "s", default = "1 s", source = "definition" }
pieces = { unit = "1", default = "1", source = "definition" }
upkeep = { unit = "1", default = "0", source = "definition" }
[equation]
setup = { unit = "s", is = "0 [s]" }
yield = { unit = "1", is = "1" }
[tool.die]
cost = "cost"
life = "life"
upkeep = "upkeep"
"#;

/// Work sent out that has a minimum charge.
const PLATING: &str = r#"
title = "Plating sent out"
kind = "process"
[input]
each = { unit = "money" }
[use.least]
calculation = "build-up/minimum-charge"
given = { unit_charge = "each" }
[equation]
cycle = { unit = "s", is = "1 [s]" }
pieces = { unit = "1", is = "1" }
setup = { unit = "s", is = "0 [s]" }
yield = { unit = "1", is = "1" }
[consumable.charge]
cost = "least.charge"
"#;

/// Hand work on metal that is learned.
const LEARNED: &str = r#"
title = "Hand work that is learned"
kind = "process"
[input]
mass = { unit = "kg", from = ["item.mass"] }
rate = { unit = "1" }
made = { unit = "1" }
[use.learning]
calculation = "build-up/learning"
given = { first = "1 [h]", rate = "rate", number = "made" }
[equation]
cycle = { unit = "s", is = "learning.unit_time" }
pieces = { unit = "1", is = "1" }
setup = { unit = "s", is = "0 [s]" }
yield = { unit = "1", is = "1" }
[material.stock]
of = "item"
gross = "mass"
[labour.fitter]
role = "operator"
people = "1"
time = "cycle"
"#;

/// A process with a method error of its own and nothing else that is uncertain.
const MADE: &str = r#"
title = "Made by one method"
kind = "process"
[method]
spread = "+- 20 %"
reason = "invented for a test"
[input]
spent = { unit = "money" }
[equation]
cost = { unit = "money", is = "method * spent" }
cycle = { unit = "s", is = "1 [s]" }
pieces = { unit = "1", is = "1" }
setup = { unit = "s", is = "0 [s]" }
yield = { unit = "1", is = "1" }
[consumable.all]
cost = "cost"
"#;

/// Parallel stations with an index between them.
const CELL: &str = r#"
title = "Cell of parallel stations"
kind = "process"
[input]
station = { unit = "s", list = "1..6" }
index = { unit = "s" }
nests = { unit = "1" }
yield = { unit = "1" }
rate = { unit = "money/h" }
[equation]
cycle = { unit = "s", is = "max(station) + index" }
pieces = { unit = "1", is = "nests" }
setup = { unit = "s", is = "0 [s]" }
[machine.cell]
rate = "rate"
time = "cycle"
"#;

/// A bead laid by hand that then cures.
const GLUE: &str = r#"
title = "Glue that cures"
kind = "joint"
[input]
laid = { unit = "s" }
cure_held = { unit = "s" }
again = { unit = "1", default = "1", source = "definition" }
[equation]
manual = { unit = "s", is = "laid" }
process = { unit = "s", is = "0 [s]" }
cure = { unit = "s", is = "cure_held" }
yield = { unit = "1", is = "again" }
"#;

/// A machine at the hourly rate of a book, with what such a rate may hold already.
const HOURLY: &str = r#"
title = "Machine at the rate of a book"
kind = "process"
[input]
cycle = { unit = "s" }
hour = { unit = "money/h", from = ["rate.machine.hourly"] }
worn = { unit = "money" }
used = { unit = "money" }
setup = { unit = "s" }
[equation]
pieces = { unit = "1", is = "1" }
yield = { unit = "1", is = "1" }
[machine.press]
rate = "hour"
time = "cycle"
[consumable.cutter]
cost = "worn"
[consumable.coolant]
cost = "used"
"#;

/// A stroke of a machine with a die that wears.
const STAKE: &str = r#"
title = "Stroke with a die"
kind = "joint"
[input]
die = { unit = "money", default = "1000 EUR", source = "definition" }
die_life = { unit = "1", default = "100000", source = "definition" }
spent = { unit = "money", default = "0 money", source = "definition" }
again = { unit = "1", default = "1", source = "definition" }
[equation]
manual = { unit = "s", is = "0 [s]" }
process = { unit = "s", is = "1 [s]" }
yield = { unit = "1", is = "again" }
[consumable.all]
cost = "spent"
[tool.die]
cost = "die"
life = "die_life"
"#;

/// A bought piece whose tool is paid beside its price.
const TOOLED: &str = r#"
title = "Bought with its tool"
kind = "purchase"
[input]
each = { unit = "money" }
mould = { unit = "money" }
shots = { unit = "1" }
[equation]
price = { unit = "money", is = "each" }
[tool.mould]
cost = "mould"
life = "shots"
"#;

/// Mark-ups of which each is taken on the one before.
const COMPOUNDED: &str = r#"
title = "Mark-ups that compound"
kind = "build-up"
[input]
bought = { unit = "money" }
conversion = { unit = "money" }
tooling = { unit = "money" }
directed = { unit = "money" }
[equation]
base = { unit = "money", is = "bought + conversion" }
overhead = { unit = "money", is = "0.007 * base" }
sga = { unit = "money", is = "0.07 * (base + overhead)" }
profit = { unit = "money", is = "0.08 * (base + overhead + sga)" }
engineering = { unit = "money", is = "0.06 * (base + overhead + sga + profit)" }
price = { unit = "money", is = "base + tooling + directed + overhead + sga + profit + engineering" }
"#;

/// A margin that is a share of the price, not of the cost.
const MARGIN: &str = r#"
title = "Margin on the price"
kind = "build-up"
[input]
bought = { unit = "money" }
conversion = { unit = "money" }
tooling = { unit = "money" }
directed = { unit = "money" }
margin = { unit = "1", from = ["rate.margin"] }
[equation]
base = { unit = "money", is = "bought + conversion + tooling + directed" }
overhead = { unit = "money", is = "0 [EUR]" }
engineering = { unit = "money", is = "0 [EUR]" }
sga = { unit = "money", is = "0 [EUR]" }
profit = { unit = "money", is = "base / (1 - margin) - base" }
"#;

/// A step whose cost hangs on a word, and on a list of lengths.
const WORDS: &str = r#"
title = "Step of a stated grade"
kind = "process"
[input]
grade = { unit = "choice", choices = ["plain", "fine"] }
lengths = { unit = "mm", list = "1.." }
[equation]
cycle = { unit = "s", is = "1 [s]" }
pieces = { unit = "1", is = "1" }
yield = { unit = "1", is = "1" }
setup = { unit = "s", is = "0 [s]" }
spent = { unit = "money", is = "if(grade == 'fine', 10 [EUR], 1 [EUR]) + sum(lengths) / 1 [m] * 1 [EUR]" }
[consumable.all]
cost = "spent"
"#;

/// A mass from a thickness: 1 kg per millimetre.
const MASS_BY_WALL: &str = r#"
title = "Mass of a wall"
kind = "estimate"
gives = { mass = "mass" }
[input]
wall = { unit = "mm", from = ["item.wall_thickness"] }
[equation]
mass = { unit = "kg", is = "wall / 1 [mm] * 1 [kg]" }
"#;

/// A thickness from a mass.
const WALL_BY_MASS: &str = r#"
title = "Wall of a mass"
kind = "estimate"
gives = { wall_thickness = "wall" }
[input]
mass = { unit = "kg", from = ["item.mass"] }
[equation]
wall = { unit = "mm", is = "mass / 1 [kg] * 1 [mm]" }
"#;

/// A mass from itself.
const MASS_BY_MASS: &str = r#"
title = "Mass of a mass"
kind = "estimate"
gives = { mass = "heavier" }
[input]
mass = { unit = "kg", from = ["item.mass"] }
[equation]
heavier = { unit = "kg", is = "2 * mass" }
"#;

/// A thickness from itself.
const WALL_BY_WALL: &str = r#"
title = "Wall of a wall"
kind = "estimate"
gives = { wall_thickness = "thicker" }
[input]
wall = { unit = "mm", from = ["item.wall_thickness"] }
[equation]
thicker = { unit = "mm", is = "2 * wall" }
"#;

/// A mass that has no finite slope along a depth of nothing.
const ROOT: &str = r#"
title = "Mass by the root of a depth"
kind = "estimate"
gives = { mass = "mass" }
[input]
depth = { unit = "mm", from = ["item.depth"] }
width = { unit = "mm", from = ["item.wall_thickness"] }
[equation]
mass = { unit = "kg", is = "(sqrt(depth / 1 [mm]) + width / 1 [mm]) * 1 [kg]" }
"#;
