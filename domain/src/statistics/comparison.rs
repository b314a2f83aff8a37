//! Two methods on the same samples: does one give what the other gives?
//!
//! Promises lines that allow for errors of both methods, and the bias with its interval; refuses
//! too few samples, and samples that do not differ.

mod bias;
mod deming;
mod passing_bablok;

pub use bias::{BiasInput, BiasKind, MethodBias, method_bias};
pub use deming::{DemingErrors, DemingFit, DemingInput, deming};
pub use passing_bablok::{PassingBablokFit, PassingBablokInput, passing_bablok};
