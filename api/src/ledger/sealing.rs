//! From records to signed acts, without a database: so many threads can do it.
//!
//! Promises that the records keep their order, at most 256 an act, and that personal data and free
//! text leave the records for disclosures with fresh salts. Refuses what has no canonical form.

use super::{Keyring, NewRecord};
use crate::{
    db::Tx,
    error::{Answer, ApiError},
    ids,
};
use domain::{
    id::{ActId, LaboratoryId},
    ledger::{
        Act, Actor, Disclosure, Hash, Reason, RecordDraft, SecretKey, act, disclosure::conceal,
    },
    time::Moment,
};
use serde_json::Value;
use std::{collections::HashMap, sync::Arc};
use uuid::Uuid;

/// Hashes of records, by subject and version.
pub(crate) type Hashes = HashMap<(Uuid, i32), Hash>;

/// The acts of a transaction, or the first of them, built and signed.
#[derive(Default)]
pub struct Sealed {
    pub(super) acts: Vec<SealedAct>,
    pub(super) disclosures: Vec<(ActId, Disclosure)>,
}

impl Sealed {
    /// Adds the acts of another.
    pub(crate) fn add(&mut self, mut other: Self) {
        self.acts.append(&mut other.acts);
        self.disclosures.append(&mut other.disclosures);
    }
}

/// One act, as it is stored.
pub(super) struct SealedAct {
    pub(super) id: ActId,
    pub(super) action: String,
    pub(super) actor: Value,
    pub(super) entry: String,
    /// The canonical bytes of its records in order, each ended by LF.
    pub(super) lines: Vec<u8>,
    /// Where which version stands: subject, version and hash, in the order of the records.
    pub(super) versions: Vec<(Uuid, i32, Hash)>,
}

/// Who does what and why, and the key to sign it with.
pub(super) struct Sealer {
    key: Arc<SecretKey>,
    laboratory: LaboratoryId,
    actor: Actor,
    action: String,
    reason: Option<(String, String)>,
    now: Moment,
}

impl Sealer {
    /// The sealer of a transaction, as it is now.
    pub(super) async fn of(tx: &mut Tx, keyring: &Keyring) -> Answer<Self> {
        Ok(Self {
            key: keyring.record_key(tx).await?,
            laboratory: tx.laboratory().id,
            actor: tx.draft.actor.clone(),
            action: tx.draft.action.clone(),
            reason: tx.draft.reason.clone(),
            now: tx.now(),
        })
    }

    /// Seals records in acts of 256; the first act has the id `first`. What is sealed is added to
    /// the hashes that are known: the next version may follow in the same transaction.
    pub(super) fn seal(
        &self,
        first: ActId,
        records: Vec<NewRecord>,
        known: &mut Hashes,
    ) -> Answer<Sealed> {
        let mut sealed = Sealed::default();
        let mut id = first;
        let mut rest = records.into_iter().peekable();
        while rest.peek().is_some() {
            let chunk = rest.by_ref().take(act::MOST_RECORDS);
            let act = self.act(id, chunk, known, &mut sealed.disclosures)?;
            sealed.acts.push(act);
            id = ids::fresh();
        }
        Ok(sealed)
    }

    fn act(
        &self,
        id: ActId,
        records: impl Iterator<Item = NewRecord>,
        known: &mut Hashes,
        disclosures: &mut Vec<(ActId, Disclosure)>,
    ) -> Answer<SealedAct> {
        let (mut lines, mut versions) = (Vec::new(), Vec::new());
        for mut record in records {
            if !record.disclosed.is_empty() {
                let hidden = conceal_in(&mut record.content, record.disclosed)?;
                disclosures.extend(hidden.into_iter().map(|hidden| (id, hidden)));
            }
            let before = (record.subject, record.version.saturating_sub(1));
            let hash = RecordDraft {
                act: id,
                laboratory: self.laboratory,
                kind: record.kind,
                schema: record.schema,
                subject: record.subject,
                version: u64::try_from(record.version).map_err(ApiError::internal)?,
                previous: known.get(&before).copied(),
                content: &record.content,
            }
            .seal_onto(&mut lines)
            .map_err(ApiError::internal)?;
            lines.push(b'\n');
            known.insert((record.subject, record.version), hash);
            versions.push((record.subject, record.version, hash));
        }
        self.sign(id, lines, versions, disclosures)
    }

    fn sign(
        &self,
        id: ActId,
        lines: Vec<u8>,
        versions: Vec<(Uuid, i32, Hash)>,
        disclosures: &mut Vec<(ActId, Disclosure)>,
    ) -> Answer<SealedAct> {
        let hashes: Vec<Hash> = versions.iter().map(|(_, _, hash)| *hash).collect();
        let act = Act {
            id,
            action: self.action.clone(),
            actor: self.actor.clone(),
            laboratory: self.laboratory,
            reason: self.reason(id, disclosures)?,
            records: u64::try_from(hashes.len()).map_err(ApiError::internal)?,
            root: act::root(&hashes).map_err(ApiError::internal)?,
            time: self.now,
        };
        let entry = act.sign(&self.key).map_err(ApiError::internal)?;
        Ok(SealedAct {
            id,
            action: act.action,
            actor: actor_value(&act.actor),
            entry: entry.into_text(),
            lines,
            versions,
        })
    }

    fn reason(
        &self,
        id: ActId,
        disclosures: &mut Vec<(ActId, Disclosure)>,
    ) -> Answer<Option<Reason>> {
        let Some((code, text)) = &self.reason else {
            return Ok(None);
        };
        let mut digests = Vec::new();
        if !text.is_empty() {
            let salt = ids::random_bytes::<16>().map_err(ApiError::internal)?;
            let said = Disclosure::new(salt, "text", &Value::from(text.as_str()))
                .map_err(ApiError::internal)?;
            digests.push(said.digest().to_owned());
            disclosures.push((id, said));
        }
        Ok(Some(Reason {
            code: code.clone(),
            digests,
        }))
    }
}

/// Takes personal data and free text out of a content, with fresh salts.
///
/// # Errors
/// [`ApiError::Internal`] where there are no random bytes, or a value cannot be concealed.
pub fn conceal_in(content: &mut Value, paths: &[&str]) -> Answer<Vec<Disclosure>> {
    let mut failed = None;
    let hidden = conceal(content, paths, || {
        ids::random_bytes::<16>().unwrap_or_else(|error| {
            failed = Some(error);
            [0; 16]
        })
    })
    .map_err(ApiError::internal)?;
    match failed {
        None => Ok(hidden),
        Some(error) => Err(ApiError::internal(error)),
    }
}

/// Who acted, as a JSON value for the read side.
pub(crate) fn actor_value(actor: &Actor) -> Value {
    match actor {
        Actor::Account { account, role } => {
            serde_json::json!({"account": account, "role": role})
        }
        Actor::Client {
            client,
            on_behalf_of: None,
            role,
        } => serde_json::json!({"client": client, "role": role}),
        Actor::Client {
            client,
            on_behalf_of: Some(account),
            role,
        } => serde_json::json!({"client": client, "on_behalf_of": account, "role": role}),
        Actor::Process { process } => serde_json::json!({"process": process}),
    }
}
