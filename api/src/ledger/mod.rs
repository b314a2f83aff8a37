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
mod sealing;
mod sealing_ahead;
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
pub(crate) use keys::signed_until;
pub(crate) use proving::{ProofDue, due, first_proof};
pub(crate) use receipt::Receipt;
pub(crate) use sealing::{Hashes, actor_value};
pub use sealing::{Sealed, conceal_in};
pub(crate) use sealing_ahead::SealingAhead;
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
    statement::Batch,
};
use domain::{
    id::ActId,
    ledger::{Actor, Disclosure},
};
use sealing::Sealer;
use serde_json::Value;
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
    /// Subject and version of the first record, which may be sealed ahead.
    first_record: Option<(Uuid, i32)>,
    /// Of the first act, where that was sealed ahead.
    receipt: Option<Receipt>,
    sealed_ahead: bool,
    first_act: ActId,
    /// The act that the records not sealed yet will be in.
    next_act: ActId,
    /// Hashes of versions that the records follow.
    earlier: Hashes,
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
        let first_act = ids::fresh();
        Self {
            actor: permit.actor(),
            action: permit.action_name().to_owned(),
            reason: None,
            records: Vec::new(),
            own_disclosures: Vec::new(),
            unchanged: false,
            first_record: None,
            receipt: None,
            sealed_ahead: false,
            first_act,
            next_act: first_act,
            earlier: Hashes::new(),
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
        let (subject, version) = self.first_record?;
        Some(format!(
            "/v1/laboratories/{}/records/{subject}/{version}/proof",
            laboratory.slug
        ))
    }

    /// The receipt of the first act, where that was sealed ahead.
    pub(crate) fn take_receipt(&mut self) -> Option<Receipt> {
        self.receipt.take()
    }

    /// Says that this transaction changes nothing that is recorded: a repeat, a refusal kept.
    pub fn nothing_changed(&mut self) {
        self.unchanged = true;
    }

    /// Takes hashes of earlier versions that were looked up.
    pub(crate) fn know(&mut self, earlier: Hashes) {
        self.earlier.extend(earlier);
    }

    /// Keeps disclosures that belong to something signed apart, such as a certificate.
    pub fn keep_disclosures(&mut self, disclosures: Vec<Disclosure>) {
        self.own_disclosures.extend(disclosures);
    }
}

/// Adds a record to what the transaction records.
pub fn append(tx: &mut Tx, record: NewRecord) {
    tx.draft
        .first_record
        .get_or_insert((record.subject, record.version));
    tx.draft.records.push(record);
}

/// What is sent to store what was sealed; the last thing before COMMIT.
pub(crate) fn storing(tx: &Tx, sealed: Sealed) -> Batch {
    let mut batch = Batch::default();
    if !sealed.acts.is_empty() {
        batch.add(store::insertion(tx.laboratory_id(), tx.now(), sealed));
    }
    batch
}

/// Builds and signs the acts of a transaction.
///
/// # Errors
/// [`ApiError::Internal`] where nothing was recorded, a record has no canonical form, or the key
/// does not open.
pub async fn seal(tx: &mut Tx, keyring: &Keyring) -> Answer<Sealed> {
    let records = std::mem::take(&mut tx.draft.records);
    if records.is_empty() {
        return if tx.draft.unchanged || tx.draft.sealed_ahead {
            Ok(Sealed::default())
        } else {
            Err(ApiError::internal(
                "a change was about to be committed without a record",
            ))
        };
    }
    let sealer = Sealer::of(tx, keyring).await?;
    let mut known = previous_hashes(tx, &records).await?;
    let act = tx.draft.next_act;
    let mut sealed = sealer.seal(act, records, &mut known)?;
    let own = std::mem::take(&mut tx.draft.own_disclosures);
    let first = tx.draft.first_act;
    let own = own.into_iter().map(|disclosure| (first, disclosure));
    sealed.disclosures.extend(own);
    Ok(sealed)
}

/// Hashes of the versions before those that are to be recorded, as far as they are not known.
async fn previous_hashes(tx: &mut Tx, records: &[NewRecord]) -> Answer<Hashes> {
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
