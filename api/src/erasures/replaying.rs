//! Erases again what an older backup brought back, before anything is served from it.

use super::{erased_file::ErasedFile, erasing, locating::locate, selecting::Selected};
use crate::{
    app::App,
    error::{Answer, ApiError, chain},
    identity::{self, Permit, REPLAY_ERASURES},
    ids, ledger,
    request::Data,
};
use domain::{erasures::texts_of, id::LaboratoryId};
use std::{collections::BTreeSet, time::Duration};
use uuid::Uuid;

/// Erases, in every laboratory, what the file outside the database says was erased and is there
/// again; the answer is how many disclosures that were.
///
/// # Errors
/// [`ApiError::Unavailable`] where the database cannot be reached; [`ApiError::Internal`] where the
/// file cannot be read. Nothing may be served then.
pub async fn replay(app: &App) -> Answer<usize> {
    let file = ErasedFile::in_directory(&app.config.state_directory);
    let erased = actix_web::web::block(move || file.read())
        .await
        .map_err(ApiError::internal)?
        .map_err(ApiError::internal)?;
    let mut again: usize = 0;
    for (laboratory, digests) in erased {
        let mut connection = app.db.sign_in().await?;
        let id = LaboratoryId(laboratory);
        // A backup may be older than the laboratory.
        let Some(key) = identity::laboratory_by_id(&mut connection, id).await? else {
            continue;
        };
        drop(connection);
        let permit = Permit::process(key, "erasures", REPLAY_ERASURES);
        again = again.saturating_add(replay_one(app, &permit, digests).await?);
    }
    Ok(again)
}

/// How often it is looked whether a log was suspended.
const TICK: Duration = Duration::from_secs(1);

/// Works until the process ends: a database that is put back while the service runs is found out
/// by its log, and then brought up to the erasures.
pub(crate) async fn replay_where_suspended(app: Data) {
    let mut known = BTreeSet::new();
    loop {
        tokio::time::sleep(TICK).await;
        let suspended: BTreeSet<i32> = app.db.standing().suspended().into_keys().collect();
        if suspended.is_subset(&known) {
            known = suspended;
            continue;
        }
        match replay(&app).await {
            Ok(_) => known = suspended,
            Err(error) => tracing::error!(
                cause = chain(&error),
                "what was erased could not be erased again in an older state of the database"
            ),
        }
    }
}

async fn replay_one(app: &App, permit: &Permit, digests: BTreeSet<String>) -> Answer<usize> {
    let digests: Vec<String> = digests.into_iter().collect();
    let there = app
        .db
        .read(permit, async |tx| {
            ledger::disclosures_by_digest(tx, digests.clone()).await
        })
        .await?;
    if there.is_empty() {
        return Ok(0);
    }
    let id: Uuid = ids::fresh();
    let erased = app
        .db
        .write(permit, async |tx| {
            tx.hold_keys_alone().await?;
            let there = ledger::disclosures_by_digest(tx, digests.clone()).await?;
            if there.is_empty() {
                // Another process was faster.
                tx.draft.nothing_changed();
                return Ok(0);
            }
            let located = locate(tx, there).await?;
            let texts: BTreeSet<String> = located
                .iter()
                .flat_map(|one| texts_of(&one.value))
                .collect();
            let selected = Selected {
                located,
                texts: texts.into_iter().collect(),
            };
            let kept = erasing::erase(tx, id, &selected).await?;
            Ok(kept.content.erased.len())
        })
        .await?;
    tracing::warn!(
        laboratory = %permit.laboratory().slug,
        erased,
        "the database holds what was erased: it was put back to an older state; erased again"
    );
    Ok(erased)
}
