//! What an archive says of itself.
//!
//! Promises canonical bytes; refuses a member missing, unknown or of another type, and a format
//! that is not known here.

use crate::id::LaboratoryId;
use crate::ledger::canonical::{self, CanonicalError};
use crate::ledger::members::{MemberError, Members};
use crate::ledger::strict_json::{self, StrictJsonError};
use serde_json::{Value, json};

/// The format written and read here.
pub const FORMAT: u64 = 1;

/// Why a file cannot be taken for a manifest.
#[derive(Debug, thiserror::Error)]
pub enum ManifestError {
    /// No I-JSON in UTF-8.
    #[error("the manifest is no strict JSON")]
    NotJson(#[source] StrictJsonError),
    /// A member is missing, unknown or of another type.
    #[error("the manifest is not as it should be")]
    Members(#[source] MemberError),
    /// A format that is not known here.
    #[error("an archive of format {0} is not known here; it may need a newer program")]
    Format(u64),
    /// The sizes contradict each other.
    #[error("the manifest goes from size {from} to size {to}")]
    Sizes {
        /// Where it says that the archive begins.
        from: u64,
        /// Where it says that the archive ends.
        to: u64,
    },
    /// It cannot be written.
    #[error("the manifest has no canonical form")]
    Canonical(#[source] CanonicalError),
}

/// How many of each there are.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Counts {
    /// Entries.
    pub entries: u64,
    /// Records.
    pub records: u64,
    /// Disclosures that are left.
    pub disclosures: u64,
    /// Checkpoints.
    pub checkpoints: u64,
}

/// What an archive says that it holds.
///
/// ```
/// use domain::ledger::archive::{Counts, Manifest};
/// let manifest = Manifest {
///     laboratory: "019ca869-5000-76a3-a0ec-7b3041d8cea3".parse()?,
///     log: 1,
///     from: 0,
///     to: 8,
///     counts: Counts { entries: 8, records: 15, disclosures: 8, checkpoints: 4 },
/// };
/// let bytes = manifest.to_bytes()?;
/// assert!(bytes.ends_with(br#""format":1,"from":0,"laboratory":"019ca869-5000-76a3-a0ec-7b3041d8cea3","log":1,"to":8}"#));
/// assert_eq!(Manifest::parse(&bytes)?, manifest);
/// assert!(Manifest::parse(br#"{"format":2}"#).is_err());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Manifest {
    /// The laboratory.
    pub laboratory: LaboratoryId,
    /// The number of its log.
    pub log: u64,
    /// The size of the log where the archive begins: the index of its first entry.
    pub from: u64,
    /// The size of the log where the archive ends.
    pub to: u64,
    /// How many of each there are.
    pub counts: Counts,
}

impl Manifest {
    /// Reads a manifest.
    ///
    /// # Errors
    /// [`ManifestError`].
    pub fn parse(bytes: &[u8]) -> Result<Self, ManifestError> {
        let value = strict_json::read(bytes).map_err(ManifestError::NotJson)?;
        // Another format may have other members, so it is looked at before them.
        if let Some(format) = value.get("format").and_then(Value::as_u64)
            && format != FORMAT
        {
            return Err(ManifestError::Format(format));
        }
        let manifest = read(&value).map_err(ManifestError::Members)?;
        let (from, to) = (manifest.from, manifest.to);
        if from > to || to.saturating_sub(from) != manifest.counts.entries {
            return Err(ManifestError::Sizes { from, to });
        }
        Ok(manifest)
    }

    /// The manifest's canonical bytes.
    ///
    /// # Errors
    /// [`ManifestError::Canonical`].
    pub fn to_bytes(&self) -> Result<Vec<u8>, ManifestError> {
        let counts = self.counts;
        let value = json!({
            "counts": {
                "checkpoints": counts.checkpoints,
                "disclosures": counts.disclosures,
                "entries": counts.entries,
                "records": counts.records,
            },
            "format": FORMAT,
            "from": self.from,
            "laboratory": self.laboratory.to_string(),
            "log": self.log,
            "to": self.to,
        });
        canonical::to_bytes(&value).map_err(ManifestError::Canonical)
    }
}

fn read(value: &Value) -> Result<Manifest, MemberError> {
    const REQUIRED: [&str; 6] = ["counts", "format", "from", "laboratory", "log", "to"];
    const COUNTED: [&str; 4] = ["checkpoints", "disclosures", "entries", "records"];
    let members = Members::new(value, &REQUIRED, &[])?;
    members.whole("format")?;
    let counts = Members::new(members.get("counts").unwrap_or(&Value::Null), &COUNTED, &[])?;
    Ok(Manifest {
        laboratory: members.id("laboratory")?.into(),
        log: members.whole("log")?,
        from: members.whole("from")?,
        to: members.whole("to")?,
        counts: Counts {
            entries: counts.whole("entries")?,
            records: counts.whole("records")?,
            disclosures: counts.whole("disclosures")?,
            checkpoints: counts.whole("checkpoints")?,
        },
    })
}
