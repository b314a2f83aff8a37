//! From a dossier to what is to be recorded: results computed again, holds raised and lifted.
//!
//! Promises that the same dossier gives the same outcome, and that nothing is recorded where
//! nothing changed. Decides nothing itself: the rules are the domain's.

use super::{
    dossier::{Dossier, Dossiers, recorded},
    reference::Reference,
};
use crate::{
    error::{Answer, ApiError},
    ids,
    kept::Kept,
};
use domain::{
    analytes::Analyte,
    assessment::{self, LimitsThatApply, RunBackground, SampleBackground, compute_result_anew},
    holds::{
        self, ExistingHold, Held, Hold, HoldDraft, LiftedBy, evaluate_result, gates, reconcile,
    },
    id::{HoldId, ResultId, RunId, SampleId},
    quality_control::SeriesRun,
    results::{self, ComputedResult, ResultVersion},
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

/// Looks at one dossier: holds of its runs and of the sample first, then each result and its own
/// holds.
pub(crate) fn assess(
    reference: &Reference,
    dossiers: &Dossiers,
    dossier: &Dossier,
    known: &mut LimitsThatApply,
    how: LiftedBy,
    now: Moment,
) -> Answer<Outcome> {
    let mut outcome = Outcome::default();
    let mut holds: Vec<Kept<Hold>> = dossier.holds.clone();
    let facts = dossier.facts();
    settle_work(
        reference,
        dossiers,
        &facts,
        (&mut holds, &mut outcome.holds),
        how,
        now,
    )?;
    if dossier.sample.content.purpose == Purpose::Control {
        return Ok(outcome);
    }
    for analyte in analytes_of(dossier) {
        let before = dossier
            .results
            .iter()
            .find(|result| result.content.computed.analyte == analyte);
        let computed = compute_result_anew(
            results::RULES,
            before.map(|kept| &kept.content),
            reference,
            &facts,
            analyte,
            known,
        )
        .map_err(ApiError::internal)?;
        let id = before.map_or_else(ids::fresh, |result| result.id);
        let drafts = evaluate_result(&computed);
        let of = Held::Result(ResultId(id));
        settle(
            &mut holds,
            &mut outcome.holds,
            of,
            Some(dossier.id),
            &drafts,
            || computed.from.clone(),
            how,
            now,
        );
        let held = is_held(&holds, &computed, ResultId(id), SampleId(dossier.id));
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

/// Settles the holds of a sample's runs, and of the sample itself: in those that stand, and in
/// those that change.
fn settle_work(
    reference: &Reference,
    dossiers: &Dossiers,
    facts: &assessment::Dossier<'_>,
    (holds, changed): (&mut Vec<Kept<Hold>>, &mut Vec<Kept<Hold>>),
    how: LiftedBy,
    now: Moment,
) -> Answer<()> {
    for run in &facts.runs {
        let series = series_of(dossiers, run.run);
        let background = RunBackground::of(reference, Some(facts), *run, series);
        let drafts = background.holds(holds::RULES).map_err(ApiError::internal)?;
        let of = Held::Run(run.id());
        let sources = || background.sources(holds::RULES);
        settle(
            holds,
            changed,
            of,
            Some(facts.sample.source.subject),
            &drafts,
            sources,
            how,
            now,
        );
    }
    let background = SampleBackground::of(facts);
    settle(
        holds,
        changed,
        Held::Sample(SampleId(facts.sample.source.subject)),
        Some(facts.sample.source.subject),
        &background.holds(holds::RULES).map_err(ApiError::internal)?,
        || background.sources(),
        how,
        now,
    );
    Ok(())
}

/// Whether one of the holds keeps the result from release.
fn is_held(
    holds: &[Kept<Hold>],
    computed: &ComputedResult,
    result: ResultId,
    sample: SampleId,
) -> bool {
    let runs = computed.runs.iter().filter(|run| run.standing);
    let standing: Vec<RunId> = runs.map(|run| run.run).collect();
    holds
        .iter()
        .any(|hold| gates(&hold.content, result, sample, computed.analyte, &standing))
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
) -> Answer<Outcome> {
    let mut outcome = Outcome::default();
    let mut holds = existing.to_vec();
    let series = series_of(dossiers, &run.content);
    let background = RunBackground::of(reference, None, recorded(run), series);
    let drafts = background.holds(holds::RULES).map_err(ApiError::internal)?;
    settle(
        &mut holds,
        &mut outcome.holds,
        Held::Run(RunId(run.id)),
        None,
        &drafts,
        || background.sources(holds::RULES),
        how,
        now,
    );
    Ok(outcome)
}

/// The runs of a run's series.
fn series_of<'a>(dossiers: &'a Dossiers, run: &Run) -> &'a [SeriesRun] {
    run.entry
        .series
        .and_then(|id| dossiers.series.get(&id.0))
        .map(Vec::as_slice)
        .unwrap_or_default()
}

/// Raises and lifts the holds of one thing, in `holds` as they stand and in `changed` as they are
/// to be recorded. What it came from is asked for only where something changes.
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
    sources: impl Fn() -> Vec<SubjectVersion>,
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
        if let Ok(lifted) = kept.content.no_longer_found(lift.how, sources(), now) {
            *kept = next_version(kept, lifted, now);
            changed.push(kept.clone());
        }
    }
    for draft in outcome.raise {
        let kept = Kept {
            id: ids::fresh(),
            version: 1,
            content: Hold::raise(of, sample.map(SampleId), draft, sources()),
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
