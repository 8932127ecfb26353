//! Calculation text to tree, to dimension and type check, to template.
#![allow(missing_docs)]

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
mod reader;
mod run;
mod series;
mod span;
mod table;
mod toml_text;
mod ty;
mod value;

pub use calculation::{
    Calculation, Check, CheckValue, Declared, Default, Equation, Give, Given, Input, Kind, Length, Method, Use,
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
pub use reader::MAX_LIST;
pub use span::{Located, Span};
pub use table::{Cell, CellValue, Column, Key, Outside, Row, Rule, Table};
pub use ty::Ty;
