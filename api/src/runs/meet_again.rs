//! Keeps the other origin of a run that was recorded before and is met again in an export.
//!
//! Promises that nothing that was typed is overwritten: what the export says differently holds it.

use super::{
    completed::{completed, context, with_pipettes},
    record::settle_run,
    store,
};
use crate::{
    db::Tx,
    error::Answer,
    kept::Kept,
    results::{self, Reference},
};
use domain::{
    corrections::ReasonCode,
    holds::{LiftedBy, OriginDifference},
    id::{RunId, SampleId},
    runs::{Origin, Reading, Run, RunError, RunState},
};

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
    /// What the export read of analytes that were typed: signals that are missing are taken of it.
    pub(crate) exported: Vec<Reading>,
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
    let mut after = before.next(tx, content);
    let had_sample = before.content.entry.sample.is_some();
    if let Some(sample) = after.content.entry.sample.filter(|_| !had_sample) {
        let dossiers = results::load_dossiers(tx, &reference, &[sample.0]).await?;
        let dossier = dossiers.samples.get(&sample.0);
        after.content.entry = completed(&reference, dossier, after.content.entry);
        after.content = with_pipettes(&reference, dossier, after.content);
    }
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
    run = run.with_signals_of(&met.exported);
    if let (RunState::Unassigned, Some(sample)) = (run.state, met.sample) {
        run = run.assign(sample)?;
    }
    run.differences.extend(met.differences.iter().cloned());
    Ok(run)
}
