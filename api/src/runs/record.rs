//! Records runs, one or a hundred thousand, with the results and holds that follow from them.
//!
//! Promises one transaction's worth of consistency: the samples are locked, in the order of their
//! ids, before anything is computed.

use super::{
    completed::{completed, context},
    store,
};
use crate::{
    db::Tx,
    error::{Answer, ApiError},
    holds,
    kept::Kept,
    results::{
        self, Dossier, Dossiers, Outcome, Reference, assess_unassigned, load_dossiers, load_series,
        load_with_reference,
    },
};
use domain::{
    assessment::utc_offset_s,
    corrections::ReasonCode,
    faults::Faults,
    holds::{Hold, LiftedBy, OriginDifference},
    id::{RunId, SampleId},
    runs::{Origin, Reading, Run, RunContext, RunEntry, RunError, RunState},
};
use std::collections::BTreeSet;
use uuid::Uuid;

/// A run that is to be recorded.
#[derive(Debug, Clone)]
pub(crate) struct NewRun {
    /// Its id, made before the transaction.
    pub(crate) id: RunId,
    /// What was entered or exported.
    pub(crate) entry: RunEntry,
    /// Where it came from.
    pub(crate) origins: Vec<Origin>,
    /// What identifies it in exports.
    pub(crate) import_key: Option<String>,
    /// Whether it only begins: nothing was read yet.
    pub(crate) begun: bool,
}

/// How many samples are computed at once: bounds memory, not meaning.
const SAMPLES_AT_ONCE: usize = 2000;

/// Records one run; with it, the holds on it.
///
/// # Errors
/// Why it is none, or where the database fails; then nothing was recorded.
pub(crate) async fn record_one(tx: &mut Tx, run: NewRun) -> Answer<(Kept<Run>, Vec<Kept<Hold>>)> {
    let sample = run.entry.sample.map(|id| id.0);
    let (reference, dossiers) = load_with_reference(tx, sample.as_slice()).await?;
    let mut answers = [None];
    let chunk = vec![(sample, 0, run)];
    let mut holds = record_chunk(tx, &reference, dossiers, chunk, &mut answers).await?;
    let [answer] = answers;
    let run = answer
        .ok_or_else(|| ApiError::internal("a run was recorded, but not answered"))?
        .map_err(refusal)?;
    holds.retain(|hold| hold.content.of.subject() == run.id);
    holds.sort_by_key(|hold| hold.id);
    Ok((run, holds))
}

/// Records runs in the order given; each answer is the run, or why it is none.
///
/// # Errors
/// Where the database fails; then nothing was recorded.
pub(crate) async fn record_all(
    tx: &mut Tx,
    runs: Vec<NewRun>,
) -> Answer<Vec<Result<Kept<Run>, RunError>>> {
    let reference = tx.reference().await?;
    let mut answers: Vec<Option<Result<Kept<Run>, RunError>>> = Vec::new();
    answers.resize_with(runs.len(), || None);
    // Samples in the order of their ids, so that two imports never wait for each other in a ring.
    let mut order: Vec<(Option<Uuid>, usize, NewRun)> = runs
        .into_iter()
        .enumerate()
        .map(|(place, run)| (run.entry.sample.map(|id| id.0), place, run))
        .collect();
    order.sort_by_key(|(sample, place, _)| (*sample, *place));
    let mut rest = order.into_iter().peekable();
    while rest.peek().is_some() {
        let mut chunk = Vec::new();
        let mut samples = BTreeSet::new();
        while let Some((sample, _, _)) = rest.peek() {
            let is_full = samples.len() >= SAMPLES_AT_ONCE || chunk.len() >= SAMPLES_AT_ONCE * 2;
            if is_full && !sample.is_some_and(|id| samples.contains(&id)) {
                break;
            }
            samples.extend(*sample);
            chunk.extend(rest.next());
        }
        let samples: Vec<Uuid> = samples.into_iter().collect();
        let dossiers = load_dossiers(tx, &reference, &samples).await?;
        record_chunk(tx, &reference, dossiers, chunk, &mut answers).await?;
    }
    Ok(answers.into_iter().flatten().collect())
}

/// Records runs of some samples; the holds that were raised or lifted with them.
async fn record_chunk(
    tx: &mut Tx,
    reference: &Reference,
    mut dossiers: Dossiers,
    chunk: Vec<(Option<Uuid>, usize, NewRun)>,
    answers: &mut [Option<Result<Kept<Run>, RunError>>],
) -> Answer<Vec<Kept<Hold>>> {
    let mut kept = Vec::with_capacity(chunk.len());
    let mut unassigned = Vec::new();
    for (sample, place, new) in chunk {
        let dossier = sample.and_then(|id| dossiers.samples.get(&id));
        let made = first_version(tx, reference, dossier, sample, new);
        let answer = made.map(|(run, key)| {
            match sample.and_then(|id| dossiers.samples.get_mut(&id)) {
                Some(dossier) => dossier.runs.push(run.clone()),
                None => unassigned.push(run.clone()),
            }
            kept.push((run.clone(), key));
            run
        });
        if let Some(slot) = answers.get_mut(place) {
            *slot = Some(answer);
        }
    }
    for (run, _) in &kept {
        run.record(tx)?;
    }
    let series: BTreeSet<Uuid> = kept
        .iter()
        .filter_map(|(run, _)| run.content.entry.series.map(|id| id.0))
        .collect();
    let is_counted = !series.is_empty();
    if is_counted {
        // A series is read after the insert, so that the new runs count among its runs.
        store::insert_rows(tx, &kept).await?;
        for id in &series {
            dossiers.series.remove(id);
        }
        load_series(tx, reference, &mut dossiers, series.into_iter().collect()).await?;
    }
    let mut changed = results::outcomes(tx, reference, &dossiers, LiftedBy::AnotherRun)?;
    hold_unassigned(tx, reference, &dossiers, &unassigned, &mut changed)?;
    let rows: &[_] = if is_counted { &[] } else { &kept };
    results::record(tx, &changed, async |tx: &Tx| {
        store::insert_rows(tx, rows).await
    })
    .await?;
    ask_series_again(tx, &dossiers, &kept).await?;
    Ok(changed.holds)
}

/// Completes what was entered from what is known, and makes version 1.
fn first_version(
    tx: &Tx,
    reference: &Reference,
    dossier: Option<&Dossier>,
    sample: Option<Uuid>,
    new: NewRun,
) -> Result<(Kept<Run>, Option<String>), RunError> {
    if sample.is_some() && dossier.is_none() {
        let mut faults = Faults::default();
        faults.add(
            "/sample",
            "There is no such sample in this laboratory. Look it up, or leave it out and assign \
             it later.",
        );
        return Err(faults.into());
    }
    let entry = completed(reference, dossier, new.entry);
    let context = context(reference, &entry);
    let run = if new.begun {
        begin(tx, reference, dossier, entry, &context)?
    } else {
        Run::record(entry, &context, new.origins)?
    };
    Ok((Kept::first(tx, new.id.0, run), new.import_key))
}

/// Beginning asks for every date of what is used; recording never does.
fn begin(
    tx: &Tx,
    reference: &Reference,
    dossier: Option<&Dossier>,
    entry: RunEntry,
    context: &RunContext,
) -> Result<Run, RunError> {
    let site = dossier.and_then(|one| one.sample.content.site);
    let site = site.and_then(|id| reference.sites.get(&id.0));
    let offset = utc_offset_s(site.map(|one| &one.content), Some(tx.now()));
    let today = domain::holds::RunFacts {
        utc_offset_s: offset,
        ..domain::holds::RunFacts::at(tx.now())
    }
    .local_day(tx.now());
    let dates = super::begin_run::due_dates(reference, &entry);
    Run::begin(entry, context, &dates, today)
}

/// The refusal of a run, as it is answered.
pub(crate) fn refusal(error: RunError) -> ApiError {
    match error {
        RunError::Faults(faults) => ApiError::Invalid(faults),
        RunError::Overdue(overdue) => ApiError::refused(
            "equipment-overdue",
            format!("Refused: {overdue}. Have it checked, or use another."),
        ),
        RunError::Dilution(fault) => ApiError::field("/dilution", format!("{fault}.")),
        RunError::NothingChanges => ApiError::refused(
            "nothing-changes",
            format!("Refused: {}.", RunError::NothingChanges),
        ),
        RunError::Not { state, verb } => {
            ApiError::refused("run-state", format!("{}.", RunError::Not { state, verb }))
        }
    }
}

fn hold_unassigned(
    tx: &Tx,
    reference: &Reference,
    dossiers: &Dossiers,
    runs: &[Kept<Run>],
    changed: &mut Outcome,
) -> Answer<()> {
    for run in runs {
        let now = tx.now();
        let how = LiftedBy::LaterFact;
        let outcome = assess_unassigned(reference, dossiers, run, &[], how, now)?;
        changed.holds.extend(outcome.holds);
    }
    Ok(())
}

/// A control run that arrives bears on every other run of its series.
async fn ask_series_again(
    tx: &mut Tx,
    dossiers: &Dossiers,
    kept: &[(Kept<Run>, Option<String>)],
) -> Answer<()> {
    let mut concerned = BTreeSet::new();
    for (run, _) in kept {
        let is_control = run
            .content
            .entry
            .sample
            .and_then(|id| dossiers.samples.get(&id.0))
            .is_some_and(|one| one.sample.content.control_material.is_some());
        if let Some(series) = run.content.entry.series.filter(|_| is_control) {
            concerned.insert((series.0, run.id));
        }
    }
    for (series, cause) in concerned {
        results::ask_again(tx, cause, 1, results::Again::Series(series)).await?;
    }
    Ok(())
}

/// A run that is recorded already and was met again in an export.
#[derive(Debug, Clone)]
pub(crate) struct Met {
    /// The run.
    pub(crate) run: RunId,
    /// Where it was met.
    pub(crate) origins: Vec<Origin>,
    /// What identifies it in exports, where it was not met in one before.
    pub(crate) import_key: Option<String>,
    /// The sample that the export names; it is taken where the run has none.
    pub(crate) sample: Option<SampleId>,
    /// Readings of further analytes that the export tells.
    pub(crate) readings: Vec<Reading>,
    /// What the export says differently of what was typed at the bench.
    pub(crate) differences: Vec<OriginDifference>,
}

/// Keeps the other origin of a run that was recorded before; a difference holds it. The answer is
/// the run, or why the export cannot tell more of it.
///
/// # Errors
/// [`crate::error::ApiError::NotFound`], or where the database fails.
pub(crate) async fn meet_again(tx: &mut Tx, met: Met) -> Answer<Result<Kept<Run>, RunError>> {
    let found = store::find(tx, met.run.0).await?;
    let sample = found.content.entry.sample.or(met.sample).map(|id| id.0);
    if let Some(sample) = sample {
        results::lock_sample(tx, sample).await?;
    }
    let before = store::lock(tx, met.run.0).await?;
    let reference = tx.reference().await?;
    let content = match met_content(&reference, &before.content, &met) {
        Ok(content) => content,
        Err(refused) => return Ok(Err(refused)),
    };
    let after = before.next(tx, content);
    store::save_version(tx, &after, met.import_key).await?;
    tx.draft.because(
        ReasonCode::LateInformation.name(),
        "The run was met again in an export.",
    );
    let sample = after.content.entry.sample.map(|id| id.0);
    settle_run(tx, &after, sample, LiftedBy::LaterFact).await?;
    Ok(Ok(after))
}

fn met_content(reference: &Reference, before: &Run, met: &Met) -> Result<Run, RunError> {
    let mut run = if met.readings.is_empty() {
        let origins = met.origins.iter().cloned();
        origins.fold(before.clone(), |run, origin| run.met_again(origin))
    } else {
        let context = context(reference, &before.entry);
        before.also_read(met.readings.clone(), met.origins.clone(), &context)?
    };
    if let (RunState::Unassigned, Some(sample)) = (run.state, met.sample) {
        run = run.assign(sample)?;
    }
    run.differences.extend(met.differences.iter().cloned());
    Ok(run)
}

/// Computes again what depends on a run that changed: its sample's results, or its own holds where
/// it has no sample.
///
/// # Errors
/// Where the database fails.
pub(super) async fn settle_run(
    tx: &mut Tx,
    run: &Kept<Run>,
    sample: Option<Uuid>,
    how: LiftedBy,
) -> Answer<()> {
    if let Some(sample) = sample {
        return results::assess(tx, &[sample], how).await;
    }
    let reference = tx.reference().await?;
    let mut dossiers = Dossiers::default();
    let series = run.content.entry.series.map(|id| id.0);
    load_series(tx, &reference, &mut dossiers, series.into_iter().collect()).await?;
    let existing = holds::store::of_subjects(tx, &[run.id]).await?;
    let outcome = assess_unassigned(&reference, &dossiers, run, &existing, how, tx.now())?;
    holds::store::write_many(tx, &outcome.holds).await
}
