//! Runs that named a kit lot or a reader before it was registered here are joined to it afterwards.
//!
//! Promises a version of the run that says so, recorded with its reason, and that what was amiss
//! only for want of it is lifted. Leaves a run alone that cannot have been read on that reader, for
//! want of such a port: it stays held.

use super::{
    completed::{context, name_what_is_known},
    record::settle_run,
    store,
};
use crate::{db::Tx, error::Answer, kept::Kept, results};
use domain::{
    corrections::ReasonCode,
    holds::LiftedBy,
    runs::{Run, RunState},
};
use uuid::Uuid;

/// Joins the runs of a sample to what they name. The results are not computed by it.
///
/// # Errors
/// Where the database fails.
pub(crate) async fn join_named(tx: &mut Tx, sample: Uuid) -> Answer<()> {
    // Before the sample is locked: whoever registers holds the reference and then asks for samples.
    tx.reference().await?;
    results::lock_sample(tx, sample).await?;
    for run in store::naming_unknown(tx, sample).await? {
        join(tx, &run).await?;
    }
    Ok(())
}

/// Joins a run without a sample to what it names, and looks at its holds again. A run that has got
/// a sample meanwhile was looked at with it.
///
/// # Errors
/// Where the database fails.
pub(crate) async fn look_again(tx: &mut Tx, run: Uuid) -> Answer<()> {
    tx.reference().await?;
    let mut run = store::lock(tx, run).await?;
    if run.content.entry.sample.is_some() || run.content.state == RunState::Withdrawn {
        return Ok(());
    }
    if let Some(joined) = join(tx, &run).await? {
        run = joined;
    }
    settle_run(tx, &run, None, LiftedBy::LaterFact).await
}

async fn join(tx: &mut Tx, run: &Kept<Run>) -> Answer<Option<Kept<Run>>> {
    let reference = tx.reference().await?;
    let mut content = run.content.clone();
    name_what_is_known(&reference, &mut content.entry);
    let ports = context(&reference, &content.entry).ports;
    let has_port = ports.is_none_or(|ports| content.entry.port <= ports);
    if content.entry == run.content.entry || !has_port {
        return Ok(None);
    }
    let after = run.next(tx, content);
    store::save_version(tx, &after, None).await?;
    tx.draft.because(
        ReasonCode::LateInformation.name(),
        "What the run names was registered afterwards.",
    );
    Ok(Some(after))
}
