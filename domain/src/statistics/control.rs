//! Control charts and run rules: how a laboratory knows that its method is what it was.
//!
//! Promises limits with the figures they come from, and each signal at the value that completes
//! it; refuses charts of too few values, or of values that do not scatter.

mod bracket;
mod charts;
mod cusum;
mod ewma;
mod factors;
mod multirule;
mod run_length;

pub use bracket::{Bracket, BracketInput, ControlPoint, brackets};
pub use charts::{
    ChartFactors, ChartLimits, DuplicateRangeInput, IndividualsChart, IndividualsInput,
    RangeLimits, SpreadStatistic, SubgroupChart, SubgroupInput, individuals_chart, range_limits,
    subgroup_chart,
};
pub use cusum::{CusumChart, CusumInput, CusumUnit, cusum_chart};
pub use ewma::{EwmaChart, EwmaInput, EwmaLimits, ewma_chart};
pub use factors::{ControlFactors, ControlFactorsInput, control_factors, factors_of};
pub use multirule::{
    ControlRule, MultiruleInput, MultiruleOutcome, RuleDate, RuleSignals, multirule,
};
pub use run_length::{AverageRunLength, RunLengthInput, RunRule, average_run_length};
