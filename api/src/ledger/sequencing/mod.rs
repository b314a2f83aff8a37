//! The sequencer: gives every act its place in its laboratory's log, and signs how far the log has
//! come. It runs in every service process; any number of them may.
//!
//! Promises that acts become entries in an order that respects the versions of every subject, that
//! nothing is signed before it is committed and kept outside the database, and that a laboratory
//! where nothing waits is not visited. Refuses an act whose signature does not hold, and a log that
//! is behind what was signed of it.

mod appending;
mod fail_point;
mod keys;
mod signing;
pub(crate) mod store;

use super::{proving::resolved, standing::Suspension};
use crate::{
    app::App,
    db::Db,
    error::{Answer, ApiError, chain},
    identity::LaboratoryKey,
};
use actix_web::web;
use diesel_async::AsyncPgConnection;
use domain::ledger::{Hash, tree};
use std::{sync::LazyLock, time::Duration};
use tokio::sync::Notify;

/// How long acts are gathered before they are sequenced together.
const GATHERING: Duration = Duration::from_millis(100);

/// How long a process waits before it looks for acts that another one left.
const TICK: Duration = Duration::from_secs(1);

static WAITING: LazyLock<Notify> = LazyLock::new(Notify::new);

/// Says that an act was committed.
pub(crate) fn wake() {
    WAITING.notify_one();
}

/// What became of one visit to a laboratory.
enum Visit {
    /// All that waited is in the log, and signed.
    Done,
    /// Something waits for its time, or for the process that has its turn.
    Later,
}

/// Works until the process ends.
pub async fn sequence(app: web::Data<App>) {
    // Something may have been left by the process before this one.
    let mut is_due_soon = true;
    loop {
        let tick = if is_due_soon { GATHERING } else { TICK };
        tokio::select! {
            () = WAITING.notified() => tokio::time::sleep(GATHERING).await,
            () = tokio::time::sleep(tick) => {}
        }
        match pass(&app).await {
            Ok(soon) => is_due_soon = soon,
            Err(error) => {
                is_due_soon = false;
                tracing::warn!(cause = chain(&error), "the log could not be gone on with");
            }
        }
    }
}

/// Visits every laboratory that has work; true where something is due soon.
async fn pass(app: &App) -> Answer<bool> {
    let suspended: Vec<i32> = app.db.standing().suspended().into_keys().collect();
    let waiting = {
        let mut connection = app.db.sequencer().await?;
        store::waiting(&mut connection, suspended).await?
    };
    let oldest = waiting.iter().filter_map(|one| one.pending_since).min();
    app.db.standing().saw_pending(oldest, app.clock.now().utc());
    let (mut is_due_soon, mut failed) = (false, false);
    let mut visited = None;
    for row in waiting {
        let number = row.laboratory.number;
        if visited.replace(number) == Some(number) {
            continue;
        }
        match visit(app, &row.laboratory).await {
            Ok(Visit::Done) => {}
            Ok(Visit::Later) => is_due_soon = true,
            Err(error) => {
                failed = true;
                tracing::error!(
                    laboratory = number,
                    cause = chain(&error),
                    "a laboratory's log could not be gone on with"
                );
            }
        }
    }
    if !is_due_soon && !failed {
        app.db.standing().saw_pending(None, app.clock.now().utc());
    }
    Ok(is_due_soon)
}

/// Sequences and signs what waits in one laboratory. While there is much, it signs in between.
async fn visit(app: &App, laboratory: &LaboratoryKey) -> Answer<Visit> {
    loop {
        match appending::append_pending(app, laboratory).await? {
            appending::Appended::NotOurTurn => return Ok(Visit::Later),
            appending::Appended::Nothing | appending::Appended::Some { more: false } => break,
            appending::Appended::NeverSigned | appending::Appended::Some { more: true } => {
                signing::sign_what_is_due(app, laboratory).await?;
            }
        }
    }
    Ok(match signing::sign_what_is_due(app, laboratory).await? {
        signing::Signed::Everything => Visit::Done,
        signing::Signed::NotYet => Visit::Later,
    })
}

/// Compares every log with what was signed of it, before anything is served: a log that is behind
/// is suspended.
///
/// # Errors
/// [`ApiError::Unavailable`], or [`ApiError::Internal`] where the file cannot be used.
pub async fn check_standing(db: &Db) -> Answer<()> {
    let laboratories = {
        let mut connection = db.sequencer().await?;
        store::laboratories(&mut connection).await?
    };
    for key in laboratories {
        let mut connection = db.begin_log(&key).await?;
        let log = store::current_log(&mut connection, key.number).await;
        let found = match log {
            Ok(log) => compare(db, &mut connection, &key, &log).await,
            Err(error) => Err(error),
        };
        db.end_log(connection, false).await?;
        db.standing().found(key.number, found?);
    }
    Ok(())
}

/// The root that a log had at an earlier size, from stored hashes alone.
async fn root_at(
    connection: &mut AsyncPgConnection,
    laboratory: i32,
    log: &store::CurrentLog,
    size: u64,
) -> Answer<Hash> {
    if size == log.head.size() {
        return Ok(log.head.root());
    }
    let edge = [tree::edge_nodes(size)];
    let roots = resolved(connection, (laboratory, log.number), size, &edge).await?;
    let root = roots.into_iter().next();
    root.ok_or_else(|| ApiError::internal("the root of the log is none"))
}

/// Whether a log goes on from what was signed of it, by the file outside the database.
async fn compare(
    db: &Db,
    connection: &mut AsyncPgConnection,
    laboratory: &LaboratoryKey,
    log: &store::CurrentLog,
) -> Answer<Option<Suspension>> {
    let known = db
        .standing()
        .last_signed
        .known(&log.origin)
        .map_err(ApiError::internal)?;
    let Some(known) = known else { return Ok(None) };
    let size = log.head.size();
    let found = if size < known.size {
        format!(
            "The log {} has {size} entries, but a checkpoint over {} was signed: the database \
             was put back to an older state.",
            log.origin, known.size
        )
    } else if root_at(connection, laboratory.number, log, known.size).await? != known.root {
        format!(
            "The first {} entries of the log {} are others than those that were signed: the \
             database was put back to an older state, and went on from there.",
            known.size, log.origin
        )
    } else {
        return Ok(None);
    };
    Ok(Some(Suspension {
        laboratory: laboratory.id,
        found,
    }))
}
