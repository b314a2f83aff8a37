//! The four-parameter logistic curve of an immunoassay: fit, inverse, interval.
//!
//! Promises parameters with both usual standard errors, and concentrations with what the reading
//! and the curve each add to their doubt; refuses responses that are not monotone, data that do
//! not tell the parameters apart, and readings outside the asymptotes, for which there is no
//! concentration.

mod curve;
mod data;
mod doses;
mod fit;
mod inverse;
mod refine;

pub use curve::{CurveAxis, LogisticCurve};
pub use doses::{CurveReading, EffectiveDose, ErrorsBy, Estimate, ReadConcentration};
pub use fit::{LogisticFit, LogisticFitInput, fit_logistic};
pub use inverse::{
    InverseConcentration, LineSignals, LogisticInverseInput, OnCurve, ReaderCheck,
    ReaderCheckInput, check_reader, logistic_inverse, read_from_curve,
};
