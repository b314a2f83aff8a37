//! The keys as the records themselves announce and withdraw them.
//!
//! Promises the rule of the log: a key is good from the entry after its announcement (the first
//! keys from entry 0) up to and including the entry that withdraws it. A version of a key's
//! subject with another key than before withdraws that one and announces its own; one with the
//! same key withdraws it. Claimed times decide nothing.

use super::examined::KeySeen;
use super::findings::{Check, Finding};
use crate::ledger::trust::Trust;
use std::collections::BTreeMap;
use uuid::Uuid;

/// A key and the entries for which the records make it good.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Announced {
    kid: String,
    bytes: [u8; 32],
    signs_acts: bool,
    from: u64,
    until: Option<u64>,
}

/// All keys that were announced so far.
#[derive(Debug, Clone, Default)]
pub struct Announcements {
    keys: Vec<Announced>,
    newest: BTreeMap<Uuid, usize>,
}

impl Announcements {
    /// Takes what an entry announces and withdraws.
    pub fn add(&mut self, entry: u64, seen: &[KeySeen]) {
        for one in seen {
            let before = self.newest.get(&one.subject).copied();
            let kid = one.key.kid();
            let mut withdrawn_only = false;
            if let Some(old) = before.and_then(|place| self.keys.get_mut(place)) {
                withdrawn_only = old.kid == kid;
                old.until.get_or_insert(entry.saturating_add(1));
            }
            if withdrawn_only {
                continue;
            }
            self.newest.insert(one.subject, self.keys.len());
            self.keys.push(Announced {
                kid,
                bytes: *one.key.as_bytes(),
                signs_acts: one.signs_acts,
                from: if entry == 0 {
                    0
                } else {
                    entry.saturating_add(1)
                },
                until: None,
            });
        }
    }

    /// Whether the records make this key good for signing the act at an entry.
    #[must_use]
    pub fn good(&self, kid: &str, entry: u64) -> bool {
        self.keys.iter().any(|key| {
            key.signs_acts
                && key.kid == kid
                && key.from <= entry
                && key.until.is_none_or(|until| entry < until)
        })
    }

    /// Compares with a trust file, for an archive of `size` entries of a log.
    #[must_use]
    pub fn compare(&self, trust: &Trust, log: u64, size: u64) -> Vec<Finding> {
        let mut findings = Vec::new();
        let mut find = |text: String| findings.push(Finding::new(Check::Signatures, text));
        for key in self.keys.iter().filter(|key| key.signs_acts) {
            let named = trust
                .keys
                .iter()
                .find(|one| one.kid == key.kid && one.log == log);
            let (kid, from) = (&key.kid, key.from);
            // A trust file from before the announcement cannot know the key.
            if named.is_none() && from < trust.size.min(size) {
                find(format!(
                    "key {kid}, good from entry {from}, is not in the trust file"
                ));
            }
            let Some(named) = named else { continue };
            if named.from_entry != from {
                let said = named.from_entry;
                find(format!(
                    "key {kid} is good from entry {from}; the trust file says {said}"
                ));
            }
            // Each may have ended where the other could not see it yet.
            let ours = key.until.filter(|until| *until <= trust.size.max(1));
            let theirs = named.until_entry.filter(|until| *until <= size);
            if ours != theirs {
                let words = |until: Option<u64>| match until {
                    Some(until) => format!("until before entry {until}"),
                    None => "without an end".to_owned(),
                };
                find(format!(
                    "key {kid} is good {}; the trust file says {}",
                    words(ours),
                    words(theirs)
                ));
            }
        }
        for named in trust.keys.iter().filter(|one| one.log == log) {
            let known = self.keys.iter().any(|key| key.kid == named.kid);
            // The first log's keys are all announced in it.
            if !known && log == 1 && named.from_entry < size {
                let kid = &named.kid;
                find(format!("no record announces key {kid} of the trust file"));
            }
        }
        findings
    }

    /// Log keys of a trust file that no record announces.
    #[must_use]
    pub fn unannounced_log_keys(&self, trust: &Trust, log: u64) -> Vec<String> {
        let of_log = trust.logs.iter().filter(|one| one.number == log);
        of_log
            .filter(|one| {
                !self
                    .keys
                    .iter()
                    .any(|key| !key.signs_acts && key.bytes == *one.key.public().as_bytes())
            })
            .map(|one| one.key.to_string())
            .collect()
    }
}
