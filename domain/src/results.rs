//! Reading × dilution to reported result: range, replicates, rounding, what is due next.
//!
//! Promises that the same facts give the same result, in whatever order they are handed in, and
//! that every number of rules that was ever released stays callable. Refuses nothing that was
//! recorded: a run that cannot be used is listed with the reason, and never used.

mod compute;
mod content;
mod due;
mod inputs;
mod lot_doubt;
mod over_range;
mod plan;
mod range;
mod replicates;
mod report;
mod rules_2;
mod states;
#[cfg(test)]
mod tests;
mod uses;

pub use compute::{UnknownRules, compute, compute_by};
pub use content::{
    ComputedResult, Concern, KeptBudgetLine, Needs, ProcedureUsed, ResultPurpose, RunUse,
    UncertaintyPlace, Use,
};
pub use inputs::{Facts, OrderFacts, ResultInputs, RunFacts};
pub use lot_doubt::{LimitChance, LotDoubt, LotTest};
pub use plan::{NextDilution, NoDilution, Pipette, PlanInputs, plan};
pub use range::{MeasuringRange, Seen, see};
pub use replicates::{RangeCheck, Replicates, Statistic, critical_range_factor, final_value};
pub use report::reported_text;
pub use rules_2::{BudgetEvidence, BudgetSource, compute_by_rules_2};
pub use states::{ResultError, ResultState, ResultVersion};

/// The number of the rules by which a new result is computed.
pub const RULES: u32 = 2;

/// The newest rules that [`compute_by`] knows.
pub const NEWEST_RULES: u32 = 2;

/// JSON pointers of what is personal or free text: none, a result is facts alone.
pub const DISCLOSED: &[&str] = &[];
