//! The one maths module: every function any evaluator uses, the same bits on every machine.
//!
//! Only IEEE double operations (`+ - * /`, square root, comparison, conversion, bit patterns) are used, in a fixed order and without
//! fused multiply-add, so that point evaluation, batches and other machines agree exactly. The platform's own functions are never
//! called. `ln` and `exp` have no branches, so that loops over draws can be vectorised. Largest errors seen, in units in the last
//! place (ulp), stand in the tests beside this file.
//!
//! Sources of methods and coefficients: the elementary functions follow the published algorithms of fdlibm (K. C. Ng and others,
//! "Freely distributable LIBM", version 5.3, 1993-2004; coefficients from memory, checked to 1 ulp or better against
//! arbitrary-precision values); the normal quantile is algorithm AS 241 (M. J. Wichura, Applied Statistics 37, 1988, 477-484); the beta
//! quantile is ours.

mod angle;
mod beta;
mod exponential;
mod logic;
mod normal;
mod power;
mod search;
mod whole;

pub use angle::{acos, asin, atan, cos, sin, tan};
pub use beta::{beta_cdf, beta_inv, beta_pdf};
pub use exponential::{exp, ln, log10};
pub(crate) use exponential::{exp_each, ln_each};
pub use logic::{and, choose, max, min, not, or, truth};
pub(crate) use normal::normal_inv_all;
pub use normal::{normal_cdf, normal_inv, normal_pdf};
pub use power::pow;
pub(crate) use power::{pow_each, pow_each_to};
pub use search::{Match, find};
pub(crate) use whole::whole_place;
pub use whole::{ceil, floor, round, whole_index};
