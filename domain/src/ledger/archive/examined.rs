//! One act of an archive with its records, looked at by itself.
//!
//! Promises that nothing outside the act is needed, so that acts can be examined in any order and
//! on every core; refuses nothing, but says what does not hold.

use super::findings::{Check, Finding};
use super::lines::{EntryLine, RecordLine};
use crate::id::LaboratoryId;
use crate::ledger::act::{self, ReadAct};
use crate::ledger::disclosure::DIGESTS;
use crate::ledger::hash::Hash;
use crate::ledger::key::PublicKey;
use crate::ledger::record::Record;
use crate::ledger::trust::Trust;
use crate::ledger::verify::explain;
use crate::time::Moment;
use base64::Engine as _;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use serde_json::Value;
use uuid::Uuid;

/// What an act is held against.
#[derive(Debug, Clone, Copy)]
pub struct Expected<'a> {
    /// The laboratory of the archive.
    pub laboratory: LaboratoryId,
    /// The number of its log.
    pub log: u64,
    /// The keys to check signatures with, where there are any.
    pub trust: Option<&'a Trust>,
}

/// One version of a subject, as its record says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct VersionSeen {
    /// The subject.
    pub subject: Uuid,
    /// Its version.
    pub version: u64,
    /// Where in the act its record stands.
    pub position: u64,
    /// The hash of the record.
    pub hash: Hash,
    /// The hash of the version before, as the record names it.
    pub previous: Option<Hash>,
    /// What the record is, as far as it matters to a verifier.
    pub kind: KindSeen,
}

/// What a record is, as far as it matters to a verifier.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum KindSeen {
    /// Computed: a result.
    Result,
    /// Computed, or placed by a person: a hold.
    Hold,
    /// Entered, with figures once it is adopted: a validation of a screening method; or computed:
    /// a review of one.
    Screening,
    /// Entered.
    Entered,
}

/// A version of a key's subject.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KeySeen {
    /// The key's subject.
    pub subject: Uuid,
    /// Its version.
    pub version: u64,
    /// The key.
    pub key: PublicKey,
    /// Whether it signs acts; else checkpoints.
    pub signs_acts: bool,
}

/// What was seen of one act.
#[derive(Debug, Clone)]
pub struct Examined {
    /// The entry's index, as its line says.
    pub index: Option<u64>,
    /// The leaf of the entry.
    pub leaf: Option<Hash>,
    /// The act, where the entry is one.
    pub act: Option<Uuid>,
    /// When it says that it was done.
    pub time: Option<Moment>,
    /// The key that it names.
    pub kid: Option<String>,
    /// Its records, in their order.
    pub versions: Vec<VersionSeen>,
    /// Digests in its records and its reason.
    pub digests: Vec<[u8; 32]>,
    /// Keys announced or withdrawn.
    pub keys: Vec<KeySeen>,
    /// What does not hold.
    pub findings: Vec<Finding>,
}

/// Looks at one act: a line of `entries.jsonl`, the `number` of that line from 1, and the lines of
/// its records.
///
/// ```
/// use domain::ledger::archive::{Check, Expected, examine};
/// let laboratory = "019ca869-5000-76a3-a0ec-7b3041d8cea3".parse()?;
/// let expected = Expected { laboratory, log: 1, trust: None };
/// let seen = examine(&expected, 3, r#"{"entry":"a.b.c","index":2}"#, &[]);
/// assert_eq!((seen.index, seen.findings[0].check), (Some(2), Check::Acts));
/// assert!(seen.findings[0].text.starts_with("entry 2: "));
/// # Ok::<(), uuid::Error>(())
/// ```
#[must_use]
pub fn examine(expected: &Expected<'_>, number: u64, entry: &str, records: &[&str]) -> Examined {
    let mut seen = Examined {
        index: None,
        leaf: None,
        act: None,
        time: None,
        kid: None,
        versions: Vec::with_capacity(records.len()),
        digests: Vec::new(),
        keys: Vec::new(),
        findings: Vec::new(),
    };
    let line = match EntryLine::parse(entry) {
        Ok(line) => line,
        Err(error) => {
            seen.find(
                Check::Entries,
                format!("line {number} of entries.jsonl: {error}"),
            );
            return seen;
        }
    };
    seen.index = Some(line.index);
    seen.leaf = Some(Hash::of_leaf(line.entry.as_bytes()));
    let place = format!("entry {}", line.index);
    let read = ReadAct::parse(line.entry);
    let id = match &read {
        Ok(read) => Some(read.act.id.0),
        Err(error) => {
            seen.find(Check::Acts, format!("{place}: {}", explain(error)));
            line.act()
        }
    };
    let hashes: Vec<Hash> = records
        .iter()
        .zip(0_u64..)
        .filter_map(|(record, position)| seen.record(expected, &place, id, record, position))
        .collect();
    if let Ok(read) = &read {
        seen.act = Some(read.act.id.0);
        seen.time = Some(read.act.time);
        seen.kid = Some(read.kid.clone());
        seen.act(expected, &place, read, records.len(), &hashes);
        seen.signature(expected, line.index, read);
    }
    seen
}

impl Examined {
    fn find(&mut self, check: Check, text: String) {
        self.findings.push(Finding::new(check, text));
    }

    fn act(
        &mut self,
        expected: &Expected<'_>,
        place: &str,
        read: &ReadAct<'_>,
        lines: usize,
        hashes: &[Hash],
    ) {
        let act = &read.act;
        let name = format!("{place}, act {}", act.id);
        if act.laboratory != expected.laboratory {
            let text = format!("{name}: it is of laboratory {}", act.laboratory);
            self.find(Check::Acts, text);
        }
        if u64::try_from(lines) != Ok(act.records) {
            let said = act.records;
            let text = format!("{name}: it says that it holds {said} records; {lines} are here");
            self.find(Check::Acts, text);
        } else if hashes.len() == lines && act::root(hashes).ok() != Some(act.root) {
            let text = format!("{name}: its root is not that of its records");
            self.find(Check::Acts, text);
        }
        let reason = act.reason.iter().flat_map(|reason| reason.digests.iter());
        self.digests.extend(reason.filter_map(|text| decoded(text)));
    }

    /// Reads one record; its hash, where it is one.
    fn record(
        &mut self,
        expected: &Expected<'_>,
        place: &str,
        act: Option<Uuid>,
        line: &str,
        position: u64,
    ) -> Option<Hash> {
        let place = format!("{place}, record {position}");
        let line = match RecordLine::parse(line) {
            Ok(line) => line,
            Err(error) => {
                self.find(Check::Records, format!("{place}: {error}"));
                return None;
            }
        };
        if line.position != position {
            let text = format!("{place}: its line says that it is number {}", line.position);
            self.find(Check::Records, text);
        }
        let record = match Record::parse(line.record.as_bytes()) {
            Ok(record) => record,
            Err(error) => {
                self.find(Check::Records, format!("{place}: {}", explain(&error)));
                return Some(Hash::of_leaf(line.record.as_bytes()));
            }
        };
        let subject = record.subject;
        if act.is_some_and(|act| record.act.0 != act) {
            let text = format!("{place}, subject {subject}: it names act {}", record.act);
            self.find(Check::Records, text);
        }
        if record.laboratory != expected.laboratory {
            let other = record.laboratory;
            let text = format!("{place}, subject {subject}: it is of laboratory {other}");
            self.find(Check::Records, text);
        }
        if line.record.contains(r#""_sd""#) {
            self.conceals(&place, &record.content);
        }
        if record.kind == "key" {
            self.key(&place, &record);
        }
        self.versions.push(VersionSeen {
            subject,
            version: record.version,
            position,
            hash: record.hash,
            previous: record.previous,
            kind: match record.kind.as_str() {
                "result" => KindSeen::Result,
                "hold" => KindSeen::Hold,
                "screening-validation" | "screening-review" => KindSeen::Screening,
                _ => KindSeen::Entered,
            },
        });
        Some(record.hash)
    }

    fn conceals(&mut self, place: &str, value: &Value) {
        match value {
            Value::Array(elements) => elements.iter().for_each(|one| self.conceals(place, one)),
            Value::Object(members) => {
                for (name, member) in members {
                    if name != DIGESTS {
                        self.conceals(place, member);
                        continue;
                    }
                    match crate::ledger::disclosure::read_digests(member.clone()) {
                        Ok(digests) => self
                            .digests
                            .extend(digests.iter().filter_map(|text| decoded(text))),
                        Err(error) => self.find(Check::Records, format!("{place}: {error}")),
                    }
                }
            }
            Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_) => {}
        }
    }

    fn key(&mut self, place: &str, record: &Record) {
        let jwk = record.content.get("jwk").map(PublicKey::from_jwk);
        let used_for = record.content.get("use").and_then(Value::as_str);
        match (jwk, used_for) {
            (Some(Ok(key)), Some(used_for @ ("record" | "log"))) => self.keys.push(KeySeen {
                subject: record.subject,
                version: record.version,
                key,
                signs_acts: used_for == "record",
            }),
            _ => {
                let subject = record.subject;
                let text = format!("{place}, subject {subject}: it announces no key of a use");
                self.find(Check::Signatures, text);
            }
        }
    }

    fn signature(&mut self, expected: &Expected<'_>, index: u64, read: &ReadAct<'_>) {
        let Some(trust) = expected.trust else {
            return;
        };
        let (kid, act) = (&read.kid, read.act.id);
        let found = trust
            .key_at(kid, expected.log, index)
            .ok_or_else(|| "the trust file has no key of this name that is good here".to_owned())
            .and_then(|key| read.verify(&key.key).map_err(|error| explain(&error)));
        if let Err(problem) = found {
            let text = format!("entry {index}, act {act}, key {kid}: {problem}");
            self.find(Check::Signatures, text);
        }
    }
}

/// The bytes of a digest.
pub(super) fn decoded(digest: &str) -> Option<[u8; 32]> {
    URL_SAFE_NO_PAD.decode(digest).ok()?.try_into().ok()
}
