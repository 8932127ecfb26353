use crate::{Calculation, Resolve};
use tare_diag::Diag;
pub(crate) fn problems(_: &Calculation, _: &dyn Resolve) -> Vec<Diag> { Vec::new() }
