//! From a dossier to what is to be recorded: results computed again, holds raised and lifted.
//!
//! Promises that the same dossier gives the same outcome, and that nothing is recorded where
//! nothing changed. Decides nothing itself: the rules are the domain's.

use super::{
    dossier::{Dossier, Dossiers, verdicts},
    reference::Reference,
    settings::{LimitsThatApply, settings_of},
};
use crate::{error::Answer, ids, kept::Kept};
use chrono::{Offset as _, TimeZone as _};
use domain::{
    analytes::Analyte,
    holds::{
        Chain, ExistingHold, Held, Hold, HoldDraft, LiftedBy, RunFacts, UsedEquipment,
        evaluate_result, evaluate_run, reconcile, standing_in_the_way,
    },
    id::{HoldId, ResultId, RunId, SampleId},
    kit_lots::KitLotEntry,
    preparations::{Preparation, PreparationKind},
    procedures::Procedure,
    quality_control::{ControlVerdict, verdicts_for},
    results::{Facts, OrderFacts, Pipette, ResultInputs, ResultVersion, compute},
    runs::{Run, RunState},
    samples::Purpose,
    time::Moment,
    versions::SubjectVersion,
};
use std::collections::BTreeSet;
use uuid::Uuid;

/// What is to be recorded of one sample, or of one run without a sample.
#[derive(Default)]
pub(crate) struct Outcome {
    /// New results, and later versions of those that are there.
    pub(crate) results: Vec<Kept<ResultVersion>>,
    /// New holds, and later versions of those that are there.
    pub(crate) holds: Vec<Kept<Hold>>,
}

/// Looks at one dossier: holds of its runs first, then each result and its own holds.
pub(crate) fn assess(
    reference: &Reference,
    dossiers: &Dossiers,
    dossier: &Dossier,
    cache: &mut LimitsThatApply,
    how: LiftedBy,
    now: Moment,
) -> Answer<Outcome> {
    let mut outcome = Outcome::default();
    let mut holds: Vec<Kept<Hold>> = dossier.holds.clone();
    for run in &dossier.runs {
        let drafts = run_drafts(reference, dossiers, Some(dossier), run);
        let of = Held::Run(RunId(run.id));
        let from = run_sources(reference, dossier, run);
        settle(
            &mut holds,
            &mut outcome.holds,
            of,
            Some(dossier.id),
            &drafts,
            &from,
            how,
            now,
        );
    }
    if dossier.sample.content.purpose == Purpose::Control {
        return Ok(outcome);
    }
    for analyte in analytes_of(dossier) {
        let before = dossier
            .results
            .iter()
            .find(|result| result.content.computed.analyte == analyte);
        let computed = computed(reference, dossier, analyte, cache)?;
        let id = before.map_or_else(ids::fresh, |result| result.id);
        let drafts = evaluate_result(&computed);
        let from = computed.from.clone();
        let of = Held::Result(ResultId(id));
        settle(
            &mut holds,
            &mut outcome.holds,
            of,
            Some(dossier.id),
            &drafts,
            &from,
            how,
            now,
        );
        let standing: Vec<RunId> = computed
            .runs
            .iter()
            .filter(|run| run.standing)
            .map(|run| run.run)
            .collect();
        let contents: Vec<Hold> = holds.iter().map(|hold| hold.content.clone()).collect();
        let sample = SampleId(dossier.id);
        let held =
            !standing_in_the_way(&contents, ResultId(id), sample, analyte, &standing).is_empty();
        match before {
            None => outcome.results.push(Kept {
                id,
                version: 1,
                content: ResultVersion::first(computed, held),
                created_at: now,
                changed_at: now,
            }),
            Some(kept) => {
                // A result that was cancelled or superseded stays as it is.
                if let Ok(Some(next)) = kept.content.computed_again(computed, held) {
                    outcome.results.push(next_version(kept, next, now));
                } else if let Some(next) = kept.content.with_holds(held) {
                    outcome.results.push(next_version(kept, next, now));
                }
            }
        }
    }
    Ok(outcome)
}

fn next_version<T: Clone>(kept: &Kept<T>, content: T, now: Moment) -> Kept<T> {
    Kept {
        id: kept.id,
        version: kept.version.saturating_add(1),
        content,
        created_at: kept.created_at,
        changed_at: now,
    }
}

/// The holds of a run that has no sample yet.
pub(crate) fn assess_unassigned(
    reference: &Reference,
    dossiers: &Dossiers,
    run: &Kept<Run>,
    existing: &[Kept<Hold>],
    how: LiftedBy,
    now: Moment,
) -> Outcome {
    let mut outcome = Outcome::default();
    let mut holds = existing.to_vec();
    let drafts = run_drafts(reference, dossiers, None, run);
    let of = Held::Run(RunId(run.id));
    let from = vec![source(run.id, run.version)];
    settle(
        &mut holds,
        &mut outcome.holds,
        of,
        None,
        &drafts,
        &from,
        how,
        now,
    );
    outcome
}

fn source(subject: Uuid, version: i32) -> SubjectVersion {
    SubjectVersion {
        subject,
        version: u32::try_from(version).unwrap_or(1),
    }
}

/// Raises and lifts the holds of one thing, in `holds` as they stand and in `changed` as they are
/// to be recorded.
#[expect(
    clippy::too_many_arguments,
    reason = "each is a fact of its own about the one thing that is settled"
)]
fn settle(
    holds: &mut Vec<Kept<Hold>>,
    changed: &mut Vec<Kept<Hold>>,
    of: Held,
    sample: Option<Uuid>,
    drafts: &[HoldDraft],
    from: &[SubjectVersion],
    how: LiftedBy,
    now: Moment,
) {
    let existing: Vec<ExistingHold> = holds
        .iter()
        .filter(|hold| hold.content.of == of)
        .map(|hold| ExistingHold {
            id: HoldId(hold.id),
            hold: hold.content.clone(),
        })
        .collect();
    let outcome = reconcile(&existing, of, drafts, how);
    for lift in outcome.lift {
        let Some(kept) = holds.iter_mut().find(|hold| hold.id == lift.id.0) else {
            continue;
        };
        if let Ok(lifted) = kept.content.lift(lift.how, None, now) {
            *kept = next_version(kept, lifted, now);
            changed.push(kept.clone());
        }
    }
    for draft in outcome.raise {
        let kept = Kept {
            id: ids::fresh(),
            version: 1,
            content: Hold::raise(of, sample.map(SampleId), draft, from.to_vec()),
            created_at: now,
            changed_at: now,
        };
        holds.push(kept.clone());
        changed.push(kept);
    }
}

/// Analytes that are asked for, or were read.
fn analytes_of(dossier: &Dossier) -> BTreeSet<Analyte> {
    let ordered = dossier
        .order
        .iter()
        .flat_map(|(_, order)| order.content.analytes.iter().map(|one| one.analyte));
    let read = dossier
        .runs
        .iter()
        .filter(|run| run.content.state == RunState::Recorded)
        .flat_map(|run| run.content.entry.readings.iter().map(|one| one.analyte));
    let known = dossier
        .results
        .iter()
        .map(|result| result.content.computed.analyte);
    ordered.chain(read).chain(known).collect()
}

fn computed(
    reference: &Reference,
    dossier: &Dossier,
    analyte: Analyte,
    cache: &mut LimitsThatApply,
) -> Answer<domain::results::ComputedResult> {
    let procedure_id = procedure_of(reference, dossier, analyte);
    let procedure = procedure_id.and_then(|id| reference.procedures.get(&id).map(|one| (id, one)));
    let settings = settings_of(
        reference,
        dossier,
        analyte,
        procedure.map(|(_, one)| &one.content),
        cache,
    )?;
    let limits = settings.applied(reference);
    let mut kit_lots: Vec<Facts<'_, KitLotEntry>> = Vec::new();
    for run in &dossier.runs {
        let known = run.content.entry.kit_lot.map(|id| id.0);
        if let Some((id, lot)) = known.and_then(|id| Some((id, reference.kit_lots.get(&id)?)))
            && !kit_lots.iter().any(|one| one.source.subject == id)
        {
            kit_lots.push(Facts {
                source: lot.source(id),
                content: &lot.content.entry,
            });
        }
    }
    let runs: Vec<domain::results::RunFacts<'_>> = dossier
        .runs
        .iter()
        .map(|run| domain::results::RunFacts {
            id: RunId(run.id),
            version: u32::try_from(run.version).unwrap_or(1),
            run: &run.content,
            expanded_uncertainty: None,
        })
        .collect();
    let pipettes = pipettes(reference, dossier);
    let mut others = vec![dossier.sample.source(dossier.id)];
    others.extend(dossier.lot.iter().map(|(id, lot)| lot.source(*id)));
    others.extend(dossier.order.iter().map(|(id, order)| order.source(*id)));
    others.extend(settings.sources(reference));
    Ok(compute(&ResultInputs {
        sample: SampleId(dossier.id),
        analyte,
        purpose: domain::results::ResultPurpose::Original,
        order: OrderFacts {
            number_wanted: settings.number_wanted,
            rule: settings.rule.clone(),
        },
        procedure: procedure.map(|(id, one)| Facts {
            source: one.source(id),
            content: &one.content.entry,
        }),
        kit_lots: &kit_lots,
        runs: &runs,
        limits: &limits,
        conditions: &settings.conditions,
        moisture_percent: dossier
            .sample
            .content
            .moisture
            .as_ref()
            .map(|one| one.percent),
        recorded_bases: &[],
        uncertainty: None,
        pipettes: &pipettes,
        other_sources: &others,
    }))
}

/// The procedure that most of the analyte's runs name, else that of the sample's site's bench.
fn procedure_of(reference: &Reference, dossier: &Dossier, analyte: Analyte) -> Option<Uuid> {
    let newest = dossier
        .runs
        .iter()
        .filter(|run| run.content.state == RunState::Recorded)
        .filter(|run| run.content.reading_of(analyte).is_some())
        .filter_map(|run| Some((run.content.entry.read_at?, run.content.entry.procedure?.0)))
        .max();
    newest.map(|(_, id)| id).or_else(|| {
        let site = dossier.sample.content.site?;
        let bench = &reference.sites.get(&site.0)?.content.bench;
        bench.procedure.map(|id| id.0)
    })
}

/// The pipettes of the sample's site; all of the laboratory's where the site is not known.
fn pipettes<'a>(reference: &'a Reference, dossier: &Dossier) -> Vec<Pipette<'a>> {
    let site = dossier.sample.content.site;
    let mut found: Vec<Pipette<'a>> = reference
        .equipment
        .iter()
        .filter(|(_, one)| one.content.kind == domain::equipment::EquipmentKind::Pipette)
        .filter(|(_, one)| site.is_none() || one.content.site.is_none() || one.content.site == site)
        .map(|(id, one)| Pipette {
            id: domain::id::EquipmentId(*id),
            equipment: &one.content,
        })
        .collect();
    found.sort_by_key(|one| one.id);
    found
}

fn run_sources(reference: &Reference, dossier: &Dossier, run: &Kept<Run>) -> Vec<SubjectVersion> {
    let entry = &run.content.entry;
    let mut from = vec![
        source(run.id, run.version),
        dossier.sample.source(dossier.id),
    ];
    let shared = |id: Option<Uuid>, found: Option<SubjectVersion>| id.and(found);
    from.extend(shared(
        entry.kit_lot.map(|id| id.0),
        entry
            .kit_lot
            .and_then(|id| Some(reference.kit_lots.get(&id.0)?.source(id.0))),
    ));
    from.extend(
        entry
            .procedure
            .and_then(|id| Some(reference.procedures.get(&id.0)?.source(id.0))),
    );
    from.extend(
        entry
            .reader
            .and_then(|id| Some(reference.readers.get(&id.0)?.source(id.0))),
    );
    from
}

fn run_drafts(
    reference: &Reference,
    dossiers: &Dossiers,
    dossier: Option<&Dossier>,
    run: &Kept<Run>,
) -> Vec<HoldDraft> {
    let entry = &run.content.entry;
    let sample = dossier.map(|one| &one.sample.content);
    let procedure = entry
        .procedure
        .and_then(|id| reference.procedures.get(&id.0))
        .map(|one| &one.content);
    let chain = dossier.map(|one| chain_of(one, run)).unwrap_or_default();
    let equipment = used_equipment(reference, chain, run);
    let reader = entry
        .reader
        .and_then(|id| Some((id.0, &reference.readers.get(&id.0)?.content)));
    let site = sample
        .and_then(|one| one.site)
        .or_else(|| reader.and_then(|(_, one)| one.site));
    let controls = controls(reference, dossiers, dossier, procedure, run);
    evaluate_run(
        &run.content,
        &RunFacts {
            recorded_at: run.created_at,
            utc_offset_s: utc_offset_s(reference, site.map(|id| id.0), entry.read_at),
            sample,
            commodities: sample
                .map(|one| reference.commodity_line(&one.commodity))
                .unwrap_or_default(),
            chain,
            procedure,
            kit_lot: entry
                .kit_lot
                .and_then(|id| reference.kit_lots.get(&id.0))
                .map(|one| &one.content),
            reader: reader.map(|(_, one)| one),
            reader_suspect: reader
                .and_then(|(id, _)| reference.suspect.get(&id))
                .map(Vec::as_slice)
                .unwrap_or_default(),
            equipment: &equipment,
            controls: &controls,
            authorisations: entry
                .analyst
                .and_then(|id| reference.accounts.get(&id.0))
                .map(|one| one.content.authorisations.as_slice())
                .unwrap_or_default(),
            origin_differences: &run.content.differences,
        },
    )
}

/// Extract, test portion and ground sample of a run, as far as they are recorded.
fn chain_of<'a>(dossier: &'a Dossier, run: &Kept<Run>) -> Chain<'a> {
    let find = |id: Option<domain::id::PreparationId>| -> Option<&'a Preparation> {
        let id = id?.0;
        dossier
            .preparations
            .iter()
            .find(|(other, _)| *other == id)
            .map(|(_, shared)| &shared.content)
    };
    let mut chain = Chain::default();
    let mut step = find(run.content.entry.extract);
    while let Some(preparation) = step {
        let place = match preparation.kind {
            PreparationKind::Extract => &mut chain.extract,
            PreparationKind::TestPortion => &mut chain.test_portion,
            PreparationKind::GroundSample => &mut chain.ground_sample,
        };
        if place.is_some() {
            break; // a loop among parents: what was found stands
        }
        *place = Some(preparation);
        step = find(preparation.parent);
    }
    chain
}

fn used_equipment<'a>(
    reference: &'a Reference,
    chain: Chain<'_>,
    run: &Kept<Run>,
) -> Vec<UsedEquipment<'a>> {
    let entry = &run.content.entry;
    let for_steps = chain
        .steps()
        .flat_map(|step| step.equipment.iter().map(|id| (id.0, Some(step.at))));
    let run_at = entry.begun_at.or(entry.read_at);
    let for_dilution = entry
        .dilution
        .iter()
        .flat_map(|step| [step.pipette, step.diluent_pipette])
        .flatten()
        .map(|id| (id.0, run_at));
    for_steps
        .chain(for_dilution)
        .filter_map(|(id, used_at)| {
            Some(UsedEquipment {
                equipment: &reference.equipment.get(&id)?.content,
                used_at: used_at?,
                suspect: reference
                    .suspect
                    .get(&id)
                    .map(Vec::as_slice)
                    .unwrap_or_default(),
            })
        })
        .collect()
}

fn controls(
    reference: &Reference,
    dossiers: &Dossiers,
    dossier: Option<&Dossier>,
    procedure: Option<&Procedure>,
    run: &Kept<Run>,
) -> Vec<(Analyte, ControlVerdict)> {
    let analytes: Vec<Analyte> = run
        .content
        .entry
        .readings
        .iter()
        .map(|reading| reading.analyte)
        .collect();
    if let Some(sample) = dossier.map(|one| &one.sample.content)
        && sample.purpose == Purpose::Control
    {
        let material = sample.control_material.map(|id| id.0);
        return verdicts(reference, material, &run.content);
    }
    let Some(series) = run.content.entry.series else {
        return Vec::new();
    };
    let runs = dossiers
        .series
        .get(&series.0)
        .map(Vec::as_slice)
        .unwrap_or_default();
    let most = procedure.and_then(|one| one.entry.controls.maximum_runs_between);
    verdicts_for(RunId(run.id), runs, &analytes, most)
}

/// Offset of the site's time zone from UTC at a moment, in s; 0 where it is not known.
pub(crate) fn utc_offset_s(reference: &Reference, site: Option<Uuid>, at: Option<Moment>) -> i32 {
    let zone = site
        .and_then(|id| reference.sites.get(&id))
        .and_then(|one| one.content.time_zone.parse::<chrono_tz::Tz>().ok());
    match (zone, at) {
        (Some(zone), Some(at)) => zone
            .offset_from_utc_datetime(&at.utc().naive_utc())
            .fix()
            .local_minus_utc(),
        _ => 0,
    }
}
