//! Calculation text to tree, to dimension and type check, to template.
//!
//! A calculation is one TOML file: inputs, tables, equations in ordinary algebra, what it owes its caller, and the published
//! examples it must reproduce. This crate reads it ([`parse()`]), checks names, dimensions and types ([`check()`]), compiles it for
//! one shape of its inputs ([`lower`]) and runs its examples ([`run_checks`]).
//!
//! ```
//! use tare_calc::{Shape, check, flat_inputs, lower, parse, run_checks};
//! let text = r#"
//! title = "Mass of a sheet"
//! kind = "estimate"
//! gives = { mass = "mass" }
//!
//! [input.wall]
//! unit = "mm"
//! [input.area]
//! unit = "cm^2"
//! [input.density]
//! unit = "g/cm^3"
//!
//! [equation.mass]
//! unit = "g"
//! is = "wall * area * density"
//!
//! [[check]]
//! id = "own-mass"
//! source = "own arithmetic"
//! seen = true
//! given = { wall = "2 mm", area = "100 cm^2", density = "2.7 g/cm^3" }
//! expect = { mass = "54.0 g" }
//! "#;
//! let (calc, problems) = parse("estimates/sheet", "sheet.toml", text);
//! assert!(problems.is_empty());
//! assert!(check(&calc, &()).is_empty());
//! assert!(run_checks(&calc, &()).iter().all(|result| result.ok));
//!
//! let shape = Shape { given: vec![Some(1); flat_inputs(&calc, &()).len()] };
//! let lowered = lower(&calc, &(), &shape).unwrap();
//! assert_eq!(lowered.params.len(), 3);
//! assert_eq!(lowered.lines[0].text, "wall * area * density");
//!
//! // one cause, one message, with the way out
//! let wrong = text.replace("wall * area * density", "wall * area");
//! let (calc, _) = parse("estimates/sheet", "sheet.toml", &wrong);
//! let message = check(&calc, &()).remove(0);
//! assert_eq!(message.code, "dimension-mismatch");
//! assert!(message.hints[0].contains("multiply by `density`"), "{message}");
//! ```
//!
//! - [`Calculation`]: what the file says, every text with its place; [`Expr`]: the tree of a formula, printed so that it reads back.
//! - [`Ty`]: what a formula gives. [`Resolve`]: other calculations, for `[use.*]`.
//! - [`Lowered`]: template, parameters to bind ([`Param`]), lines to read ([`Line`]), places where a table refuses ([`Refusal`]).
//! - [`constants`], [`uncovered`], [`table_probes`]: how well the examples guard the text.
//! - [`evaluate`]: evaluation straight from the tree, the reference for templates and the means to recompute an explanation.
//!
//! What is not here: where an input's value comes from (binding), sampling, and which quantities, rates and materials exist.

mod calculation;
mod check;
mod check_owed;
mod check_table;
mod check_value;
mod checks;
mod constants;
mod evaluate;
mod expr;
mod file;
mod file_check;
mod file_input;
mod file_table;
mod function;
mod fuzz;
mod infer;
mod infer_call;
mod lex;
mod lower;
mod lower_expr;
mod lower_input;
mod lower_list;
mod lower_pick;
mod lowered;
mod order;
mod owed;
mod parse_formula;
mod print;
mod probe;
mod problem;
mod ranges;
mod reader;
mod run;
mod series;
mod span;
mod table;
mod toml_text;
mod ty;
mod value;

pub use calculation::{
    Calculation, Check, CheckValue, Declared, Default, Equation, Give, Given, Input, Kind, Length, Method, RangeCheck, Use,
};
pub use check::{MAX_USES, Resolve, check};
pub use checks::{CheckResult, run_checks, run_checks_with};
pub use constants::{Change, Constant, ConstantOwner, constants, uncovered};
pub use evaluate::{Known, evaluate};
pub use expr::{Binary, Expr, ExprKind, Literal};
pub use file::{MAX_FILE, parse};
pub use file_input::ROOTS;
pub use file_table::MAX_ROWS;
pub use function::Function;
pub use fuzz::{fuzz_file, fuzz_formula};
pub use lower::{MAX_INSTANCES, MAX_TEMPLATE, lower};
pub use lower_input::{MAX_INPUTS, any_shape, flat_inputs};
pub use lowered::{FlatInput, InputValue, Line, LineKind, Lowered, Param, ParamKind, Refusal, Shape};
pub use owed::{GROUPS, Group, GroupKind, Owed, OwedField, ROLES};
pub use parse_formula::{MAX_HEIGHT, MAX_NESTING, MAX_NODES, MAX_TEXT, parse_formula};
pub use probe::{Probe, table_probes};
pub use problem::Problem;
pub use ranges::distribution;
pub use reader::MAX_LIST;
pub use series::TableOrder;
pub use span::{Located, Span};
pub use table::{Cell, CellValue, Column, Key, Outside, Row, Rule, Table};
pub use toml_text::SourceMap;
pub use ty::Ty;
