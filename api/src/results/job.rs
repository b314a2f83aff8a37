//! Computes again what waits for it: one act a sample, or a run without one; any number of
//! processes at once.
//!
//! Promises that what waits is found within a second, and that a laboratory where nothing waits
//! costs nothing.

use super::store;
use crate::{
    app::App,
    error::{Answer, chain},
    identity::{LaboratoryKey, Permit},
    runs,
};
use actix_web::web;
use diesel_async::RunQueryDsl as _;
use domain::holds::LiftedBy;
use std::{sync::LazyLock, time::Duration};
use tokio::sync::Notify;

/// Most samples that are looked for at once.
const BATCH: i64 = 100;

static WAITING: LazyLock<Notify> = LazyLock::new(Notify::new);

/// Says that something waits in this process's database. It is looked for a moment later: the
/// transaction that asked may not have committed yet.
pub(super) fn wake() {
    WAITING.notify_one();
}

/// Works until the process ends.
pub async fn compute_what_is_due(app: web::Data<App>) {
    loop {
        tokio::select! {
            () = WAITING.notified() => tokio::time::sleep(Duration::from_millis(50)).await,
            () = tokio::time::sleep(Duration::from_secs(1)) => {}
        }
        if let Err(error) = pass(&app).await {
            tracing::warn!(
                cause = chain(&error),
                "results that are due could not be computed"
            );
        }
    }
}

async fn pass(app: &App) -> Answer<()> {
    let laboratories: Vec<LaboratoryKey> = {
        let mut connection = app.db.jobs().await?;
        crate::statement::statement(
            "SELECT laboratory_id, id, slug FROM laboratories_laboratory WHERE laboratory_id IN \
             (SELECT laboratory_id FROM results_recomputation)",
        )
        .load(&mut *connection)
        .await?
    };
    for laboratory in laboratories {
        while one(app, &laboratory).await? {}
    }
    Ok(())
}

/// Computes the results of one sample again, or the holds of a run without one; false where none
/// waits.
async fn one(app: &App, laboratory: &LaboratoryKey) -> Answer<bool> {
    let permit = Permit::process(laboratory.clone(), "results", "compute-results");
    app.db
        .write(&permit, async |tx| {
            tx.draft.nothing_changed();
            let due = store::due(tx, BATCH).await?;
            let Some(first) = due.as_slice().first() else {
                return Ok(false);
            };
            let Some(of) = first.sample_id.or(first.run_id) else {
                return Ok(false);
            };
            let upto = due
                .iter()
                .filter(|one| one.sample_id.or(one.run_id) == Some(of))
                .map(|one| one.recomputation_id)
                .max()
                .unwrap_or(first.recomputation_id);
            if first.sample_id.is_some() {
                runs::join_named(tx, of).await?;
                super::assess(tx, &[of], LiftedBy::LaterFact).await?;
            } else {
                runs::look_again(tx, of).await?;
            }
            store::done(tx, upto, of).await?;
            Ok(true)
        })
        .await
}
