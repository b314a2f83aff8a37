//! Holds for what ties a run to its sample, its analyst and its procedure.

use super::super::{HoldDraft, HoldKind, RunFacts};
use crate::procedures::{Procedure, ProcedureState};
use crate::runs::Run;

pub(super) fn evaluate(run: &Run, facts: &RunFacts<'_>, drafts: &mut Vec<HoldDraft>) {
    if run.entry.sample.is_none() || facts.sample.is_none() {
        let detail = match run.entry.sample_code.as_deref() {
            Some(code) => format!("the export calls the sample \"{code}\"; none here is called so"),
            None => "the run names no sample".to_owned(),
        };
        drafts.push(HoldDraft::new(HoldKind::NoSample, detail));
    }
    match facts.procedure {
        Some(procedure) => in_force(run, facts, procedure, drafts),
        None => drafts.push(HoldDraft::new(
            HoldKind::ProcedureMissing,
            "the run names no procedure",
        )),
    }
    analyst(run, facts, drafts);
    for difference in facts.origin_differences {
        let (member, bench, export) = (&difference.member, &difference.bench, &difference.export);
        let detail = if bench.is_empty() && export.is_empty() {
            format!("{member}: bench and export differ")
        } else {
            format!("{member}: bench \"{bench}\", export \"{export}\"")
        };
        drafts.push(HoldDraft {
            kind: HoldKind::OriginDifference,
            analyte: difference.analyte,
            detail,
        });
    }
}

fn in_force(run: &Run, facts: &RunFacts<'_>, procedure: &Procedure, drafts: &mut Vec<HoldDraft>) {
    let code = &procedure.entry.code;
    match procedure.state {
        ProcedureState::Draft => drafts.push(HoldDraft::new(
            HoldKind::ProcedureNotAdopted,
            format!("procedure {code} is a draft"),
        )),
        // What was run while it was in force stands: retiring a procedure undoes no run.
        ProcedureState::Adopted | ProcedureState::Retired => {}
    }
    let from = procedure.entry.effective_from;
    if let Some(day) = run.entry.read_at.map(|at| facts.local_day(at))
        && day < from
    {
        drafts.push(HoldDraft::new(
            HoldKind::ProcedureNotAdopted,
            format!("procedure {code} is effective from {from}; the run was read on {day}"),
        ));
    }
    let known = &procedure.entry.commodities;
    if let Some(sample) = facts.sample
        && !known
            .iter()
            .any(|one| *one == sample.commodity || facts.commodities.contains(one))
    {
        drafts.push(HoldDraft::new(
            HoldKind::CommodityNotValidated,
            format!("procedure {code} is not validated for {}", sample.commodity),
        ));
    }
    for reading in &run.entry.readings {
        if procedure.entry.range_of(reading.analyte).is_none() {
            let detail = format!("procedure {code} has no range for {}", reading.analyte);
            drafts
                .push(HoldDraft::new(HoldKind::AnalyteNotValidated, detail).about(reading.analyte));
        }
    }
}

fn analyst(run: &Run, facts: &RunFacts<'_>, drafts: &mut Vec<HoldDraft>) {
    if run.entry.analyst.is_none() {
        drafts.push(HoldDraft::new(
            HoldKind::AnalystUnknown,
            "the run names no account of an analyst",
        ));
        return;
    }
    // Without a procedure or a time there is nothing to be authorised for; that has its own hold.
    let (Some(procedure), Some(read_at)) = (run.entry.procedure, run.entry.read_at) else {
        return;
    };
    let day = facts.local_day(read_at);
    let authorised = facts.authorisations.iter().any(|one| {
        one.procedure == procedure && one.from <= day && one.until.is_none_or(|until| day <= until)
    });
    if !authorised {
        let code = facts
            .procedure
            .map_or("", |known| known.entry.code.as_str());
        drafts.push(HoldDraft::new(
            HoldKind::AnalystNotAuthorised,
            format!("the analyst had no authorisation for procedure {code} on {day}"),
        ));
    }
}
