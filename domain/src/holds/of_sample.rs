//! From how a sample was taken to its holds, which keep every result of it.
//!
//! Promises one hold for everything in which a sampling departs from its plan, so that it is looked
//! at as a whole. Rules before number 3 find nothing amiss with a sample.

use super::{HoldDraft, HoldKind};
use crate::results::UnknownRules;
use crate::samplings::{PlanCheck, PlanStanding};

/// What is amiss with a sample by the rules that a record names, from the check of the sampling
/// that it came from; none where it names no sampling.
///
/// # Errors
/// [`UnknownRules`].
///
/// ```
/// use domain::holds::{HoldKind, evaluate_sample_by};
/// use domain::samplings::{PlanCheck, PlanStanding};
/// let departs = PlanCheck {
///     standing: PlanStanding::Departs,
///     detail: "departs from eu-2023-cereal-10-20: 40 taken, at least 60 asked for".into(),
///     asked: None,
///     departures: vec![],
/// };
/// assert_eq!(evaluate_sample_by(3, Some(&departs))?[0].kind, HoldKind::SamplingDeparture);
/// assert!(evaluate_sample_by(2, Some(&departs))?.is_empty());
/// assert!(evaluate_sample_by(4, Some(&departs)).is_err(), "rules 4 are not written");
/// # Ok::<(), domain::results::UnknownRules>(())
/// ```
pub fn evaluate_sample_by(
    rules: u32,
    sampling: Option<&PlanCheck>,
) -> Result<Vec<HoldDraft>, UnknownRules> {
    match rules {
        1 | 2 => Ok(Vec::new()),
        3 => Ok(sampling.and_then(draft).into_iter().collect()),
        number => Err(UnknownRules { number }),
    }
}

fn draft(check: &PlanCheck) -> Option<HoldDraft> {
    match check.standing {
        PlanStanding::NoPlan | PlanStanding::OwnPlan | PlanStanding::AsAsked => None,
        PlanStanding::NotApplicable | PlanStanding::Departs => Some(HoldDraft::new(
            HoldKind::SamplingDeparture,
            check.detail.as_str(),
        )),
    }
}

/// The rules of results whose concerns the holds of a number come from.
///
/// # Errors
/// [`UnknownRules`].
///
/// ```
/// use domain::holds::results_rules;
/// assert_eq!((results_rules(1)?, results_rules(3)?), (1, 2));
/// assert!(results_rules(4).is_err());
/// # Ok::<(), domain::results::UnknownRules>(())
/// ```
pub const fn results_rules(holds: u32) -> Result<u32, UnknownRules> {
    match holds {
        1 => Ok(1),
        2 | 3 => Ok(2),
        number => Err(UnknownRules { number }),
    }
}
