//! Statistics of measurement: how sure a number is, and how a laboratory knows that it was right.
//!
//! Promises decimals in and decimals out, with the intermediate figures beside the last one;
//! refuses, naming the quantity, whatever has no finite answer: never NaN, infinity or a silent
//! default. This is the one place with binary floating point. What leaves it is rounded to
//! [`SIGNIFICANT_FIGURES`], so that the last binary places, in which machines differ, never show.
//!
//! Distributions and special functions are those of `statrs`, the error function that of `libm`;
//! least squares those of `nalgebra` and `levenberg-marquardt`; roots those of `argmin`;
//! quadrature that of `gauss-quad`.
//!
//! | room | question it answers |
//! |---|---|
//! | [`distributions`] | how likely is a value beyond this one, and which value is this unlikely? |
//! | [`precision`] | how far apart are results of one laboratory, and of two? |
//! | [`robust`] | where is the middle, when some results are wrong? |
//! | [`proficiency`] | is a laboratory's result what it should be? |
//! | [`control`] | is the method today what it was? |
//! | [`lines`] | which line goes through these points, and which x has this signal? |
//! | [`detection`] | from where on is something detected, and quantified? |
//! | [`censored`] | what do results say of which some are below a limit? |
//! | [`logistic`] | which concentration has this response? |
//! | [`comparison`] | does one method give what the other gives? |
//! | [`proportions`] | which share, and how sure? |
//! | [`screening`] | from which response on is a sample suspect? |
//! | [`tolerance`] | how many standard deviations cover how much? |
//! | [`random_effects`] | what do laboratories that disagree come to? |
//! | [`skewed`] | how likely is a result up to a limit, where results are skewed? |
//! | [`lot_posterior`] | how likely is a lot over a limit, given a result on it? |
//! | [`binary`] | what would a binary float have made of a decimal? |

#![expect(
    clippy::disallowed_types,
    reason = "the one place with floats; its door takes and gives decimals"
)]

pub mod binary;
pub mod censored;
pub mod comparison;
pub mod control;
pub mod detection;
pub mod distributions;
mod door;
mod error;
mod integrals;
mod least_squares;
pub mod lines;
pub mod logistic;
pub mod lot_posterior;
pub mod precision;
pub mod proficiency;
pub mod proportions;
pub mod random_effects;
pub mod robust;
pub mod screening;
pub mod skewed;
mod solve;
mod special;
mod summary;
#[cfg(test)]
mod tests;
pub mod tolerance;

pub use door::SIGNIFICANT_FIGURES;
pub use error::StatisticsError;
