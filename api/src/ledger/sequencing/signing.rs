//! Signs checkpoints of committed heads.
//!
//! Promises the order: head committed, file outside the database, checkpoint committed; and at most
//! one checkpoint a second. Refuses to sign what does not go on from what was signed before.

use super::{compare, fail_point, keys, root_at, store};
use crate::{
    app::App,
    error::{Answer, ApiError},
    identity::LaboratoryKey,
    ledger::{last_signed, store::keys as keys_store},
};
use chrono::{DateTime, TimeDelta, Utc};
use diesel_async::AsyncPgConnection;
use domain::ledger::{
    SecretKey,
    checkpoint::Checkpoint,
    rotation::{Place, SignsWhat},
};

/// Whether all that was appended is signed.
pub(super) enum Signed {
    /// It is.
    Everything,
    /// A checkpoint is due in a moment.
    NotYet,
}

/// Signs the head where it is due.
pub(super) async fn sign_what_is_due(app: &App, laboratory: &LaboratoryKey) -> Answer<Signed> {
    let mut connection = app.db.begin_log(laboratory).await?;
    let done = sign(app, &mut connection, laboratory).await;
    let keep = matches!(done, Ok((_, true)));
    app.db.end_log(connection, keep).await?;
    if keep {
        fail_point::reach("signed");
    }
    done.map(|(signed, _)| signed)
}

/// Whether everything is signed, and whether something was written.
async fn sign(
    app: &App,
    connection: &mut AsyncPgConnection,
    laboratory: &LaboratoryKey,
) -> Answer<(Signed, bool)> {
    if !store::claim(connection, laboratory.number).await? {
        return Ok((Signed::NotYet, false));
    }
    let log = store::lock_log(connection, laboratory.number).await?;
    if log.signed_size == Some(log.head.size()) {
        return Ok((Signed::Everything, false));
    }
    let suspension = compare(&app.db, connection, laboratory, &log).await?;
    let is_suspended = suspension.is_some();
    app.db.standing().found(laboratory.number, suspension);
    if is_suspended {
        return Ok((Signed::Everything, false));
    }
    let now = app.clock.now().utc();
    let newest = store::newest_checkpoint(connection, laboratory.number, log.number).await?;
    if let Some((size, root, signed_at)) = newest {
        if !is_due(signed_at, now) {
            return Ok((Signed::NotYet, false));
        }
        if root_at(connection, laboratory.number, &log, size).await? != root {
            return Err(ApiError::internal(format!(
                "the log {} does not go on from its checkpoint over {size} entries",
                log.origin
            )));
        }
    }
    let key = log_key(app, connection, laboratory, &log).await?;
    let checkpoint = Checkpoint {
        origin: log.origin.clone(),
        size: log.head.size(),
        root: log.head.root(),
        extensions: Vec::new(),
    };
    keep_outside(app, &checkpoint).await?;
    fail_point::reach("kept-outside");
    let note = checkpoint.sign(&key).map_err(ApiError::internal)?;
    store::insert_checkpoint(
        connection,
        laboratory.number,
        &log,
        checkpoint.root,
        &note,
        now,
    )
    .await?;
    fail_point::reach("signing");
    Ok((Signed::Everything, true))
}

/// A checkpoint at most once a second; a clock that was put back does not stop them.
fn is_due(signed_at: DateTime<Utc>, now: DateTime<Utc>) -> bool {
    let since = now.signed_duration_since(signed_at);
    since < TimeDelta::zero() || since >= TimeDelta::seconds(1)
}

/// Keeps what is about to be signed in the file outside the database. Whoever holds the head's lock
/// has compared it with the file; a process of another laboratory may write the file meanwhile, so
/// it is read again under the file's own lock.
async fn keep_outside(app: &App, checkpoint: &Checkpoint) -> Answer<()> {
    let file = app.db.standing().last_signed.clone();
    let origin = checkpoint.origin.clone();
    let signed = last_signed::Signed {
        size: checkpoint.size,
        root: checkpoint.root,
    };
    actix_web::web::block(move || {
        let mut locked = file.lock().map_err(ApiError::internal)?;
        if let Some(known) = locked.known(&origin).map_err(ApiError::internal)? {
            let is_behind = known.size > signed.size;
            if is_behind || (known.size == signed.size && known.root != signed.root) {
                return Err(ApiError::internal(format!(
                    "another process signed more of the log {origin} than there is"
                )));
            }
        }
        locked.keep(&origin, signed).map_err(ApiError::internal)
    })
    .await
    .map_err(ApiError::internal)?
}

/// The newest log key that is good over what is signed: its announcement is among the entries, the
/// act that withdraws it is not.
async fn log_key(
    app: &App,
    connection: &mut AsyncPgConnection,
    laboratory: &LaboratoryKey,
    log: &store::CurrentLog,
) -> Answer<SecretKey> {
    let at = Place {
        log: u32::try_from(log.number).map_err(ApiError::internal)?,
        entry: log.head.size(),
    };
    let known = keys::of(connection, laboratory.number).await?;
    let key = known
        .iter()
        .find(|key| key.signs_what == SignsWhat::Log && key.span.is_good_at(at))
        .ok_or_else(|| ApiError::internal("the laboratory has no log key that is good now"))?;
    let sealed = keys_store::sealed(connection, laboratory.number, key.id).await?;
    app.db.keyring().open(laboratory.id, key.id, &sealed)
}
