//! Records a run, with the results and holds that follow from it; many at once: `record_all`.
//!
//! Promises one transaction's worth of consistency: the samples are locked, in the order of their
//! ids, before anything is computed.

use super::{
    completed::{completed, context, with_pipettes},
    store,
};
use crate::{
    db::Tx,
    error::{Answer, ApiError},
    holds,
    kept::Kept,
    ledger::{self, NewRecord},
    results::{
        self, Dossier, Dossiers, HeldSamples, Outcome, Reference, assess_unassigned, hold_samples,
        load_series,
    },
    statement::Batch,
};
use domain::{
    assessment::utc_offset_s,
    faults::Faults,
    holds::{Hold, LiftedBy},
    id::RunId,
    runs::{Origin, Run, RunContext, RunEntry, RunError},
    time::Moment,
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

/// A run that is to be recorded, with its sample and its place among the others.
pub(super) type Placed = (Option<Uuid>, usize, NewRun);

/// Takes hold of the sample of a run that is to be recorded, and reads what there is of it.
///
/// # Errors
/// Where the database fails.
pub(crate) async fn hold_sample(tx: &Tx, entry: &RunEntry) -> Answer<HeldSamples> {
    let sample = entry.sample.map(|id| id.0);
    hold_samples(tx, sample.as_slice()).await
}

/// Records one run, whose sample is held; with it, the holds on it.
///
/// # Errors
/// Why it is none, or where the database fails; then nothing was recorded.
pub(crate) async fn record_one(
    tx: &mut Tx,
    held: HeldSamples,
    run: NewRun,
) -> Answer<(Kept<Run>, Vec<Kept<Hold>>)> {
    let sample = run.entry.sample.map(|id| id.0);
    let (reference, dossiers) = held.loaded(tx).await?;
    let mut made = Made::of(&reference, dossiers, vec![(sample, 0, run)], tx.now());
    if let Some((_, Err(error))) = made.answers.pop() {
        return Err(refusal(error));
    }
    let mut changed = record_made(tx, &reference, &mut made).await?;
    let (run, _) = made
        .kept
        .pop()
        .ok_or_else(|| ApiError::internal("a run was recorded, but not kept"))?;
    changed
        .holds
        .retain(|hold| hold.content.of.subject() == run.id);
    changed.holds.sort_by_key(|hold| hold.id);
    Ok((run, changed.holds))
}

/// Records the runs that were made, and what follows from them; the rows are left for the end of
/// the transaction where nothing has to be read after them.
pub(super) async fn record_made(
    tx: &mut Tx,
    reference: &Reference,
    made: &mut Made,
) -> Answer<Outcome> {
    let (laboratory, now) = (tx.laboratory_id(), tx.now());
    let series = made.series();
    let mut batch = Batch::default();
    made.add_rows(laboratory, now, &mut batch)?;
    if !series.is_empty() {
        // A series is read after the insert, so that the new runs count among its runs.
        std::mem::take(&mut batch).send(tx).await?;
        for id in &series {
            made.dossiers.series.remove(id);
        }
        let series = series.into_iter().collect();
        load_series(tx, reference, &mut made.dossiers, series).await?;
    }
    let changed = made.outcome(reference, now)?;
    changed.add_rows(laboratory, now, &mut batch)?;
    tx.at_last(batch);
    tx.draft.know(std::mem::take(&mut made.dossiers.earlier));
    for record in made.records(&changed)? {
        ledger::append(tx, record);
    }
    ask_series_again(tx, &made.dossiers, &made.kept).await?;
    Ok(changed)
}

/// Runs as they are going to be recorded, among the dossiers of their samples.
pub(super) struct Made {
    /// The dossiers, the new runs in them.
    pub(super) dossiers: Dossiers,
    /// The new runs, each with the key that identifies it in exports.
    pub(super) kept: Vec<(Kept<Run>, Option<String>)>,
    /// Each by its place: the run, or why it is none.
    pub(super) answers: Vec<(usize, Result<RunId, RunError>)>,
}

impl Made {
    /// Makes runs of what was entered.
    pub(super) fn of(
        reference: &Reference,
        mut dossiers: Dossiers,
        runs: Vec<Placed>,
        now: Moment,
    ) -> Self {
        let mut kept = Vec::with_capacity(runs.len());
        let mut answers = Vec::with_capacity(runs.len());
        for (sample, place, new) in runs {
            let dossier = sample.and_then(|id| dossiers.samples.get(&id));
            let answer = first_version(reference, dossier, sample, new, now).map(|(run, key)| {
                let id = RunId(run.id);
                if let Some(dossier) = sample.and_then(|id| dossiers.samples.get_mut(&id)) {
                    dossier.runs.push(run.clone());
                }
                kept.push((run, key));
                id
            });
            answers.push((place, answer));
        }
        Self {
            dossiers,
            kept,
            answers,
        }
    }

    /// The series that the new runs belong to.
    fn series(&self) -> BTreeSet<Uuid> {
        self.kept
            .iter()
            .filter_map(|(run, _)| run.content.entry.series.map(|id| id.0))
            .collect()
    }

    /// What changes in results and holds.
    pub(super) fn outcome(&self, reference: &Reference, now: Moment) -> Answer<Outcome> {
        let how = LiftedBy::AnotherRun;
        let mut changed = results::outcomes(reference, &self.dossiers, how, now)?;
        for (run, _) in &self.kept {
            if run.content.entry.sample.is_none() {
                let how = LiftedBy::LaterFact;
                let alone = assess_unassigned(reference, &self.dossiers, run, &[], how, now)?;
                changed.holds.extend(alone.holds);
            }
        }
        Ok(changed)
    }

    /// Adds what stores the runs.
    pub(super) fn add_rows(&self, laboratory: i32, now: Moment, batch: &mut Batch) -> Answer<()> {
        if !self.kept.is_empty() {
            batch.add(store::insertion(laboratory, now, &self.kept)?);
        }
        Ok(())
    }

    /// The records of the runs, and of what changes with them.
    pub(super) fn records(&self, changed: &Outcome) -> Answer<Vec<NewRecord>> {
        let runs = self.kept.iter().map(|(run, _)| run.as_record());
        let mut records: Vec<NewRecord> = runs.collect::<Answer<_>>()?;
        records.extend(changed.records()?);
        Ok(records)
    }
}

/// Completes what was entered from what is known, and makes version 1.
fn first_version(
    reference: &Reference,
    dossier: Option<&Dossier>,
    sample: Option<Uuid>,
    new: NewRun,
    now: Moment,
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
        begin(reference, dossier, entry, &context, now)?
    } else {
        let run = Run::record(entry, &context, new.origins)?;
        with_pipettes(reference, dossier, run)
    };
    Ok((Kept::first_at(now, new.id.0, run), new.import_key))
}

/// Beginning asks for every date of what is used; recording never does.
fn begin(
    reference: &Reference,
    dossier: Option<&Dossier>,
    entry: RunEntry,
    context: &RunContext,
    now: Moment,
) -> Result<Run, RunError> {
    let site = dossier.and_then(|one| one.sample.content.site);
    let site = site.and_then(|id| reference.sites.get(&id.0));
    let offset = utc_offset_s(site.map(|one| &one.content), Some(now));
    let today = domain::holds::RunFacts {
        utc_offset_s: offset,
        ..domain::holds::RunFacts::at(now)
    }
    .local_day(now);
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

/// A control run that arrives bears on every other run of its series, and on the controls read
/// after it.
async fn ask_series_again(
    tx: &mut Tx,
    dossiers: &Dossiers,
    kept: &[(Kept<Run>, Option<String>)],
) -> Answer<()> {
    let mut concerned = Vec::new();
    for (run, _) in kept {
        let is_control = run
            .content
            .entry
            .sample
            .and_then(|id| dossiers.samples.get(&id.0))
            .is_some_and(|one| one.sample.content.control_material.is_some());
        if is_control {
            concerned.push(run.id);
        }
    }
    for cause in concerned {
        results::ask_again(tx, cause, 1, results::Again::Run(cause)).await?;
    }
    Ok(())
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
