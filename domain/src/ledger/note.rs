//! Signed notes and their keys (C2SP signed-note, tlog-cosignature), with Ed25519.
//!
//! Promises that a line of a known key that fails spoils the whole note, and that lines of unknown
//! keys count for nothing. Refuses notes without a signature line, control characters other than
//! line ends, and base64 that is not in its one form.

use super::hash::Hash;
use super::key::{PublicKey, SecretKey};
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;

/// The most signature lines of a note that is read; the standard asks for at least 16.
pub const MOST_SIGNATURES: usize = 100;

/// Why a note or a key is refused.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NoteError {
    /// The key is not `name+id+key` of a kind that is known here.
    #[error("not a verifier key (name, id and Ed25519 key, joined by +)")]
    VerifierKey,
    /// A key's name is empty or has white space, a plus or a control character.
    #[error("a key's name has no white space and no +")]
    Name,
    /// The note is not a text, an empty line and signature lines.
    #[error("not a signed note: {0}")]
    Form(&'static str),
    /// A line of a known key does not verify.
    #[error("the signature of {0} is false")]
    FalseSignature(String),
    /// No line is of a known key.
    #[error("no signature by a known key")]
    NoKnownKey,
}

/// What a key signs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum KeyUse {
    /// The note itself (type 0x01): the log's own signature.
    Note,
    /// A time and the note (type 0x04): a witness's cosignature.
    Cosignature,
}

impl KeyUse {
    const fn type_byte(self) -> u8 {
        match self {
            Self::Note => 0x01,
            Self::Cosignature => 0x04,
        }
    }
}

/// A key that signs notes, by its name.
///
/// ```
/// use domain::ledger::note::VerifierKey;
/// // the key of the example in C2SP signed-note
/// let text = "example.com/foo+530d903a+AekyeRrm56hApGFkyQR4ZCbV54Id2LKaANYcrnKv3U2k";
/// let key = VerifierKey::parse(text)?;
/// assert_eq!((key.name(), key.to_string().as_str()), ("example.com/foo", text));
/// assert!(VerifierKey::parse(&text.replace("530d903a", "530d903b")).is_err());
/// # Ok::<(), domain::ledger::note::NoteError>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct VerifierKey {
    name: String,
    id: [u8; 4],
    used_for: KeyUse,
    key: PublicKey,
}

fn check_name(name: &str) -> Result<(), NoteError> {
    let refused = |c: char| c == '+' || c.is_whitespace() || c.is_control();
    if name.is_empty() || name.contains(refused) {
        Err(NoteError::Name)
    } else {
        Ok(())
    }
}

fn key_id(name: &str, typed_key: &[u8]) -> [u8; 4] {
    let mut input = Vec::with_capacity(name.len() + 34);
    input.extend_from_slice(name.as_bytes());
    input.push(b'\n');
    input.extend_from_slice(typed_key);
    let [a, b, c, d, ..] = Hash::of(&input).0;
    [a, b, c, d]
}

impl VerifierKey {
    /// Names a key.
    ///
    /// # Errors
    /// [`NoteError::Name`].
    pub fn new(name: &str, used_for: KeyUse, key: PublicKey) -> Result<Self, NoteError> {
        check_name(name)?;
        let id = key_id(name, &typed(used_for, &key));
        Ok(Self {
            name: name.to_owned(),
            id,
            used_for,
            key,
        })
    }

    /// Reads `name+hex(id)+base64(type || key)`.
    ///
    /// # Errors
    /// [`NoteError`]; also where the id is not that of name and key.
    pub fn parse(text: &str) -> Result<Self, NoteError> {
        let mut parts = text.splitn(3, '+');
        let (Some(name), Some(id), Some(key)) = (parts.next(), parts.next(), parts.next()) else {
            return Err(NoteError::VerifierKey);
        };
        let bytes = STANDARD.decode(key).ok().ok_or(NoteError::VerifierKey)?;
        let (used_for, key) = match bytes.split_first() {
            Some((0x01, key)) => (KeyUse::Note, key),
            Some((0x04, key)) => (KeyUse::Cosignature, key),
            _ => return Err(NoteError::VerifierKey),
        };
        let key = PublicKey::from_bytes(key)
            .ok()
            .ok_or(NoteError::VerifierKey)?;
        let read = Self::new(name, used_for, key)?;
        if read.id_text() == id {
            Ok(read)
        } else {
            Err(NoteError::VerifierKey)
        }
    }

    /// The key's name.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// What it signs.
    #[must_use]
    pub const fn used_for(&self) -> KeyUse {
        self.used_for
    }

    /// The key without its name.
    #[must_use]
    pub const fn public(&self) -> &PublicKey {
        &self.key
    }

    fn id_text(&self) -> String {
        self.id.iter().map(|byte| format!("{byte:02x}")).collect()
    }
}

fn typed(used_for: KeyUse, key: &PublicKey) -> Vec<u8> {
    let mut bytes = vec![used_for.type_byte()];
    bytes.extend_from_slice(key.as_bytes());
    bytes
}

impl std::fmt::Display for VerifierKey {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let key = STANDARD.encode(typed(self.used_for, &self.key));
        write!(f, "{}+{}+{key}", self.name, self.id_text())
    }
}

/// A note taken apart; not yet verified.
///
/// ```
/// use domain::ledger::{note::{self, KeyUse, Note, VerifierKey}, SecretKey};
/// let secret = SecretKey::from_seed(&[7; 32]);
/// let key = VerifierKey::new("lab.example/log", KeyUse::Note, secret.public().clone())?;
/// let text = "lab.example/log\n0\n47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU=\n";
/// let signed = note::sign(text, "lab.example/log", &secret)?;
/// assert_eq!(Note::parse(&signed)?.verify(&[&key])?.len(), 1);
/// assert!(Note::parse(&signed.replace("\n0\n", "\n1\n"))?.verify(&[&key]).is_err());
/// # Ok::<(), domain::ledger::note::NoteError>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Note<'a> {
    text: &'a str,
    signatures: Vec<(&'a str, Vec<u8>)>,
}

/// A line of a known key that verified.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct VerifiedLine {
    /// The key's text, by which it can be told from all others.
    pub key: String,
    /// The time of a cosignature, in POSIX seconds.
    pub cosigned_at: Option<u64>,
}

impl<'a> Note<'a> {
    /// Takes a signed note apart.
    ///
    /// # Errors
    /// [`NoteError::Form`] or [`NoteError::Name`].
    pub fn parse(note: &'a str) -> Result<Self, NoteError> {
        if note
            .bytes()
            .any(|byte| (byte < 0x20 && byte != b'\n') || byte == 0x7f)
        {
            return Err(NoteError::Form("it has control characters"));
        }
        let (before, lines) = note
            .rsplit_once("\n\n")
            .ok_or(NoteError::Form("it has no empty line"))?;
        let text = note
            .get(..before.len() + 1)
            .ok_or(NoteError::Form("it has no empty line"))?;
        let lines = lines
            .strip_suffix('\n')
            .ok_or(NoteError::Form("it does not end with a signature line"))?;
        let signatures = lines
            .split('\n')
            .map(parse_line)
            .collect::<Result<Vec<_>, _>>()?;
        if signatures.len() > MOST_SIGNATURES {
            return Err(NoteError::Form("it has too many signature lines"));
        }
        Ok(Self { text, signatures })
    }

    /// The signed text, with its last line end.
    #[must_use]
    pub const fn text(&self) -> &'a str {
        self.text
    }

    /// Checks every line of a known key; at least one must be there.
    ///
    /// # Errors
    /// [`NoteError::FalseSignature`] or [`NoteError::NoKnownKey`].
    pub fn verify(&self, known: &[&VerifierKey]) -> Result<Vec<VerifiedLine>, NoteError> {
        let verified = self.verify_any(known)?;
        if verified.is_empty() {
            Err(NoteError::NoKnownKey)
        } else {
            Ok(verified)
        }
    }

    /// Checks every line of a known key; none needs to be there.
    ///
    /// # Errors
    /// [`NoteError::FalseSignature`].
    pub fn verify_any(&self, known: &[&VerifierKey]) -> Result<Vec<VerifiedLine>, NoteError> {
        let mut verified: Vec<VerifiedLine> = Vec::new();
        for (name, bytes) in &self.signatures {
            let Some((id, signature)) = bytes.split_first_chunk::<4>() else {
                continue;
            };
            for key in known
                .iter()
                .filter(|key| key.name == *name && key.id == *id)
            {
                let cosigned_at = self
                    .check(key, signature)
                    .ok_or_else(|| NoteError::FalseSignature((*name).to_owned()))?;
                let line = VerifiedLine {
                    key: key.to_string(),
                    cosigned_at,
                };
                if !verified.iter().any(|other| other.key == line.key) {
                    verified.push(line);
                }
            }
        }
        Ok(verified)
    }

    /// None where the signature is false; inside, the time of a cosignature.
    fn check(&self, key: &VerifierKey, signature: &[u8]) -> Option<Option<u64>> {
        match key.used_for {
            KeyUse::Note => {
                key.key.verify(self.text.as_bytes(), signature).ok()?;
                Some(None)
            }
            KeyUse::Cosignature => {
                let (time, signature) = signature.split_first_chunk::<8>()?;
                let time = u64::from_be_bytes(*time);
                let message = cosigned_message(self.text, time);
                key.key.verify(message.as_bytes(), signature).ok()?;
                Some(Some(time))
            }
        }
    }
}

fn parse_line(line: &str) -> Result<(&str, Vec<u8>), NoteError> {
    let (name, signature) = line
        .strip_prefix("\u{2014} ")
        .and_then(|rest| rest.split_once(' '))
        .ok_or(NoteError::Form(
            "a signature line has a dash, a name and a signature",
        ))?;
    check_name(name)?;
    let bytes = STANDARD
        .decode(signature)
        .ok()
        .filter(|bytes| bytes.len() > 4)
        .ok_or(NoteError::Form(
            "a signature is not base64 of key id and signature",
        ))?;
    Ok((name, bytes))
}

/// What a witness signs (cosignature/v1).
///
/// ```
/// use domain::ledger::note::cosigned_message;
/// assert_eq!(cosigned_message("text\n", 7), "cosignature/v1\ntime 7\ntext\n");
/// ```
#[must_use]
pub fn cosigned_message(text: &str, time: u64) -> String {
    format!("cosignature/v1\ntime {time}\n{text}")
}

/// Signs a text as a note of one key.
///
/// # Errors
/// [`NoteError`], for a text that does not end with a line end or has control characters.
pub fn sign(text: &str, name: &str, secret: &SecretKey) -> Result<String, NoteError> {
    let line = signature_line(text, name, secret)?;
    Ok(format!("{text}\n{line}"))
}

/// The signature line of one more key on a note's text.
///
/// # Errors
/// As [`sign`].
pub fn signature_line(text: &str, name: &str, secret: &SecretKey) -> Result<String, NoteError> {
    if !text.ends_with('\n') {
        return Err(NoteError::Form("the text does not end with a line end"));
    }
    if text.chars().any(|c| c.is_ascii_control() && c != '\n') {
        return Err(NoteError::Form("it has control characters"));
    }
    let key = VerifierKey::new(name, KeyUse::Note, secret.public().clone())?;
    let mut bytes = key.id.to_vec();
    bytes.extend_from_slice(&secret.sign(text.as_bytes()));
    Ok(format!("\u{2014} {name} {}\n", STANDARD.encode(bytes)))
}

/// The line with which a witness cosigns a note's text at a time in POSIX seconds.
///
/// # Errors
/// [`NoteError::Name`].
pub fn cosignature_line(
    text: &str,
    time: u64,
    name: &str,
    secret: &SecretKey,
) -> Result<String, NoteError> {
    let key = VerifierKey::new(name, KeyUse::Cosignature, secret.public().clone())?;
    let mut bytes = key.id.to_vec();
    bytes.extend_from_slice(&time.to_be_bytes());
    bytes.extend_from_slice(&secret.sign(cosigned_message(text, time).as_bytes()));
    Ok(format!("\u{2014} {name} {}\n", STANDARD.encode(bytes)))
}
