//! How proofs are shown, and how it is said that one is due.

use super::EntryProof;
use crate::ledger::Place;
use actix_web::{HttpResponse, http::header};
use domain::{ledger::Hash, time::Moment};
use serde::Serialize;
use uuid::Uuid;

/// That a record is in the log: its path in its act, the entry, the entry's path in the tree, a
/// checkpoint.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct ProofView {
    /// The subject.
    pub subject: Uuid,
    /// Version of the subject.
    pub version: i32,
    /// The record's exact text.
    pub record: String,
    /// SHA-256(0x00 || record), 64 hex digits.
    pub hash: String,
    /// The act that recorded it.
    pub act: ActPath,
    /// The act in the log.
    pub entry: EntryPath,
    /// What was signed over the log.
    pub checkpoint: CheckpointView,
    /// The last two as a proof file (C2SP tlog-proof) for the act.
    pub proof: String,
}

/// The way from a record to its act.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct ActPath {
    /// The act.
    pub id: Uuid,
    /// As it was signed, a compact JWS: the log's entry.
    pub entry: String,
    /// The record's place among the act's records, from 0.
    pub position: u64,
    /// Hashes from the record to the act's root, the record's sibling first.
    pub path: Vec<String>,
}

/// The way from an entry to the root.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct EntryPath {
    /// Name of the log.
    #[schema(example = "records.example/log/019ca869-5000-76a3-a0ec-7b3041d8cea3/1")]
    pub origin: String,
    /// Number of the log.
    pub log: i32,
    /// Number of the entry in the log, from 0.
    pub index: u64,
    /// Hashes from the entry to the root, the entry's sibling first.
    pub path: Vec<String>,
}

/// A checkpoint.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct CheckpointView {
    /// How many entries it covers.
    pub size: u64,
    /// Root of the tree over them, 64 hex digits.
    pub root: String,
    /// When it was signed (server clock, UTC).
    pub signed_at: Moment,
    /// As it was signed: a signed note.
    pub note: String,
}

impl ProofView {
    /// The view of a record's place and its act's proof.
    pub(super) fn of(
        (subject, version): (Uuid, i32),
        (act, hash): (Uuid, Hash),
        place: Place,
        proof: &EntryProof,
    ) -> Self {
        Self {
            subject,
            version,
            record: place.record,
            hash: hash.to_string(),
            act: ActPath {
                id: act,
                entry: place.entry,
                position: place.position,
                path: place.path,
            },
            entry: EntryPath {
                origin: proof.origin.clone(),
                log: proof.log,
                index: proof.index,
                path: hex(&proof.path),
            },
            checkpoint: CheckpointView {
                size: proof.size,
                root: proof.root.to_string(),
                signed_at: proof.signed_at,
                note: proof.checkpoint.clone(),
            },
            proof: proof.file(),
        }
    }
}

/// Hashes as JSON has them.
pub(super) fn hex(hashes: &[Hash]) -> Vec<String> {
    hashes.iter().map(Hash::to_string).collect()
}

/// That a log of one size is the beginning of the same log at another.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct ConsistencyView {
    /// Number of the log.
    pub log: i32,
    /// The smaller size.
    pub from: u64,
    /// Root of the tree over so many entries, 64 hex digits.
    pub from_root: String,
    /// The larger size.
    pub to: u64,
    /// Root of the tree over so many entries.
    pub to_root: String,
    /// The proof (RFC 9162 2.1.4).
    pub hashes: Vec<String>,
}

/// That something is recorded and signed, and waits for the checkpoint that makes its proof.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct ProofDue {
    /// Always `waiting-for-checkpoint`.
    #[schema(example = "waiting-for-checkpoint")]
    pub state: &'static str,
    /// What is the case, and what to do.
    pub detail: &'static str,
}

/// Says that the proof is not there yet, and when to come back.
pub(crate) fn due() -> HttpResponse {
    HttpResponse::Accepted()
        .insert_header((header::RETRY_AFTER, "1"))
        .insert_header((header::CACHE_CONTROL, "no-store"))
        .json(ProofDue {
            state: "waiting-for-checkpoint",
            detail: "It is recorded and signed. The log's next checkpoint, about once a second, \
                will cover it: come back after Retry-After seconds, or wait with the header \
                Prefer: wait=10.",
        })
}
