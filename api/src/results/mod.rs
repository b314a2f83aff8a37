//! Results: what is reported for one sample and analyte, computed from the runs that stand.
//!
//! Promises that a result is computed again whenever something that it depends on changes: at once
//! for one sample, by a job where a kit lot, a procedure or a limit touches many. Until then it is
//! kept from release. Refuses to change what was cancelled or superseded.

mod again;
mod assess;
mod cancel_result;
mod compute_result;
mod dossier;
mod job;
mod list_results;
pub(crate) mod pages;
mod put_forward_result;
mod reference;
mod series_runs;
mod show_permitted_uses;
mod show_result;
pub(crate) mod store;
mod unparsed;
mod wire;

pub use again::Again;
pub(crate) use assess::{Outcome, assess_unassigned};
pub(crate) use dossier::{
    Dossier, Dossiers, HeldSamples, hold as hold_samples, load as load_dossiers,
    load_with_reference, lock as lock_sample, read as read_dossiers,
};
pub use job::compute_what_is_due;
pub(crate) use reference::Reference;
pub use reference::References;
pub(crate) use series_runs::load_series;
pub(crate) use wire::ResultFilter;

use crate::kept::Kept;
use crate::{
    db::Tx,
    error::Answer,
    holds,
    ledger::{self, NewRecord},
    statement::Batch,
};
use domain::{
    assessment::LimitsThatApply,
    holds::{Held, Hold, LiftedBy, computation_due, standing_in_the_way},
    id::{ResultId, RunId},
    results::ResultVersion,
    time::Moment,
};
use uuid::Uuid;

/// Routes of the slice.
pub fn routes(config: &mut utoipa_actix_web::service_config::ServiceConfig) {
    config
        .service(list_results::list_results)
        .service(show_result::show_result)
        .service(show_permitted_uses::show_permitted_uses)
        .service(compute_result::compute_result)
        .service(put_forward_result::put_forward_result)
        .service(cancel_result::cancel_result);
}

/// Notes that results are to be computed again; a job does it, an act a sample, and a hold keeps
/// each from release until then. Returns how many samples, and runs without one, are concerned.
///
/// # Errors
/// [`crate::error::ApiError::Unavailable`] or [`crate::error::ApiError::Internal`].
pub async fn ask_again(
    tx: &mut Tx,
    cause: Uuid,
    cause_version: i32,
    scope: Again,
) -> Answer<usize> {
    let subject = match scope {
        Again::KitLot(id)
        | Again::Procedure(id)
        | Again::Reader(id)
        | Again::Equipment(id)
        | Again::Series(id)
        | Again::Run(id)
        | Again::ControlMaterial(id)
        | Again::Account(id)
        | Again::Sample(id)
        | Again::Lot(id)
        | Again::Sampling(id)
        | Again::Order(id) => id,
        Again::Limits => cause,
    };
    let asked = store::ask_again(tx, scope.query(), subject, cause_version).await?;
    if asked > 0 {
        job::wake();
    }
    Ok(asked)
}

/// Computes the results of some samples again, now, in this transaction; locks their rows in the
/// order of their ids.
///
/// # Errors
/// [`crate::error::ApiError::Unavailable`] or [`crate::error::ApiError::Internal`].
pub async fn assess(tx: &mut Tx, samples: &[Uuid], how: LiftedBy) -> Answer<()> {
    let (reference, mut dossiers) = load_with_reference(tx, samples).await?;
    tx.draft.know(std::mem::take(&mut dossiers.earlier));
    let changed = outcomes(&reference, &dossiers, how, tx.now())?;
    let mut batch = Batch::default();
    changed.add_rows(tx.laboratory_id(), tx.now(), &mut batch)?;
    batch.send(tx).await?;
    for record in changed.records()? {
        ledger::append(tx, record);
    }
    Ok(())
}

/// What changed in the results and holds of the samples in the dossiers.
pub(crate) fn outcomes(
    reference: &Reference,
    dossiers: &Dossiers,
    how: LiftedBy,
    now: Moment,
) -> Answer<Outcome> {
    let mut changed = Outcome::default();
    for (_, outcome) in outcomes_by_sample(reference, dossiers, how, now)? {
        changed.add(outcome);
    }
    Ok(changed)
}

/// As [`outcomes`], sample by sample.
pub(crate) fn outcomes_by_sample(
    reference: &Reference,
    dossiers: &Dossiers,
    how: LiftedBy,
    now: Moment,
) -> Answer<Vec<(Uuid, Outcome)>> {
    let mut known = LimitsThatApply::default();
    let samples = dossiers.samples.iter();
    samples
        .map(|(id, dossier)| {
            let outcome = assess::assess(reference, dossiers, dossier, &mut known, how, now)?;
            Ok((*id, outcome))
        })
        .collect()
}

impl Outcome {
    /// Adds what another has.
    pub(crate) fn add(&mut self, other: Self) {
        self.results.extend(other.results);
        self.holds.extend(other.holds);
    }

    /// Adds what stores it. Whoever calls records it.
    pub(crate) fn add_rows(&self, laboratory: i32, now: Moment, batch: &mut Batch) -> Answer<()> {
        store::add_rows(laboratory, now, &self.results, batch)?;
        holds::store::add_rows(laboratory, now, &self.holds, batch)
    }

    /// Its records.
    pub(crate) fn records(&self) -> Answer<Vec<NewRecord>> {
        let results = self.results.iter().map(Kept::as_record);
        let holds = self.holds.iter().map(Kept::as_record);
        results.chain(holds).collect()
    }
}

/// Whether a hold stands between a result and its release, or a computation is still due.
///
/// # Errors
/// [`crate::error::ApiError::Unavailable`] or [`crate::error::ApiError::Internal`].
pub async fn is_held(tx: &mut Tx, result: &Kept<ResultVersion>) -> Answer<bool> {
    Ok(!in_the_way(tx, result).await?.is_empty())
}

/// The holds that stand between a result and its release; one of the kind `computation-due` where
/// something that it depends on changed and it was not computed again yet.
///
/// # Errors
/// [`crate::error::ApiError::Unavailable`] or [`crate::error::ApiError::Internal`].
pub async fn in_the_way(tx: &mut Tx, result: &Kept<ResultVersion>) -> Answer<Vec<Hold>> {
    let computed = &result.content.computed;
    let all: Vec<Hold> = holds::store::of_sample(tx, computed.sample.0)
        .await?
        .into_iter()
        .map(|hold| hold.content)
        .collect();
    let standing: Vec<RunId> = computed
        .runs
        .iter()
        .filter(|run| run.standing)
        .map(|run| run.run)
        .collect();
    let mut found: Vec<Hold> = standing_in_the_way(
        &all,
        ResultId(result.id),
        computed.sample,
        computed.analyte,
        &standing,
    )
    .into_iter()
    .cloned()
    .collect();
    if !store::waiting(tx, &[computed.sample.0]).await?.is_empty() {
        let draft = computation_due("something that the result depends on");
        let of = Held::Result(ResultId(result.id));
        found.push(Hold::raise(of, Some(computed.sample), draft, Vec::new()));
    }
    Ok(found)
}
