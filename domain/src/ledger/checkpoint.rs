//! Checkpoints and proof files (C2SP tlog-checkpoint, tlog-proof), and the origin of a log.
//!
//! Promises texts that any reader of those standards reads; refuses sizes with a leading zero,
//! roots that are not 32 bytes in base64, empty extension lines and proofs of another version.

use super::hash::Hash;
use super::key::SecretKey;
use super::members::parse_id;
use super::note::{self, NoteError};
use super::tree::LONGEST_PROOF;
use crate::id::LaboratoryId;
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;

/// The first line of a proof file.
pub const PROOF_VERSION: &str = "c2sp.org/tlog-proof@v1";

/// Why a checkpoint, an origin or a proof file is refused.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum CheckpointError {
    /// Not `<host>/log/<laboratory uuid>/<number>`.
    #[error("the origin is not <host>/log/<laboratory>/<number>")]
    Origin,
    /// Not origin, size and root, one a line.
    #[error("not a checkpoint: {0}")]
    Checkpoint(&'static str),
    /// Not a proof file.
    #[error("not a proof file: {0}")]
    Proof(&'static str),
    /// A proof file of another version.
    #[error("a proof file of a version that is not known here")]
    ProofVersion,
}

/// The name of a log: `<host>/log/<laboratory uuid>/<log number>`.
///
/// ```
/// use domain::ledger::checkpoint::Origin;
/// let text = "records.example/log/019ca869-5000-76a3-a0ec-7b3041d8cea3/1";
/// let origin: Origin = text.parse()?;
/// assert_eq!((origin.host.as_str(), origin.number), ("records.example", 1));
/// assert_eq!(origin.to_string(), text);
/// assert!("records.example/log/1".parse::<Origin>().is_err());
/// # Ok::<(), domain::ledger::checkpoint::CheckpointError>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Origin {
    /// The host of the public address, lower case, with its port where that is not 443.
    pub host: String,
    /// Whose log it is.
    pub laboratory: LaboratoryId,
    /// 1, or more where an earlier log could not be continued.
    pub number: u64,
}

impl std::fmt::Display for Origin {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}/log/{}/{}", self.host, self.laboratory, self.number)
    }
}

impl std::str::FromStr for Origin {
    type Err = CheckpointError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let parts: Vec<&str> = text.split('/').collect();
        let &[host, "log", laboratory, number] = parts.as_slice() else {
            return Err(CheckpointError::Origin);
        };
        let refused =
            |c: char| c == '+' || c.is_whitespace() || c.is_control() || c.is_ascii_uppercase();
        match (parse_id(laboratory), parse_decimal(number)) {
            (Some(id), Some(number))
                if number > 0 && !host.is_empty() && !host.contains(refused) =>
            {
                Ok(Self {
                    host: host.to_owned(),
                    laboratory: id.into(),
                    number,
                })
            }
            _ => Err(CheckpointError::Origin),
        }
    }
}

/// A whole number in decimal digits without a leading zero or sign.
pub(crate) fn parse_decimal(text: &str) -> Option<u64> {
    let number: u64 = text.parse().ok()?;
    (number.to_string() == text).then_some(number)
}

fn parse_hash(line: &str) -> Option<Hash> {
    let bytes = STANDARD.decode(line).ok()?;
    Hash::from_slice(&bytes).ok()
}

/// What a log says of itself: its name, size and root.
///
/// ```
/// use domain::ledger::checkpoint::Checkpoint;
/// let text = "lab.example/log\n0\n47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU=\n";
/// let checkpoint = Checkpoint::parse(text)?;
/// assert_eq!((checkpoint.size, checkpoint.to_text().as_str()), (0, text));
/// assert!(Checkpoint::parse(&text.replace("\n0\n", "\n00\n")).is_err());
/// # Ok::<(), domain::ledger::checkpoint::CheckpointError>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Checkpoint {
    /// The log's origin, its first line.
    pub origin: String,
    /// How many entries.
    pub size: u64,
    /// The root over them.
    pub root: Hash,
    /// Further lines; none is written here.
    pub extensions: Vec<String>,
}

impl Checkpoint {
    /// Reads the signed text of a checkpoint.
    ///
    /// # Errors
    /// [`CheckpointError::Checkpoint`].
    pub fn parse(text: &str) -> Result<Self, CheckpointError> {
        let refuse = CheckpointError::Checkpoint;
        let lines = text
            .strip_suffix('\n')
            .ok_or(refuse("it has no last line end"))?;
        let mut lines = lines.split('\n');
        let origin = lines.next().filter(|line| !line.is_empty());
        let origin = origin.ok_or(refuse("it has no origin"))?;
        let size = lines.next().and_then(parse_decimal);
        let root = lines.next().and_then(parse_hash);
        let extensions: Vec<String> = lines.map(str::to_owned).collect();
        if extensions.iter().any(String::is_empty) {
            return Err(refuse("an extension line is empty"));
        }
        Ok(Self {
            origin: origin.to_owned(),
            size: size.ok_or(refuse("the second line is no size"))?,
            root: root.ok_or(refuse("the third line is no root of 32 bytes"))?,
            extensions,
        })
    }

    /// The text that is signed.
    #[must_use]
    pub fn to_text(&self) -> String {
        let root = STANDARD.encode(self.root.0);
        let mut text = format!("{}\n{}\n{root}\n", self.origin, self.size);
        for line in &self.extensions {
            text.push_str(line);
            text.push('\n');
        }
        text
    }

    /// The signed note, by the log's key, whose name is the origin.
    ///
    /// # Errors
    /// [`NoteError`], for an origin that can be no key's name.
    pub fn sign(&self, key: &SecretKey) -> Result<String, NoteError> {
        note::sign(&self.to_text(), &self.origin, key)
    }
}

/// A proof file: entry index, the way to the root, and the checkpoint with that root.
///
/// ```
/// use domain::ledger::checkpoint::{ProofFile, PROOF_VERSION};
/// let text = format!("{PROOF_VERSION}\nindex 0\n\nthe checkpoint, whole\n");
/// let proof = ProofFile::parse(&text)?;
/// assert_eq!(proof.to_text(), text);
/// assert!(ProofFile::parse(&text.replace("index 0", "index 00")).is_err());
/// # Ok::<(), domain::ledger::checkpoint::CheckpointError>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ProofFile {
    /// Anything, authenticated by nobody: never to be shown.
    pub extra: Option<Vec<u8>>,
    /// The entry's index.
    pub index: u64,
    /// Sibling hashes, the leaf's first.
    pub hashes: Vec<Hash>,
    /// The signed checkpoint with its cosignatures.
    pub checkpoint: String,
}

impl ProofFile {
    /// Reads a proof file.
    ///
    /// # Errors
    /// [`CheckpointError::ProofVersion`] or [`CheckpointError::Proof`].
    pub fn parse(text: &str) -> Result<Self, CheckpointError> {
        let refuse = CheckpointError::Proof;
        let (version, rest) = text.split_once('\n').unwrap_or((text, ""));
        if version != PROOF_VERSION {
            return Err(if version.starts_with("c2sp.org/tlog-proof@") {
                CheckpointError::ProofVersion
            } else {
                refuse("its first line says something else")
            });
        }
        let (head, checkpoint) = rest
            .split_once("\n\n")
            .ok_or(refuse("it has no empty line before the checkpoint"))?;
        let mut lines = head.split('\n').peekable();
        let extra = match lines.peek().and_then(|line| line.strip_prefix("extra ")) {
            Some(extra) => {
                lines.next();
                let bytes = STANDARD.decode(extra).ok();
                Some(bytes.ok_or(refuse("extra is not base64"))?)
            }
            None => None,
        };
        let index = lines
            .next()
            .and_then(|line| line.strip_prefix("index "))
            .and_then(parse_decimal)
            .ok_or(refuse("it has no index"))?;
        let hashes: Option<Vec<Hash>> = lines.map(parse_hash).collect();
        let hashes = hashes.ok_or(refuse("a line is no hash of 32 bytes in base64"))?;
        if hashes.len() > LONGEST_PROOF {
            return Err(refuse("it has too many hashes"));
        }
        Ok(Self {
            extra,
            index,
            hashes,
            checkpoint: checkpoint.to_owned(),
        })
    }

    /// The text of the file.
    #[must_use]
    pub fn to_text(&self) -> String {
        let mut text = format!("{PROOF_VERSION}\n");
        if let Some(extra) = &self.extra {
            text.push_str(&format!("extra {}\n", STANDARD.encode(extra)));
        }
        text.push_str(&format!("index {}\n", self.index));
        for hash in &self.hashes {
            text.push_str(&STANDARD.encode(hash.0));
            text.push('\n');
        }
        text.push('\n');
        text.push_str(&self.checkpoint);
        text
    }
}
