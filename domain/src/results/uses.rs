//! Which runs can be used, and what each says.

use crate::analytes::Analyte;
use crate::dilution::Factor;
use crate::id::{KitLotId, RunId};
use crate::kit_lots::KitLotEntry;
use crate::quantity::Concentration;
use crate::runs::{ReadingKind, Run, RunState};

use super::content::{RunUse, Use};
use super::inputs::{ResultInputs, RunFacts};
use super::range::{MeasuringRange, Seen, see};

/// A run that can be used, with what it says.
#[derive(Clone, Copy)]
pub(super) struct Usable<'a> {
    pub(super) id: RunId,
    pub(super) run: &'a Run,
    pub(super) factor: Factor,
    /// Not scaled.
    pub(super) range: MeasuringRange,
    pub(super) seen: Seen,
    pub(super) expanded_uncertainty: Option<Concentration>,
}

/// The runs in the order they were read, each either usable or with the reason why not.
pub(super) fn sort_out<'a>(inputs: &ResultInputs<'a>) -> Vec<Result<Usable<'a>, RunUse>> {
    let mut facts: Vec<&RunFacts<'a>> = inputs
        .runs
        .iter()
        .filter(|facts| concerns(facts.run, inputs.analyte))
        .collect();
    facts.sort_by_key(|facts| (facts.run.entry.read_at, facts.id));
    facts.dedup_by_key(|facts| facts.id);
    facts
        .into_iter()
        .map(|facts| {
            usable(facts, inputs).map_err(|why| RunUse {
                run: facts.id,
                standing: false,
                why,
                factor: facts.run.factor,
                finding: None,
            })
        })
        .collect()
}

/// Whether a run was read for the analyte; what only began says nothing yet.
pub(super) fn concerns(run: &Run, analyte: Analyte) -> bool {
    run.reading_of(analyte).is_some()
        && match run.state {
            RunState::Recorded | RunState::Withdrawn => true,
            RunState::Begun | RunState::Unassigned => false,
        }
}

fn usable<'a>(facts: &RunFacts<'a>, inputs: &ResultInputs<'a>) -> Result<Usable<'a>, Use> {
    let run = facts.run;
    if run.state == RunState::Withdrawn {
        return Err(Use::Withdrawn);
    }
    let reading = run.reading_of(inputs.analyte).ok_or(Use::Invalid)?;
    if let (Some(worked_by), Some(procedure)) = (run.entry.procedure, inputs.procedure)
        && worked_by.0 != procedure.source.subject
    {
        return Err(Use::AnotherProcedure);
    }
    if reading.kind == ReadingKind::Invalid {
        return Err(Use::Invalid);
    }
    let range = range_of(run, inputs).ok_or(Use::NoRange)?;
    match see(reading, range, run.factor, run.entry.value_includes_factor) {
        Ok(Some(seen)) => Ok(Usable {
            id: facts.id,
            run,
            factor: run.factor,
            range,
            seen,
            expanded_uncertainty: facts.expanded_uncertainty,
        }),
        Ok(None) => Err(Use::Invalid),
        Err(_too_large) => Err(Use::Uncomputable),
    }
}

fn range_of(run: &Run, inputs: &ResultInputs<'_>) -> Option<MeasuringRange> {
    let procedure = inputs
        .procedure
        .and_then(|facts| facts.content.range_of(inputs.analyte));
    let kit_lot = run
        .entry
        .kit_lot
        .and_then(|id| kit_lot(id, inputs))
        .and_then(|lot| lot.range_of(inputs.analyte));
    MeasuringRange::of(procedure, kit_lot)
}

fn kit_lot<'a>(id: KitLotId, inputs: &ResultInputs<'a>) -> Option<&'a KitLotEntry> {
    inputs
        .kit_lots
        .iter()
        .find(|facts| facts.source.subject == id.0)
        .map(|facts| facts.content)
}
