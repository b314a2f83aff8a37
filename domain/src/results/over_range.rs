//! Runs over range: the bound that stands, whether it is enough, and what contradicts it.

use std::collections::BTreeSet;

use crate::decisions::{Decision, Undecided, Verdict};
use crate::dilution::Factor;
use crate::id::RunId;
use crate::quantity::Concentration;

use super::content::Concern;
use super::range::{kept, most, over_range};
use super::uses::Usable;

/// Whether a limit is left open that a diluted run could close; so it is where none applies,
/// since then the number is all there is to report.
pub(super) fn a_number_is_due(decisions: &[Decision], number_wanted: bool) -> bool {
    number_wanted
        || decisions.is_empty()
        || decisions.iter().any(|decision| match &decision.decision {
            Verdict::Pass
            | Verdict::ConditionalPass
            | Verdict::ConditionalFail
            | Verdict::Fail
            | Verdict::Negative
            | Verdict::Suspect => false,
            Verdict::Undecided { reason } => a_number_helps(reason),
        })
}

/// A number helps but where something else is in the way that no number takes away.
fn a_number_helps(reason: &Undecided) -> bool {
    match reason {
        Undecided::NoUncertainty
        | Undecided::CannotSeeThatLow { .. }
        | Undecided::OverRangeTooEarly { .. }
        | Undecided::NoMoisture
        | Undecided::AbsurdMoisture
        | Undecided::NotOnBasis { .. }
        | Undecided::ConditionUnknown { .. }
        | Undecided::GuardBandTooWide
        | Undecided::Uncomputable => true,
        // A sum over a part's limit stays over it, and a limit that does not decide stays so.
        Undecided::TotalAboveLimit
        | Undecided::PartWithinLimit
        | Undecided::ConditionNotMet { .. }
        | Undecided::OtherAnalyte
        | Undecided::LimitNotAdopted { .. }
        | Undecided::ScreenedTooHigh
        | Undecided::UnusableRule { .. } => false,
    }
}

/// The highest lower bound, with the factor it was seen at.
pub(super) fn highest_bound(usable: &[Usable<'_>]) -> Option<(Concentration, Factor)> {
    usable
        .iter()
        .filter_map(|one| Some((over_range(one.seen.finding)?, one.factor)))
        .max()
}

/// The most that a run in range can mean: its value with its uncertainty, or its upper bound.
fn most_with_uncertainty(one: &Usable<'_>) -> Option<Concentration> {
    let most = most(one.seen.finding)?;
    match one.expanded_uncertainty {
        Some(expanded) if one.seen.finding.quantified().is_some() => {
            most.ug_per_kg().checked_add(expanded.ug_per_kg()).map(kept)
        }
        Some(_) | None => Some(most),
    }
}

/// Runs that say less than the lower bound of a run over range: at another dilution a
/// contradiction, at the same one replicates that disagree.
pub(super) fn contradictions(usable: &[Usable<'_>]) -> Vec<Concern> {
    let mut concerns = Vec::new();
    let mut replicates: BTreeSet<RunId> = BTreeSet::new();
    for above in usable {
        let Some(bound) = over_range(above.seen.finding) else {
            continue;
        };
        for other in usable {
            let Some(most) = most_with_uncertainty(other).filter(|most| *most < bound) else {
                continue;
            };
            if other.factor == above.factor {
                replicates.extend([above.id, other.id]);
            } else {
                concerns.push(Concern::Contradiction {
                    over_range: above.id,
                    bound,
                    run: other.id,
                    most,
                });
            }
        }
    }
    if !replicates.is_empty() {
        concerns.push(Concern::ReplicateDisagreement {
            runs: replicates.into_iter().collect(),
            check: None,
        });
    }
    concerns
}
