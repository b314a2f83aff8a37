//! Proofs: that an entry is under a checkpoint, that a log only grew.
//!
//! Promises each from as many stored hashes as the tree is high, in one query for where things
//! stand and one for the hashes, however large the log is; and checks what it made before it
//! answers. Refuses to prove what stored hashes don't lead to, and says whose they are.

mod show_consistency;
mod show_proof;
mod store;
mod stored_hashes;
mod wire;

pub(in crate::ledger) use stored_hashes::resolved;
pub(crate) use wire::{ProofDue, due};

use crate::error::{Answer, ApiError};
use diesel_async::AsyncPgConnection;
use domain::{
    ledger::{Hash, act::ReadAct, checkpoint::ProofFile, note::Note, tree, witness::Policy},
    time::Moment,
};

/// Routes of the proofs.
pub(super) fn routes(config: &mut utoipa_actix_web::service_config::ServiceConfig) {
    config
        .service(show_consistency::show_consistency)
        .service(show_proof::show_proof)
        .service(show_proof::show_proof_file);
}

/// Under which of a log's checkpoints something is proved.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Under {
    /// The first that covers the entry: the same proof, whoever makes it and when.
    First,
    /// The newest.
    Newest,
}

/// An entry with its way to the root of a checkpoint.
pub(crate) struct EntryProof {
    /// The log's name.
    pub(crate) origin: String,
    /// The log's number.
    pub(crate) log: i32,
    /// The entry's number.
    pub(crate) index: u64,
    /// Sibling hashes, the entry's first.
    pub(crate) path: Vec<Hash>,
    /// How many entries the checkpoint covers.
    pub(crate) size: u64,
    /// Their root.
    pub(crate) root: Hash,
    /// The checkpoint as it was signed.
    pub(crate) checkpoint: String,
    /// When it was signed.
    pub(crate) signed_at: Moment,
}

impl EntryProof {
    /// The proof file (C2SP tlog-proof).
    pub(crate) fn file(&self) -> String {
        ProofFile {
            extra: None,
            index: self.index,
            hashes: self.path.clone(),
            checkpoint: self.checkpoint.clone(),
        }
        .to_text()
    }
}

/// A proof that is to be handed out.
pub(crate) struct FirstProof {
    /// The proof.
    pub(crate) proof: EntryProof,
    /// Whether no better one will come: enough witnesses cosigned its checkpoint.
    pub(crate) is_final: bool,
}

/// Proves that an act is in the log, under the first checkpoint that covers it; none before there
/// is one. Where a policy names witnesses, under one that enough of them cosigned, as soon as
/// there is one: nobody is kept waiting for them.
///
/// # Errors
/// [`ApiError::Internal`] where the stored hashes do not lead from the act to the checkpoint.
pub(crate) async fn first_proof(
    connection: &mut AsyncPgConnection,
    laboratory: i32,
    entry: &str,
    policy: Option<&Policy>,
) -> Answer<Option<FirstProof>> {
    let act = ReadAct::parse(entry).map_err(ApiError::internal)?.act.id;
    let Some(first) = store::covered(connection, laboratory, act.0).await? else {
        return Ok(None);
    };
    let mut chosen = (first, true);
    if let Some(policy) = policy.filter(|policy| !is_met(policy, &chosen.0)) {
        let cosigned = store::cosigned(connection, laboratory, act.0).await?;
        match cosigned.into_iter().find(|one| is_met(policy, one)) {
            Some(enough) => chosen.0 = enough,
            None => chosen.1 = false,
        }
    }
    let (covered, is_final) = chosen;
    let proof = prove(connection, laboratory, covered, entry).await?;
    Ok(Some(FirstProof { proof, is_final }))
}

fn is_met(policy: &Policy, covered: &store::Covered) -> bool {
    Note::parse(&covered.checkpoint)
        .and_then(|note| policy.is_met(&note))
        .unwrap_or(false)
}

async fn prove(
    connection: &mut AsyncPgConnection,
    laboratory: i32,
    covered: store::Covered,
    entry: &str,
) -> Answer<EntryProof> {
    let store::Covered {
        origin,
        log,
        index,
        size,
        root,
        checkpoint,
        signed_at,
    } = covered;
    let parts = tree::inclusion_parts(index, size).map_err(ApiError::internal)?;
    let path = stored_hashes::resolved(connection, (laboratory, log), size, &parts).await?;
    tree::verify_inclusion(index, size, &Hash::of_leaf(entry.as_bytes()), &path, &root).map_err(
        |fault| {
            ApiError::internal(format!(
                "the stored hashes of {origin} do not lead from entry {index} to the checkpoint \
                 of {size} entries: {fault}"
            ))
        },
    )?;
    Ok(EntryProof {
        origin,
        log,
        index,
        path,
        size,
        root,
        checkpoint,
        signed_at,
    })
}
