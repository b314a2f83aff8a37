//! A record: one version of one subject, as canonical bytes, and its hash.
//!
//! Promises that the same facts always have the same bytes; refuses a first version that claims a
//! predecessor, a later one without, and content that has no recorded form.

use super::canonical::{self, CanonicalError};
use super::hash::Hash;
use super::members::{MemberError, Members, is_kebab_case};
use crate::id::{ActId, LaboratoryId};
use serde_json::Value;
use uuid::Uuid;

/// Why a record cannot be written or read.
#[derive(Debug, thiserror::Error)]
pub enum RecordError {
    /// Version 1 with a predecessor's hash, or another version without one, or version 0.
    #[error("version {0} does not go with what is said of the version before")]
    Previous(u64),
    /// Kinds are lower-case words with hyphens between them.
    #[error("\"{0}\" is no kind of record")]
    Kind(String),
    /// Content is a JSON object.
    #[error("the content of a record is a JSON object")]
    Content,
    /// The content has no recorded form, or the bytes are not canonical.
    #[error("the record has no canonical form")]
    Canonical(#[source] CanonicalError),
    /// The envelope is not the one written here.
    #[error("the envelope of the record is not as it should be")]
    Envelope(#[source] MemberError),
}

/// What a record is made from; borrowed, so that nothing is copied but into the bytes.
///
/// ```
/// use domain::ledger::RecordDraft;
/// let content = serde_json::json!({"code": "S-0007", "commodity": "maize-grain"});
/// let draft = RecordDraft {
///     act: "019ca869-5bb8-7440-8d28-d704af2ddd48".parse()?,
///     laboratory: "019ca869-5000-76a3-a0ec-7b3041d8cea3".parse()?,
///     kind: "sample",
///     schema: 1,
///     subject: "019ca869-5003-7d46-b59c-6cf85cca57e4".parse()?,
///     version: 1,
///     previous: None,
///     content: &content,
/// };
/// let sealed = draft.seal()?;
/// assert!(sealed.text.contains(r#","content":{"code":"S-0007","commodity":"maize-grain"},"#));
/// assert!(RecordDraft { version: 2, ..draft }.seal().is_err()); // no hash of version 1
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, Copy)]
pub struct RecordDraft<'a> {
    /// The act that records it.
    pub act: ActId,
    /// The laboratory.
    pub laboratory: LaboratoryId,
    /// What kind of thing the subject is, such as `run`.
    pub kind: &'a str,
    /// The version of the content's form for this kind, from 1.
    pub schema: u64,
    /// The thing that the record is of.
    pub subject: Uuid,
    /// The version of the subject, from 1 without a gap.
    pub version: u64,
    /// The hash of the version before; none for version 1.
    pub previous: Option<Hash>,
    /// The whole state of this version; null members are left out.
    pub content: &'a Value,
}

/// A record's canonical bytes with their hash.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SealedRecord {
    /// The canonical JSON text; its UTF-8 bytes are what is hashed.
    pub text: String,
    /// SHA-256(0x00 || bytes): the record's leaf in its act.
    pub hash: Hash,
}

impl RecordDraft<'_> {
    /// Writes the canonical bytes and hashes them.
    ///
    /// # Errors
    /// [`RecordError`]; nothing is left behind.
    pub fn seal(&self) -> Result<SealedRecord, RecordError> {
        let mut out = Vec::with_capacity(1024);
        let hash = self.seal_onto(&mut out)?;
        // The writer appends whole texts and ASCII only, so this is a check without a copy.
        let text = String::from_utf8(out)
            .ok()
            .ok_or(RecordError::Canonical(CanonicalError::NotCanonical))?;
        Ok(SealedRecord { text, hash })
    }

    /// Appends the canonical bytes to those of other records, and hashes them.
    ///
    /// # Errors
    /// [`RecordError`]; then nothing was appended.
    ///
    /// ```
    /// use domain::ledger::RecordDraft;
    /// let content = serde_json::json!({"code": "S-0007"});
    /// let draft = RecordDraft {
    ///     act: "019ca869-5bb8-7440-8d28-d704af2ddd48".parse()?,
    ///     laboratory: "019ca869-5000-76a3-a0ec-7b3041d8cea3".parse()?,
    ///     kind: "sample",
    ///     schema: 1,
    ///     subject: "019ca869-5003-7d46-b59c-6cf85cca57e4".parse()?,
    ///     version: 1,
    ///     previous: None,
    ///     content: &content,
    /// };
    /// let mut lines = b"the record before\n".to_vec();
    /// let hash = draft.seal_onto(&mut lines)?;
    /// assert_eq!(hash, draft.seal()?.hash);
    /// assert!(lines.ends_with(draft.seal()?.text.as_bytes()));
    /// assert!(RecordDraft { version: 2, ..draft }.seal_onto(&mut lines).is_err());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn seal_onto(&self, out: &mut Vec<u8>) -> Result<Hash, RecordError> {
        check_previous(self.version, self.previous)?;
        if !is_kebab_case(self.kind) {
            return Err(RecordError::Kind(self.kind.to_owned()));
        }
        if !self.content.is_object() {
            return Err(RecordError::Content);
        }
        let before = out.len();
        let written = self.write(out).map_err(RecordError::Canonical);
        if written.is_err() {
            out.truncate(before);
        }
        written?;
        Ok(Hash::of_leaf(out.get(before..).unwrap_or_default()))
    }

    /// The members stand in canonical order: act, content, kind, laboratory, previous, schema,
    /// subject, version.
    fn write(&self, out: &mut Vec<u8>) -> Result<(), CanonicalError> {
        let mut buffer = Uuid::encode_buffer();
        out.extend_from_slice(br#"{"act":""#);
        out.extend_from_slice(self.act.0.hyphenated().encode_lower(&mut buffer).as_bytes());
        out.extend_from_slice(br#"","content":"#);
        canonical::write_recorded(self.content, out)?;
        out.extend_from_slice(br#","kind":""#);
        out.extend_from_slice(self.kind.as_bytes());
        out.extend_from_slice(br#"","laboratory":""#);
        out.extend_from_slice(
            self.laboratory
                .0
                .hyphenated()
                .encode_lower(&mut buffer)
                .as_bytes(),
        );
        if let Some(previous) = self.previous {
            out.extend_from_slice(br#"","previous":""#);
            out.extend_from_slice(previous.to_string().as_bytes());
        }
        out.extend_from_slice(br#"","schema":"#);
        canonical::write_whole(self.schema, out);
        out.extend_from_slice(br#","subject":""#);
        out.extend_from_slice(
            self.subject
                .hyphenated()
                .encode_lower(&mut buffer)
                .as_bytes(),
        );
        out.extend_from_slice(br#"","version":"#);
        canonical::write_whole(self.version, out);
        out.push(b'}');
        Ok(())
    }
}

/// A record that was read from its canonical bytes.
///
/// ```
/// use domain::ledger::Record;
/// let text = concat!(
///     r#"{"act":"019ca869-5bb8-7440-8d28-d704af2ddd48","content":{"code":"S-0007"},"#,
///     r#""kind":"sample","laboratory":"019ca869-5000-76a3-a0ec-7b3041d8cea3","schema":1,"#,
///     r#""subject":"019ca869-5003-7d46-b59c-6cf85cca57e4","version":1}"#,
/// );
/// let record = Record::parse(text.as_bytes())?;
/// assert_eq!(record.kind, "sample");
/// assert_eq!(record.content["code"], "S-0007");
/// assert!(Record::parse(text.replace(':', ": ").as_bytes()).is_err());
/// # Ok::<(), domain::ledger::record::RecordError>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Record {
    /// The act that recorded it.
    pub act: ActId,
    /// The laboratory.
    pub laboratory: LaboratoryId,
    /// What kind of thing the subject is.
    pub kind: String,
    /// The version of the content's form.
    pub schema: u64,
    /// The thing that the record is of.
    pub subject: Uuid,
    /// The version of the subject.
    pub version: u64,
    /// The hash of the version before.
    pub previous: Option<Hash>,
    /// The state of this version.
    pub content: Value,
    /// The record's hash, computed from the bytes read.
    pub hash: Hash,
}

impl Record {
    /// Reads canonical bytes, and refuses all others.
    ///
    /// # Errors
    /// [`RecordError`].
    pub fn parse(bytes: &[u8]) -> Result<Self, RecordError> {
        let mut value = canonical::read(bytes).map_err(RecordError::Canonical)?;
        let envelope = Envelope::read(&value).map_err(RecordError::Envelope)?;
        check_previous(envelope.version, envelope.previous)?;
        if !is_kebab_case(&envelope.kind) {
            return Err(RecordError::Kind(envelope.kind));
        }
        let content = value.get_mut("content").map(Value::take);
        let content = content
            .filter(Value::is_object)
            .ok_or(RecordError::Content)?;
        Ok(Self {
            act: envelope.act.into(),
            laboratory: envelope.laboratory.into(),
            kind: envelope.kind,
            schema: envelope.schema,
            subject: envelope.subject,
            version: envelope.version,
            previous: envelope.previous,
            content,
            hash: Hash::of_leaf(bytes),
        })
    }
}

struct Envelope {
    act: Uuid,
    laboratory: Uuid,
    kind: String,
    schema: u64,
    subject: Uuid,
    version: u64,
    previous: Option<Hash>,
}

impl Envelope {
    fn read(value: &Value) -> Result<Self, MemberError> {
        const REQUIRED: [&str; 7] = [
            "act",
            "content",
            "kind",
            "laboratory",
            "schema",
            "subject",
            "version",
        ];
        let members = Members::new(value, &REQUIRED, &["previous"])?;
        Ok(Self {
            act: members.id("act")?,
            laboratory: members.id("laboratory")?,
            kind: members.text("kind")?.to_owned(),
            schema: members.whole("schema")?,
            subject: members.id("subject")?,
            version: members.whole("version")?,
            previous: members.optional("previous", Members::hash)?,
        })
    }
}

fn check_previous(version: u64, previous: Option<Hash>) -> Result<(), RecordError> {
    match (version, previous) {
        (0, _) | (1, Some(_)) | (2.., None) => Err(RecordError::Previous(version)),
        (1, None) | (2.., Some(_)) => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    #![expect(clippy::unwrap_used, reason = "a test may unwrap")]
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn the_envelope_has_the_bytes_of_an_independent_writer(
            ids in any::<[u128; 3]>(),
            schema in 1..1_000_u64,
            version in 1..=canonical::LARGEST_WHOLE_NUMBER,
            previous in any::<[u8; 32]>(),
            code in "[^\\p{Cc}]{0,12}",
        ) {
            let [act, laboratory, subject] = ids.map(Uuid::from_u128);
            let previous = (version > 1).then_some(Hash(previous));
            let content = serde_json::json!({"code": code, "count": version});
            let sealed = RecordDraft {
                act: act.into(), laboratory: laboratory.into(), kind: "kit-lot", schema, subject,
                version, previous, content: &content,
            }.seal().unwrap();
            let mut expected = serde_json::json!({
                "act": act.to_string(), "content": content, "kind": "kit-lot",
                "laboratory": laboratory.to_string(), "schema": schema,
                "subject": subject.to_string(), "version": version,
            });
            if let Some(hash) = previous {
                let text = hash.to_string().into();
                expected.as_object_mut().unwrap().insert("previous".into(), text);
            }
            let expected = serde_json_canonicalizer::to_string(&expected).unwrap();
            prop_assert_eq!(&sealed.text, &expected);
            prop_assert_eq!(sealed.hash, Hash::of_leaf(expected.as_bytes()));
        }
    }
}
