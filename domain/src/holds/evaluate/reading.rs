//! Holds for times, dilution, readings and controls.

use chrono::TimeDelta;

use super::super::{HoldDraft, HoldKind, RunFacts};
use crate::dilution::{DilutionStep, factor_of};
use crate::procedures::Procedure;
use crate::quality_control::ControlVerdict;
use crate::runs::{InvalidReason, ReadingKind, Run};
use crate::samples::Purpose;

pub(super) fn evaluate(run: &Run, facts: &RunFacts<'_>, drafts: &mut Vec<HoldDraft>) {
    times(run, facts, drafts);
    if let Some(procedure) = facts.procedure {
        dilution(run, procedure, drafts);
    }
    for disagreement in run.disagreements() {
        drafts.push(HoldDraft::new(
            HoldKind::FactorDisagreement,
            disagreement.to_string(),
        ));
    }
    for reading in run
        .entry
        .readings
        .iter()
        .filter(|one| one.kind == ReadingKind::Invalid)
    {
        let why = match reading.reason {
            Some(InvalidReason::NoControlLine) => "the control line did not appear",
            Some(InvalidReason::PortFault) => "the reader's port failed",
            Some(InvalidReason::UnreadableStrip) => "the strip could not be read",
            Some(InvalidReason::BrokenOff) => "the run was broken off",
            Some(InvalidReason::Other) | None => "the reading is invalid",
        };
        let detail = format!("{}: {why}", reading.analyte);
        drafts.push(HoldDraft::new(HoldKind::InvalidReading, detail).about(reading.analyte));
    }
    controls(run, facts, drafts);
}

fn times(run: &Run, facts: &RunFacts<'_>, drafts: &mut Vec<HoldDraft>) {
    let Some(read_at) = run.entry.read_at else {
        return;
    };
    let limits = facts.procedure.map(|procedure| &procedure.entry.tolerances);
    // Without a stated allowance none is given: nothing can be read after it was recorded.
    let allowed = limits
        .and_then(|limits| limits.maximum_clock_ahead_s)
        .unwrap_or(0);
    let ahead = read_at.utc() - facts.recorded_at.utc();
    if ahead > TimeDelta::seconds(i64::from(allowed)) {
        let recorded_at = facts.recorded_at;
        let detail =
            format!("read at {read_at}, recorded at {recorded_at}; at most {allowed} s ahead");
        drafts.push(HoldDraft::new(HoldKind::ClockAhead, detail));
    }
    let (Some(begun_at), Some(limits)) = (run.entry.begun_at, limits) else {
        return;
    };
    if let (Some(due), Some(tolerance)) = (limits.read_after_s, limits.read_tolerance_s) {
        let after = read_at.seconds_since(begun_at);
        if after.abs_diff(i64::from(due)) > u64::from(tolerance) {
            let detail = format!("read {after} s after it began; {due} s within {tolerance} s");
            drafts.push(HoldDraft::new(HoldKind::ReadOutsideWindow, detail));
        }
    }
}

/// A validated dilution has as many steps, each of the same factor with the same diluent: 200 µL
/// with 1000 µL is the dilution that 100 µL with 500 µL is.
fn dilution(run: &Run, procedure: &Procedure, drafts: &mut Vec<HoldDraft>) {
    let steps = &run.entry.dilution;
    if steps.is_empty() {
        return;
    }
    let validated = procedure.entry.dilutions.iter().any(|scheme| {
        scheme.steps.len() == steps.len()
            && scheme
                .steps
                .iter()
                .zip(steps)
                .all(|(due, done)| same_step(due, done))
    });
    if !validated {
        let volumes: Vec<String> = steps
            .iter()
            .map(|step| {
                let (sample, diluent) = (step.sample_volume_ul, step.diluent_volume_ul);
                format!("{sample} µL with {diluent} µL of {}", step.diluent)
            })
            .collect();
        let code = &procedure.entry.code;
        let detail = format!(
            "{}: not a dilution of procedure {code}",
            volumes.join(", then ")
        );
        drafts.push(HoldDraft::new(HoldKind::DilutionNotValidated, detail));
    }
}

fn same_step(due: &DilutionStep, done: &DilutionStep) -> bool {
    let factor = |step: &DilutionStep| factor_of(std::slice::from_ref(step)).ok();
    let same_factor = factor(due).is_some_and(|of_due| Some(of_due) == factor(done));
    same_factor && due.diluent.to_lowercase() == done.diluent.to_lowercase()
}

fn controls(run: &Run, facts: &RunFacts<'_>, drafts: &mut Vec<HoldDraft>) {
    let control = facts
        .sample
        .is_some_and(|sample| sample.purpose == Purpose::Control);
    let required = facts
        .procedure
        .is_some_and(|one| one.entry.controls.required);
    if control {
        return;
    }
    for reading in &run.entry.readings {
        let analyte = reading.analyte;
        let said = facts.controls.iter().find(|(of, _)| *of == analyte);
        let (kind, detail) = match said.map(|(_, verdict)| verdict) {
            Some(ControlVerdict::Accepted) => continue,
            Some(ControlVerdict::Out { detail }) => (HoldKind::ControlOut, detail.clone()),
            Some(ControlVerdict::Missing { .. }) | None if !required => continue,
            Some(ControlVerdict::Missing { detail }) => (HoldKind::ControlMissing, detail.clone()),
            None => {
                let detail = match run.entry.series {
                    Some(_) => format!("{analyte}: the series has no control run"),
                    None => format!("{analyte}: the run belongs to no series"),
                };
                (HoldKind::ControlMissing, detail)
            }
        };
        drafts.push(HoldDraft::new(kind, detail).about(analyte));
    }
}
