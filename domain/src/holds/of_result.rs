//! From what a computation found amiss to the holds of its result.

use super::{HoldDraft, HoldKind};
use crate::results::{ComputedResult, Concern};

/// What is amiss with a computed result, sorted, each once.
///
/// A run whose volumes, factor and values disagree is held itself, by [`super::evaluate_run`], and
/// so not once more here.
///
/// ```
/// use domain::holds::{HoldKind, result_holds};
/// use domain::results::Concern;
/// let concern = Concern::Unreportable { reason: "no places are named".into() };
/// let drafts = result_holds(&[concern]);
/// assert_eq!(drafts[0].kind, HoldKind::Unreportable);
/// assert!(result_holds(&[]).is_empty());
/// ```
#[must_use]
pub fn result_holds(concerns: &[Concern]) -> Vec<HoldDraft> {
    let mut drafts: Vec<HoldDraft> = concerns.iter().filter_map(draft).collect();
    drafts.sort_unstable();
    drafts.dedup();
    drafts
}

fn draft(concern: &Concern) -> Option<HoldDraft> {
    let (kind, detail) = match concern {
        Concern::DilutionDisagreement { .. } => return None,
        Concern::Contradiction {
            over_range,
            bound,
            run,
            most,
        } => (
            HoldKind::Contradiction,
            format!("run {over_range} says > {bound} µg/kg, run {run} says at most {most} µg/kg"),
        ),
        Concern::ReplicateDisagreement { runs, check } => {
            let runs: Vec<String> = runs.iter().map(ToString::to_string).collect();
            let how = match check {
                Some(check) => format!(
                    "{} µg/kg apart, the critical range is {} µg/kg",
                    check.range, check.critical_range
                ),
                None => "on both sides of the upper end".to_owned(),
            };
            let detail = format!("{how}: runs {}", runs.join(", "));
            (HoldKind::ReplicateDisagreement, detail)
        }
        Concern::NoDilution { reason } => (HoldKind::NoDilution, reason.to_string()),
        Concern::Unreportable { reason } => (HoldKind::Unreportable, reason.clone()),
    };
    Some(HoldDraft::new(kind, detail))
}

/// That something a result depends on changed, and it is to be computed again; `changed` names that
/// thing by its kind and code. It is lifted by the next reconciling after the computation.
///
/// ```
/// use domain::holds::{computation_due, HoldKind};
/// let due = computation_due("kit lot AF-2601");
/// assert_eq!((due.kind, due.kind.acceptable()), (HoldKind::ComputationDue, false));
/// ```
#[must_use]
pub fn computation_due(changed: &str) -> HoldDraft {
    let detail = format!("{changed} changed; the result is not computed again yet");
    HoldDraft::new(HoldKind::ComputationDue, detail)
}

/// The holds of a result as it was computed: [`result_holds`] of its concerns.
#[must_use]
pub fn evaluate_result(result: &ComputedResult) -> Vec<HoldDraft> {
    result_holds(&result.concerns)
}
