//! The lines of an archive's files: canonical JSON objects of fixed members, one a line.
//!
//! Promises that a line that is read is the one that would be written; refuses every other form.
//! The members are looked for where they stand in canonical form, since most of a ledger's bytes
//! pass through here.

use crate::ledger::canonical::{write_text, write_whole};
use crate::ledger::members::parse_id;
use uuid::Uuid;

/// The most bytes of a line that is read: an act holds at most 256 records, and a record's content
/// is what a request can hold.
pub const LONGEST_LINE: usize = 16 * 1024 * 1024;

/// Why a line is refused.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum LineError {
    /// Not the canonical JSON object that is due.
    #[error("the line is not {0} in canonical form")]
    Form(&'static str),
}

/// A line of `entries.jsonl`.
///
/// ```
/// use domain::ledger::archive::EntryLine;
/// let line = r#"{"entry":"aGVhZA.cGF5.c2ln","index":7}"#;
/// let read = EntryLine::parse(line)?;
/// assert_eq!((read.entry, read.index), ("aGVhZA.cGF5.c2ln", 7));
/// assert_eq!(read.to_line(), line);
/// assert!(EntryLine::parse(&line.replace(":7", ":07")).is_err());
/// # Ok::<(), domain::ledger::archive::LineError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct EntryLine<'a> {
    /// The act's JWS.
    pub entry: &'a str,
    /// Its index in the log.
    pub index: u64,
}

impl<'a> EntryLine<'a> {
    /// Reads a line, without its end.
    ///
    /// # Errors
    /// [`LineError`].
    pub fn parse(line: &'a str) -> Result<Self, LineError> {
        let read = || {
            let rest = line.strip_prefix(r#"{"entry":""#)?;
            let (entry, rest) = rest.split_once('"')?;
            let index = rest.strip_prefix(r#","index":"#)?.strip_suffix('}')?;
            let plain = entry
                .bytes()
                .all(|byte| byte.is_ascii_alphanumeric() || matches!(byte, b'-' | b'_' | b'.'));
            plain.then_some(())?;
            Some(Self {
                entry,
                index: whole(index)?,
            })
        };
        read().ok_or(LineError::Form(r#"{"entry":"<JWS>","index":<number>}"#))
    }

    /// The line, without its end.
    #[must_use]
    pub fn to_line(&self) -> String {
        format!(r#"{{"entry":"{}","index":{}}}"#, self.entry, self.index)
    }

    /// The act that the entry says it is, to find its records by; nothing is checked here.
    ///
    /// ```
    /// use domain::ledger::archive::EntryLine;
    /// let line = EntryLine { entry: "e30.eyJhY3QiOiIwMTljYTg2OS01M2U4LTdkMGUtYmRjOC0zMWNmNTYwNzhlZTEiLCJh.x", index: 0 };
    /// assert_eq!(line.act().unwrap().to_string(), "019ca869-53e8-7d0e-bdc8-31cf56078ee1");
    /// assert!(EntryLine { entry: "a.b.c", index: 0 }.act().is_none());
    /// ```
    #[must_use]
    pub fn act(&self) -> Option<Uuid> {
        use base64::Engine as _;
        use base64::engine::general_purpose::URL_SAFE_NO_PAD;
        let (_, payload) = self.entry.split_once('.')?;
        // 60 characters are the first 45 bytes: `{"act":"`, the id and its quotation mark.
        let start = URL_SAFE_NO_PAD.decode(payload.get(..60)?).ok()?;
        let start = std::str::from_utf8(&start).ok()?;
        parse_id(start.strip_prefix(r#"{"act":""#)?.strip_suffix('"')?)
    }
}

/// A line of `records.jsonl`.
///
/// ```
/// use domain::ledger::archive::RecordLine;
/// let line = r#"{"act":"019ca869-53e8-7d0e-bdc8-31cf56078ee1","position":0,"record":"{\"a\":\"\\\\\"}"}"#;
/// let read = RecordLine::parse(line)?;
/// assert_eq!(read.record, r#"{"a":"\\"}"#);
/// assert_eq!(read.to_line(), line);
/// assert!(RecordLine::parse(&line.replace(r#""{\"#, r#""{\u0022"#)).is_err());
/// # Ok::<(), domain::ledger::archive::LineError>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RecordLine {
    /// The act that holds the record.
    pub act: Uuid,
    /// Its place in the act, from 0.
    pub position: u64,
    /// The record's canonical text.
    pub record: String,
}

impl RecordLine {
    /// Reads a line, without its end.
    ///
    /// # Errors
    /// [`LineError`].
    pub fn parse(line: &str) -> Result<Self, LineError> {
        let read = || {
            let rest = line.strip_prefix(r#"{"act":""#)?;
            let (act, rest) = rest.split_at_checked(36)?;
            let rest = rest.strip_prefix(r#"","position":"#)?;
            let (position, rest) = rest.split_once(',')?;
            let text = rest.strip_prefix(r#""record":"#)?.strip_suffix('}')?;
            Some(Self {
                act: parse_id(act)?,
                position: whole(position)?,
                record: canonical_text(text)?,
            })
        };
        read().ok_or(LineError::Form(
            r#"{"act":"<id>","position":<number>,"record":"<text>"}"#,
        ))
    }

    /// The act that the line names, to find its entry by; the rest is not looked at.
    #[must_use]
    pub fn act_of(line: &str) -> Option<Uuid> {
        parse_id(line.strip_prefix(r#"{"act":""#)?.get(..36)?)
    }

    /// The line, without its end.
    #[must_use]
    pub fn to_line(&self) -> String {
        let mut out = format!(r#"{{"act":"{}","position":"#, self.act).into_bytes();
        write_whole(self.position, &mut out);
        out.extend_from_slice(br#","record":"#);
        write_text(&self.record, &mut out);
        out.push(b'}');
        String::from_utf8_lossy(&out).into_owned()
    }
}

/// A line of `disclosures.jsonl`.
///
/// ```
/// use domain::ledger::archive::DisclosureLine;
/// let line = r#"{"digest":"Gqde56","disclosure":"WyJCUTV5"}"#;
/// let read = DisclosureLine::parse(line)?;
/// assert_eq!((read.digest, read.disclosure), ("Gqde56", "WyJCUTV5"));
/// assert_eq!(read.to_line(), line);
/// assert!(DisclosureLine::parse("{}").is_err());
/// # Ok::<(), domain::ledger::archive::LineError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct DisclosureLine<'a> {
    /// The digest as it stands in an `_sd`.
    pub digest: &'a str,
    /// The disclosure's encoded text.
    pub disclosure: &'a str,
}

impl<'a> DisclosureLine<'a> {
    /// Reads a line, without its end.
    ///
    /// # Errors
    /// [`LineError`].
    pub fn parse(line: &'a str) -> Result<Self, LineError> {
        let read = || {
            let rest = line.strip_prefix(r#"{"digest":""#)?;
            let (digest, rest) = rest.split_once('"')?;
            let rest = rest.strip_prefix(r#","disclosure":""#)?;
            let disclosure = rest.strip_suffix(r#""}"#)?;
            let plain = |text: &str| {
                text.bytes()
                    .all(|byte| byte.is_ascii_alphanumeric() || matches!(byte, b'-' | b'_'))
            };
            (plain(digest) && plain(disclosure)).then_some(Self { digest, disclosure })
        };
        read().ok_or(LineError::Form(
            r#"{"digest":"<digest>","disclosure":"<text>"}"#,
        ))
    }

    /// The line, without its end.
    #[must_use]
    pub fn to_line(&self) -> String {
        format!(
            r#"{{"digest":"{}","disclosure":"{}"}}"#,
            self.digest, self.disclosure
        )
    }
}

fn whole(text: &str) -> Option<u64> {
    crate::ledger::checkpoint::parse_decimal(text)
        .filter(|number| *number <= crate::ledger::canonical::LARGEST_WHOLE_NUMBER)
}

/// A JSON text with its quotation marks, where it is written as it would be written here.
fn canonical_text(quoted: &str) -> Option<String> {
    let text: String = serde_json::from_str(quoted).ok()?;
    let mut again = Vec::with_capacity(quoted.len());
    write_text(&text, &mut again);
    (again == quoted.as_bytes()).then_some(text)
}
