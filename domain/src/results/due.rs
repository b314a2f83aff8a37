//! What is due before a result is whole: a dilution, further determinations, or nothing.
//!
//! Promises that a dilution is planned only where a number is asked for or helps; refuses to plan
//! one where the procedure validates none, and says so as a concern.

use crate::versions::{SubjectVersion, in_order};

use super::compute::Outcome;
use super::content::{ComputedResult, Concern, Needs};
use super::inputs::ResultInputs;
use super::over_range::a_number_is_due;
use super::plan::{NoDilution, PlanInputs, plan};
use super::range::over_range;
use super::uses::Usable;

/// What is due next: a dilution, further determinations, or nothing.
pub(super) fn settle(
    result: &mut ComputedResult,
    outcome: &Outcome,
    usable: &[Usable<'_>],
    standing: &[&Usable<'_>],
    inputs: &ResultInputs<'_>,
    looked_at: Vec<SubjectVersion>,
) {
    look_at(result, looked_at);
    if over_range(outcome.finding).is_none() {
        let further = outcome
            .replicates
            .map_or(0, |replicates| replicates.further);
        if further > 0 {
            result.needs = Some(Needs::FurtherDeterminations { further });
            result.concerns.push(Concern::ReplicateDisagreement {
                runs: standing.iter().map(|run| run.id).collect(),
                check: outcome.replicates.and_then(|replicates| replicates.check),
            });
        }
        return;
    }
    if !a_number_is_due(&result.decisions, inputs.order.number_wanted) {
        return;
    }
    // The pipettes bear on a result only where a dilution is planned.
    let pipettes = inputs.pipettes.iter().map(|pipette| SubjectVersion {
        subject: pipette.id.0,
        version: pipette.version,
    });
    look_at(result, pipettes.collect());
    match next_dilution(outcome, usable, standing, inputs) {
        Ok(next) => {
            result.next_dilution = Some(next);
            result.needs = Some(Needs::Dilution);
        }
        Err(reason) => result.concerns.push(Concern::NoDilution { reason }),
    }
}

/// Adds versions to those that the result came from.
fn look_at(result: &mut ComputedResult, more: Vec<SubjectVersion>) {
    if !more.is_empty() {
        let from = std::mem::take(&mut result.from);
        result.from = in_order(from.into_iter().chain(more).collect());
    }
}

fn next_dilution(
    outcome: &Outcome,
    usable: &[Usable<'_>],
    standing: &[&Usable<'_>],
    inputs: &ResultInputs<'_>,
) -> Result<super::NextDilution, NoDilution> {
    let procedure = inputs.procedure.ok_or(NoDilution::NoProcedure)?;
    let over: Vec<&Usable<'_>> = usable
        .iter()
        .filter(|run| over_range(run.seen.finding).is_some())
        .collect();
    let over_range_at = over.iter().map(|run| run.factor).max();
    let over_range_at = over_range_at.unwrap_or(outcome.factor);
    // The most diluted runs saw most of it: what they gave as a number is expected.
    let expected = over
        .iter()
        .filter(|run| run.factor == over_range_at)
        .filter_map(|run| run.seen.value)
        .max();
    let range = standing.first().map(|run| run.range);
    plan(&PlanInputs {
        dilutions: &procedure.content.dilutions,
        range: range.ok_or(NoDilution::NoProcedure)?,
        over_range_at,
        expected,
        pipettes: inputs.pipettes,
    })
}
