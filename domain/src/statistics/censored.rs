//! Left-censored results: what a set says of which some are only known to be below a limit.
//!
//! Promises bounds by substitution, Kaplan and Meier's estimate, regression on order statistics,
//! maximum likelihood, and the lower-bound sum of toxins; refuses sets with too few results above
//! their limits.

mod bounds;
mod kaplan_meier;
mod likelihood;
mod order_statistics;
mod sum;
mod value;

pub use bounds::{Bound, BoundConvention, BoundsInput, SubstitutionBounds, substitution_bounds};
pub use kaplan_meier::{
    KaplanMeier, KaplanMeierInput, KaplanMeierStep, RemainingMass, kaplan_meier,
};
pub use likelihood::{CensoredInput, LognormalLikelihood, lognormal_likelihood};
pub use order_statistics::{
    AboveLargest, OrderStatistics, OrderStatisticsInput, regression_on_order_statistics,
};
pub use sum::{SummedToxin, ToxinSum, ToxinSumInput, ToxinTerm, toxin_sum};
pub use value::CensoredValue;
