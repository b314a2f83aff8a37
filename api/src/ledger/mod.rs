//! The ledger as the service writes it: one signed act for what one transaction changed.
//!
//! Promises that records, act and pending row are written in the transaction of the change itself;
//! refuses to sign where no key is there. Personal data and free text go to disclosures, their
//! digests into the records.

mod act_records;
mod anchoring;
mod archive;
mod begin_log;
mod keyring;
mod keys;
mod last_signed;
mod list_records;
mod origin;
pub(crate) mod pages;
mod proving;
mod receipt;
mod sequencing;
mod serving;
mod show_record;
mod standing;
mod store;
mod trail;
mod trust_file;

pub(crate) use act_records::{
    Place, accounts_behind, content_of, contents_before, place_of, reveal_by_digest,
};
pub use anchoring::{
    Anchors, AnchorsError, TimeStampingAuthority, WitnessAt, anchor, roots, witnesses,
};
pub use archive::{ExportArgumentError, ExportError, ExportLog};
pub use begin_log::begin_first_log;
pub use keyring::{Keyring, announce_keys};
pub(crate) use proving::{ProofDue, due, first_proof};
pub(crate) use receipt::Receipt;
pub(crate) use sequencing::wake;
pub use sequencing::{check_standing, sequence};
pub(crate) use standing::{Standing, health, measure};
pub(crate) use store::replayed::{PlacedVersion, replay_keys, replay_logs, replay_versions};
pub(crate) use store::{
    ActRow,
    erased::{
        acts, acts_of, delete_disclosures, disclosures_by_digest, disclosures_holding,
        disclosures_of_acts, last_signed,
    },
};
pub(crate) use trail::{TrailAct, TrailVersion, trail};

use crate::{
    db::Tx,
    error::{Answer, ApiError},
    identity::{LaboratoryKey, Permit},
    ids,
};
use domain::{
    id::ActId,
    ledger::{
        Act, Actor, Disclosure, Hash, Reason, RecordDraft, SealedRecord, act, disclosure::conceal,
    },
};
use serde_json::Value;
use std::collections::HashMap;
use uuid::Uuid;

/// Routes of the slice.
pub fn routes(config: &mut utoipa_actix_web::service_config::ServiceConfig) {
    config
        .configure(keys::routes)
        .service(begin_log::begin_log)
        .service(list_records::list_records)
        .service(show_record::show_record)
        .service(trust_file::trust_file)
        .configure(proving::routes)
        .configure(serving::routes);
}

/// What a transaction is going to record.
pub struct Draft {
    actor: Actor,
    action: String,
    reason: Option<(String, String)>,
    records: Vec<NewRecord>,
    own_disclosures: Vec<Disclosure>,
    unchanged: bool,
    first_act: ActId,
    earlier: HashMap<(Uuid, i32), Hash>,
}

/// A record that a transaction adds.
#[derive(Debug, Clone)]
pub struct NewRecord {
    /// What kind of thing the subject is.
    pub kind: &'static str,
    /// Form of the content.
    pub schema: u64,
    /// The subject.
    pub subject: Uuid,
    /// Its version: 1, or one above the newest.
    pub version: i32,
    /// The whole state of that version, everything in clear.
    pub content: Value,
    /// JSON pointers of the members that are personal data or free text.
    pub disclosed: &'static [&'static str],
}

impl Draft {
    /// A draft of what this permit allows.
    #[must_use]
    pub fn of(permit: &Permit) -> Self {
        Self {
            actor: permit.actor(),
            action: permit.action_name().to_owned(),
            reason: None,
            records: Vec::new(),
            own_disclosures: Vec::new(),
            unchanged: false,
            first_act: ids::fresh(),
            earlier: HashMap::new(),
        }
    }

    /// The id that the (first) act will have.
    #[must_use]
    pub fn act_id(&self) -> ActId {
        self.first_act
    }

    /// Why it is done, where a reason is due.
    pub fn because(&mut self, code: &str, text: &str) {
        self.reason = Some((code.to_owned(), text.to_owned()));
    }

    /// Where the proof of what is recorded will be: that of the first record; none where there is
    /// no record.
    pub(crate) fn proof_address(&self, laboratory: &LaboratoryKey) -> Option<String> {
        let first = self.records.first()?;
        Some(format!(
            "/v1/laboratories/{}/records/{}/{}/proof",
            laboratory.slug, first.subject, first.version
        ))
    }

    /// Says that this transaction changes nothing that is recorded: a repeat, a refusal kept.
    pub fn nothing_changed(&mut self) {
        self.unchanged = true;
    }

    /// Takes hashes of earlier versions that were looked up.
    pub(crate) fn know(&mut self, earlier: HashMap<(Uuid, i32), Hash>) {
        self.earlier.extend(earlier);
    }

    /// Keeps disclosures that belong to something signed apart, such as a certificate.
    pub fn keep_disclosures(&mut self, disclosures: Vec<Disclosure>) {
        self.own_disclosures.extend(disclosures);
    }
}

/// Adds a record to what the transaction records.
pub fn append(tx: &mut Tx, record: NewRecord) {
    tx.draft.records.push(record);
}

/// The acts of a transaction, built and signed.
pub struct Sealed {
    acts: Vec<SealedAct>,
    disclosures: Vec<(ActId, Disclosure)>,
}

/// Stores what was sealed; the last thing before COMMIT.
///
/// # Errors
/// [`ApiError::Internal`] or [`ApiError::Unavailable`].
pub async fn store(tx: &Tx, sealed: &Sealed) -> Answer<()> {
    if sealed.acts.is_empty() {
        return Ok(());
    }
    store::insert(tx, &sealed.acts, &sealed.disclosures).await
}

/// Looks up the hashes of versions that the transaction is going to follow up, so that sealing
/// need not wait for them.
///
/// # Errors
/// [`ApiError::Internal`] or [`ApiError::Unavailable`].
pub(crate) async fn earlier_hashes(
    tx: &Tx,
    versions: Vec<(Uuid, i32)>,
) -> Answer<HashMap<(Uuid, i32), Hash>> {
    store::hashes(tx, versions).await
}

/// Builds and signs the acts of a transaction.
///
/// # Errors
/// [`ApiError::Internal`] where nothing was recorded, a record has no canonical form, or the key
/// does not open.
pub async fn seal(tx: &mut Tx, keyring: &Keyring) -> Answer<Sealed> {
    let records = std::mem::take(&mut tx.draft.records);
    if records.is_empty() {
        return if tx.draft.unchanged {
            Ok(Sealed {
                acts: Vec::new(),
                disclosures: Vec::new(),
            })
        } else {
            Err(ApiError::internal(
                "a change was about to be committed without a record",
            ))
        };
    }
    let key = keyring.record_key(tx).await?;
    let mut previous = previous_hashes(tx, &records).await?;
    let mut acts = Vec::new();
    let mut disclosures = Vec::new();
    let mut act_id = tx.draft.first_act;
    for chunk in records.chunks(act::MOST_RECORDS) {
        let mut sealed: Vec<(Uuid, i32, SealedRecord)> = Vec::with_capacity(chunk.len());
        for record in chunk {
            let before = previous
                .get(&(record.subject, record.version.saturating_sub(1)))
                .copied();
            let (one, hidden) = seal_record(tx, act_id, record, before)?;
            // The next version may follow in this same transaction.
            previous.insert((record.subject, record.version), one.hash);
            disclosures.extend(hidden.into_iter().map(|hidden| (act_id, hidden)));
            sealed.push((record.subject, record.version, one));
        }
        acts.push(sign(tx, &key, act_id, sealed, &mut disclosures)?);
        act_id = ids::fresh();
    }
    let first = tx.draft.first_act;
    let own = std::mem::take(&mut tx.draft.own_disclosures);
    disclosures.extend(own.into_iter().map(|disclosure| (first, disclosure)));
    Ok(Sealed { acts, disclosures })
}

/// Hashes of the versions before those that are to be recorded, as far as they are not known.
async fn previous_hashes(tx: &mut Tx, records: &[NewRecord]) -> Answer<HashMap<(Uuid, i32), Hash>> {
    let mut known = std::mem::take(&mut tx.draft.earlier);
    let unknown: Vec<(Uuid, i32)> = records
        .iter()
        .filter(|record| record.version > 1)
        .map(|record| (record.subject, record.version.saturating_sub(1)))
        .filter(|before| !known.contains_key(before))
        .collect();
    known.extend(store::hashes(tx, unknown).await?);
    Ok(known)
}

pub(crate) struct SealedAct {
    id: ActId,
    action: String,
    actor: Value,
    entry: String,
    records: Vec<(Uuid, i32, SealedRecord)>,
}

fn seal_record(
    tx: &Tx,
    act: ActId,
    record: &NewRecord,
    previous: Option<Hash>,
) -> Answer<(SealedRecord, Vec<Disclosure>)> {
    let concealed;
    let mut hidden = Vec::new();
    let content = if record.disclosed.is_empty() {
        &record.content
    } else {
        let mut content = record.content.clone();
        hidden = conceal_in(&mut content, record.disclosed)?;
        concealed = content;
        &concealed
    };
    let sealed = RecordDraft {
        act,
        laboratory: tx.laboratory().id,
        kind: record.kind,
        schema: record.schema,
        subject: record.subject,
        version: u64::try_from(record.version).map_err(ApiError::internal)?,
        previous,
        content,
    }
    .seal()
    .map_err(ApiError::internal)?;
    Ok((sealed, hidden))
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

fn sign(
    tx: &Tx,
    key: &domain::ledger::SecretKey,
    id: ActId,
    records: Vec<(Uuid, i32, SealedRecord)>,
    disclosures: &mut Vec<(ActId, Disclosure)>,
) -> Answer<SealedAct> {
    let hashes: Vec<Hash> = records.iter().map(|(_, _, record)| record.hash).collect();
    let reason = match &tx.draft.reason {
        None => None,
        Some((code, text)) => {
            let mut digests = Vec::new();
            if !text.is_empty() {
                let salt = ids::random_bytes::<16>().map_err(ApiError::internal)?;
                let said = Disclosure::new(salt, "text", &Value::from(text.as_str()))
                    .map_err(ApiError::internal)?;
                digests.push(said.digest().to_owned());
                disclosures.push((id, said));
            }
            Some(Reason {
                code: code.clone(),
                digests,
            })
        }
    };
    let act = Act {
        id,
        action: tx.draft.action.clone(),
        actor: tx.draft.actor.clone(),
        laboratory: tx.laboratory().id,
        reason,
        records: u64::try_from(records.len()).map_err(ApiError::internal)?,
        root: act::root(&hashes).map_err(ApiError::internal)?,
        time: tx.now(),
    };
    let entry = act.sign(key).map_err(ApiError::internal)?;
    Ok(SealedAct {
        id,
        action: act.action,
        actor: actor_value(&act.actor),
        entry: entry.into_text(),
        records,
    })
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
