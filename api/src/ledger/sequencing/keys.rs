//! Which key is good at which entry, as the acts tell it that become entries.
//!
//! Promises that an announcement makes its key good from the next entry on, within one batch too,
//! and that what is kept of it is committed with the entry that tells it.

use super::store::Pending;
use crate::{
    error::{Answer, ApiError},
    ledger::store::keys,
};
use diesel_async::AsyncPgConnection;
use domain::ledger::{
    PublicKey,
    rotation::{Place, SignsWhat, Span},
};
use uuid::Uuid;

/// A key, and the entries that it is good for.
#[derive(Clone)]
pub(super) struct KeyInLog {
    pub(super) id: Uuid,
    pub(super) signs_what: SignsWhat,
    pub(super) kid: String,
    pub(super) public: PublicKey,
    pub(super) span: Span,
    announced_by: Uuid,
    withdrawn_by: Option<Uuid>,
}

/// All keys of a laboratory, newest first, as the log tells of them until now.
pub(super) async fn of(
    connection: &mut AsyncPgConnection,
    laboratory: i32,
) -> Answer<Vec<KeyInLog>> {
    keys::all(connection, laboratory)
        .await?
        .into_iter()
        .map(|row| {
            Ok(KeyInLog {
                id: row.key_id,
                signs_what: row.signs_what(),
                public: PublicKey::from_bytes(&row.public_key).map_err(ApiError::internal)?,
                span: row.span()?,
                announced_by: row.announced_by,
                withdrawn_by: row.withdrawn_by,
                kid: row.thumbprint,
            })
        })
        .collect()
}

/// Each act with the place of its entry, the first at `begins`.
pub(super) fn placed(begins: Place, acts: &[Pending]) -> Vec<(Place, &Pending)> {
    acts.iter()
        .zip(begins.entry..)
        .map(|(act, entry)| {
            let log = begins.log;
            (Place { log, entry }, act)
        })
        .collect()
}

/// The keys after these acts became entries.
pub(super) fn told(known: &[KeyInLog], begins: Place, acts: &[Pending]) -> Vec<KeyInLog> {
    let mut keys = known.to_vec();
    for (at, act) in placed(begins, acts) {
        for key in &mut keys {
            if key.announced_by == act.act_id {
                key.span.announced(at);
            }
            if key.withdrawn_by == Some(act.act_id) {
                key.span.withdrawn(at);
            }
        }
    }
    keys
}

/// Keeps what the acts that became entries told of keys.
pub(super) async fn keep_what_was_told(
    connection: &mut AsyncPgConnection,
    laboratory: i32,
    known: &[KeyInLog],
    begins: Place,
    acts: &[Pending],
) -> Answer<()> {
    for (before, after) in known.iter().zip(told(known, begins, acts)) {
        if before.span != after.span {
            let signs = after.withdrawn_by.is_none();
            keys::keep_span(connection, laboratory, after.id, after.span, signs).await?;
        }
    }
    Ok(())
}
