//! The result of one analyte, from everything that is recorded of its sample.

use super::asked::{LimitsThatApply, Settings};
use super::evidence::Evidence;
use super::{Dossier, RecordedRun, SharedFacts};
use crate::analytes::Analyte;
use crate::equipment::EquipmentKind;
use crate::id::{EquipmentId, ProcedureId, SampleId};
use crate::kit_lots::KitLotEntry;
use crate::limits::QueryError;
use crate::results::{
    ComputedResult, Facts, OrderFacts, Pipette, ResultInputs, ResultPurpose, ResultState,
    ResultVersion, RunFacts, UnknownRules, compute_by,
};
use crate::versions::SubjectVersion;

/// Why nothing was computed.
#[derive(Debug, thiserror::Error)]
pub enum AssessmentError {
    /// Rules of a number that was never released.
    #[error("nothing can be computed by these rules")]
    Rules(#[from] UnknownRules),
    /// Goods or uses that the vocabulary does not have.
    #[error("the limits that apply cannot be found")]
    Goods(#[from] QueryError),
}

/// The result of one analyte by the rules of a number; it names every version that it came from.
///
/// # Errors
/// [`AssessmentError`].
pub fn compute_result(
    rules: u32,
    shared: &dyn SharedFacts,
    dossier: &Dossier<'_>,
    analyte: Analyte,
    known: &mut LimitsThatApply,
) -> Result<ComputedResult, AssessmentError> {
    let (id, bench) = procedure_of(shared, dossier, analyte);
    let procedure = id.and_then(|id| shared.procedure(id));
    let content = procedure.map(|facts| facts.content);
    let settings = Settings::of(shared, dossier, analyte, content, known)?;
    let limits = settings.applied(shared);
    let kit_lots = kit_lots(shared, dossier);
    let runs: Vec<RunFacts<'_>> = dossier.runs.iter().map(facts_of).collect();
    let pipettes = pipettes(shared, dossier);
    let sample = dossier.sample;
    let mut others = vec![sample.source];
    others.extend(dossier.lot.map(|lot| lot.source));
    others.extend(dossier.order.map(|order| order.source));
    others.extend(bench);
    others.extend(settings.sources(shared));
    let moisture = sample.content.moisture.as_ref();
    let evidence = Evidence {
        shared,
        dossier,
        procedure: content.map(|procedure| &procedure.entry),
        analyte,
        pipettes: &pipettes,
    };
    Ok(compute_by(
        rules,
        &ResultInputs {
            sample: SampleId(sample.source.subject),
            analyte,
            purpose: ResultPurpose::Original,
            order: OrderFacts {
                number_wanted: settings.number_wanted,
                rule: settings.rule.clone(),
            },
            procedure: procedure.map(|facts| Facts {
                source: facts.source,
                content: &facts.content.entry,
            }),
            kit_lots: &kit_lots,
            runs: &runs,
            limits: &limits,
            conditions: &settings.conditions,
            moisture_percent: moisture.map(|moisture| moisture.percent),
            recorded_bases: &[],
            uncertainty: None,
            pipettes: &pipettes,
            evidence: &evidence,
            other_sources: &others,
        },
    )?)
}

/// The result of one analyte by the newest rules, where there was one before. One that was released
/// or returned is first asked by its own rules: new rules by themselves change nothing that people
/// have seen and signed.
///
/// # Errors
/// [`AssessmentError`].
pub fn compute_result_anew(
    newest: u32,
    before: Option<&ResultVersion>,
    shared: &dyn SharedFacts,
    dossier: &Dossier<'_>,
    analyte: Analyte,
    known: &mut LimitsThatApply,
) -> Result<ComputedResult, AssessmentError> {
    let settled = before
        .filter(|one| matches!(one.state, ResultState::Released | ResultState::Returned))
        .map(|one| &one.computed)
        .filter(|computed| computed.rules != newest);
    if let Some(settled) = settled {
        let own = compute_result(settled.rules, shared, dossier, analyte, known)?;
        if settled.says_the_same(&own) {
            return Ok(own);
        }
    }
    compute_result(newest, shared, dossier, analyte, known)
}

fn facts_of<'a>(recorded: &RecordedRun<'a>) -> RunFacts<'a> {
    RunFacts {
        id: recorded.id(),
        version: recorded.source.version,
        run: recorded.run,
        expanded_uncertainty: None,
    }
}

/// The procedure that the newest of the analyte's runs names, else that of the bench of the
/// sample's site, which then counts as looked at.
fn procedure_of(
    shared: &dyn SharedFacts,
    dossier: &Dossier<'_>,
    analyte: Analyte,
) -> (Option<ProcedureId>, Option<SubjectVersion>) {
    let newest = dossier
        .read_for(analyte)
        .filter_map(|one| Some((one.run.entry.read_at?, one.run.entry.procedure?)))
        .max();
    if let Some((_, id)) = newest {
        return (Some(id), None);
    }
    let site = dossier.sample.content.site.and_then(|id| shared.site(id));
    (
        site.and_then(|site| site.content.bench.procedure),
        site.map(|site| site.source),
    )
}

/// The kit lots that the runs name, as far as they are known.
fn kit_lots<'a>(shared: &'a dyn SharedFacts, dossier: &Dossier<'_>) -> Vec<Facts<'a, KitLotEntry>> {
    let mut found: Vec<Facts<'a, KitLotEntry>> = Vec::new();
    for id in dossier.runs.iter().filter_map(|one| one.run.entry.kit_lot) {
        if let Some(lot) = shared.kit_lot(id)
            && !found.iter().any(|one| one.source.subject == id.0)
        {
            found.push(Facts {
                source: lot.source,
                content: &lot.content.entry,
            });
        }
    }
    found
}

/// The pipettes of the sample's site; all of the laboratory's where the site is not known.
fn pipettes<'a>(shared: &'a dyn SharedFacts, dossier: &Dossier<'_>) -> Vec<Pipette<'a>> {
    let site = dossier.sample.content.site;
    let mut found: Vec<Pipette<'a>> = shared
        .all_equipment()
        .into_iter()
        .filter(|one| one.content.kind == EquipmentKind::Pipette)
        .filter(|one| site.is_none() || one.content.site.is_none() || one.content.site == site)
        .map(|one| Pipette {
            id: EquipmentId(one.source.subject),
            version: one.source.version,
            equipment: one.content,
        })
        .collect();
    found.sort_by_key(|one| one.id);
    found
}
