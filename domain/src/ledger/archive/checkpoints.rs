//! The checkpoints that an archive holds, or that somebody kept.
//!
//! Promises that each is a prefix of the entries under one signature of its log; says of each that
//! is not, where it is from and why.

use super::findings::{Check, Finding};
use crate::id::LaboratoryId;
use crate::ledger::checkpoint::{Checkpoint, Origin};
use crate::ledger::hash::Hash;
use crate::ledger::note::{Note, VerifierKey};
use crate::ledger::trust::Trust;
use crate::ledger::verify::explain;

/// A checkpoint with where it is from.
///
/// ```
/// use domain::ledger::archive::HeldCheckpoint;
/// let lab = "019ca869-5000-76a3-a0ec-7b3041d8cea3".parse()?;
/// assert!(HeldCheckpoint::read("checkpoints/7", "no note", lab, 1, None).is_err());
/// # Ok::<(), uuid::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct HeldCheckpoint {
    /// The file.
    pub file: String,
    /// How many entries it seals.
    pub size: u64,
    /// The root over them.
    pub root: Hash,
    /// Whether the witnesses that the trust file asks for have signed it; none where none is
    /// asked for.
    pub witnessed: Option<bool>,
}

impl HeldCheckpoint {
    /// Reads a signed note and checks what can be checked without the entries.
    ///
    /// # Errors
    /// What does not hold.
    pub fn read(
        file: &str,
        note: &str,
        laboratory: LaboratoryId,
        log: u64,
        trust: Option<&Trust>,
    ) -> Result<Self, Finding> {
        let find = |text: String| Finding::new(Check::Checkpoints, format!("{file}: {text}"));
        let note = Note::parse(note).map_err(|error| find(explain(&error)))?;
        let checkpoint = Checkpoint::parse(note.text()).map_err(|error| find(explain(&error)))?;
        let origin: Origin = checkpoint
            .origin
            .parse()
            .map_err(|error| find(explain(&error)))?;
        if origin.laboratory != laboratory || origin.number != log {
            return Err(find(format!("it is of the log {origin}")));
        }
        if let Some(size) = file.strip_prefix("checkpoints/")
            && size != checkpoint.size.to_string()
        {
            return Err(find(format!("it is of size {}", checkpoint.size)));
        }
        let mut witnessed = None;
        if let Some(trust) = trust {
            let logs = trust.logs_of(&checkpoint.origin);
            let keys: Vec<&VerifierKey> = logs.iter().map(|log| &log.key).collect();
            note.verify(&keys).map_err(|error| find(explain(&error)))?;
            for (size, root) in logs.iter().filter_map(|log| log.end) {
                if checkpoint.size > size {
                    return Err(find(format!("the log ended at size {size}")));
                }
                if checkpoint.size == size && checkpoint.root != root {
                    return Err(find("the log had another root at its end".to_owned()));
                }
            }
            if let Some(policy) = &trust.witnesses {
                let met = policy.is_met(&note);
                witnessed = Some(met.map_err(|error| find(explain(&error)))?);
            }
        }
        Ok(Self {
            file: file.to_owned(),
            size: checkpoint.size,
            root: checkpoint.root,
            witnessed,
        })
    }
}
