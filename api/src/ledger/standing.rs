//! Which logs may not go on: those that are behind what was signed of them, because the database
//! was put back to an older state.
//!
//! Promises that whoever would write to such a laboratory is told what to do. Reads go on.

use super::last_signed::LastSigned;
use crate::{
    app::App,
    error::{Answer, ApiError},
};
use chrono::{DateTime, Utc};
use domain::id::LaboratoryId;
use prometheus::{IntGauge, Registry};
use std::{
    collections::HashMap,
    path::Path,
    sync::{OnceLock, PoisonError, RwLock},
};

/// How the logs stand, as this process knows.
pub(crate) struct Standing {
    /// What was signed last, outside the database.
    pub(crate) last_signed: LastSigned,
    suspended: RwLock<HashMap<i32, Suspension>>,
    oldest_pending: RwLock<Option<DateTime<Utc>>>,
}

/// Why a laboratory's log may not go on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Suspension {
    /// The laboratory.
    pub(crate) laboratory: LaboratoryId,
    /// What was found, in words.
    pub(crate) found: String,
}

impl Standing {
    /// Nothing is known yet.
    pub(crate) fn new(state: &Path) -> Self {
        Self {
            last_signed: LastSigned::in_directory(state),
            suspended: RwLock::default(),
            oldest_pending: RwLock::default(),
        }
    }

    /// Refuses a write to a laboratory whose log may not go on.
    ///
    /// # Errors
    /// [`ApiError::Suspended`].
    pub(crate) fn check(&self, laboratory: i32) -> Answer<()> {
        let suspended = self
            .suspended
            .read()
            .unwrap_or_else(PoisonError::into_inner);
        match suspended.get(&laboratory) {
            None => Ok(()),
            Some(suspension) => Err(ApiError::Suspended(suspension.found.clone())),
        }
    }

    /// Says what was found of a laboratory's log; nothing where all is well.
    pub(crate) fn found(&self, laboratory: i32, suspension: Option<Suspension>) {
        let mut suspended = self
            .suspended
            .write()
            .unwrap_or_else(PoisonError::into_inner);
        match suspension {
            None => {
                if suspended.remove(&laboratory).is_some() {
                    tracing::info!(laboratory, "the log goes on");
                }
            }
            Some(suspension) => {
                if suspended.get(&laboratory) != Some(&suspension) {
                    tracing::error!(laboratory, found = suspension.found, "the log is suspended");
                }
                suspended.insert(laboratory, suspension);
            }
        }
        if let Some(gauges) = GAUGES.get() {
            let count = i64::try_from(suspended.len()).unwrap_or(i64::MAX);
            gauges.suspended.set(count);
        }
    }

    /// The laboratories whose logs may not go on.
    pub(crate) fn suspended(&self) -> HashMap<i32, Suspension> {
        self.suspended
            .read()
            .unwrap_or_else(PoisonError::into_inner)
            .clone()
    }

    /// Since when the oldest act without an entry waits.
    pub(crate) fn oldest_pending(&self) -> Option<DateTime<Utc>> {
        *self
            .oldest_pending
            .read()
            .unwrap_or_else(PoisonError::into_inner)
    }

    /// Says since when the oldest act without an entry waits.
    pub(crate) fn saw_pending(&self, since: Option<DateTime<Utc>>, now: DateTime<Utc>) {
        if let Some(gauges) = GAUGES.get() {
            let waited = since.map_or(0, |since| waited_s(since, now));
            gauges.oldest_pending_s.set(waited);
        }
        *self
            .oldest_pending
            .write()
            .unwrap_or_else(PoisonError::into_inner) = since;
    }
}

fn waited_s(since: DateTime<Utc>, now: DateTime<Utc>) -> i64 {
    now.signed_duration_since(since).num_seconds().max(0)
}

/// What `/health` says of the logs, as this process saw them last.
#[derive(Debug, serde::Serialize)]
pub(crate) struct Health {
    /// Seconds that the oldest act without an entry has waited; 0 where none waits.
    pub(crate) oldest_pending_s: i64,
    /// The laboratories whose logs may not go on, and why.
    pub(crate) suspended: Vec<SuspendedLog>,
}

/// A log that may not go on.
#[derive(Debug, serde::Serialize)]
pub(crate) struct SuspendedLog {
    laboratory: LaboratoryId,
    found: String,
}

/// How the logs stand.
pub(crate) fn health(app: &App) -> Health {
    let standing = app.db.standing();
    let since = standing.oldest_pending();
    let now = app.clock.now().utc();
    let waited = since.map_or(0, |since| waited_s(since, now));
    let mut suspended: Vec<SuspendedLog> = standing
        .suspended()
        .into_values()
        .map(|one| SuspendedLog {
            laboratory: one.laboratory,
            found: one.found,
        })
        .collect();
    suspended.sort_by_key(|one| one.laboratory);
    Health {
        oldest_pending_s: waited,
        suspended,
    }
}

static GAUGES: OnceLock<Gauges> = OnceLock::new();

struct Gauges {
    oldest_pending_s: IntGauge,
    suspended: IntGauge,
}

/// Adds what is measured of the logs to what the service measures.
///
/// # Errors
/// Where the registry has a measurement of the name already.
pub(crate) fn measure(registry: &Registry) -> Result<(), prometheus::Error> {
    if GAUGES.get().is_none() {
        // Whoever loses this race uses the winner's.
        drop(GAUGES.set(Gauges {
            oldest_pending_s: IntGauge::new(
                "assize_ledger_oldest_pending_seconds",
                "How long the oldest act without an entry in its log has waited.",
            )?,
            suspended: IntGauge::new(
                "assize_ledger_suspended_logs",
                "Logs that may not go on, because the database was put back to an older state.",
            )?,
        }));
    }
    if let Some(gauges) = GAUGES.get() {
        registry.register(Box::new(gauges.oldest_pending_s.clone()))?;
        registry.register(Box::new(gauges.suspended.clone()))?;
    }
    Ok(())
}
