//! The acts of an archive in their order: what only shows between them.
//!
//! Promises one pass over the acts, with a bounded memory for each subject and act; everything
//! found names the entry or the subject.

use super::announced::Announcements;
use super::checkpoints::HeldCheckpoint;
use super::examined::{Examined, VersionSeen, decoded};
use super::findings::{Check, Finding, Findings};
use super::lines::DisclosureLine;
use super::manifest::Manifest;
use crate::ledger::disclosure::Disclosure;
use crate::ledger::hash::Hash;
use crate::ledger::report::{Outcome, Report};
use crate::ledger::tree::RightEdge;
use crate::ledger::trust::Trust;
use crate::ledger::verify::explain;
use std::collections::{HashMap, HashSet};
use uuid::Uuid;

struct Newest {
    version: u64,
    hash: Hash,
}

/// How many of each passed through.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Passed {
    /// Entries.
    pub entries: u64,
    /// Records.
    pub records: u64,
    /// Disclosures.
    pub disclosures: u64,
}

/// The checks between the acts, fed in the order of the entries.
///
/// ```
/// use domain::ledger::archive::{Chain, Counts, Manifest, Check};
/// use domain::ledger::Report;
/// let manifest = Manifest {
///     laboratory: "019ca869-5000-76a3-a0ec-7b3041d8cea3".parse()?,
///     log: 1, from: 0, to: 1, counts: Counts { entries: 1, ..Counts::default() },
/// };
/// let chain = Chain::new(manifest, Vec::new());
/// let findings = chain.finish(None, &mut Report::new());
/// assert_eq!(findings.count(Check::Files), 1, "one entry was promised");
/// # Ok::<(), uuid::Error>(())
/// ```
pub struct Chain {
    manifest: Manifest,
    next: u64,
    edge: RightEdge,
    acts: HashSet<Uuid>,
    subjects: HashMap<Uuid, Newest>,
    checkpoints: Vec<HeldCheckpoint>,
    reached: usize,
    announced: Announcements,
    digests: HashSet<[u8; 32]>,
    disclosed: HashSet<[u8; 32]>,
    unreferenced: Vec<String>,
    unreferenced_count: u64,
    passed: Passed,
    findings: Findings,
}

impl Chain {
    /// The beginning of a log, with the checkpoints that bind it.
    #[must_use]
    pub fn new(manifest: Manifest, mut checkpoints: Vec<HeldCheckpoint>) -> Self {
        checkpoints.sort_by_key(|checkpoint| checkpoint.size);
        let mut chain = Self {
            manifest,
            next: 0,
            edge: RightEdge::default(),
            acts: HashSet::new(),
            subjects: HashMap::new(),
            checkpoints,
            reached: 0,
            announced: Announcements::default(),
            digests: HashSet::new(),
            disclosed: HashSet::new(),
            unreferenced: Vec::new(),
            unreferenced_count: 0,
            passed: Passed::default(),
            findings: Findings::default(),
        };
        chain.compare_checkpoints();
        chain
    }

    /// Adds something found elsewhere.
    pub fn find(&mut self, finding: Finding) {
        self.findings.add(finding);
    }

    /// Takes the next act.
    pub fn add(&mut self, seen: Examined) {
        self.findings.extend(seen.findings);
        self.passed.entries = self.passed.entries.saturating_add(1);
        let records = u64::try_from(seen.versions.len()).unwrap_or(u64::MAX);
        self.passed.records = self.passed.records.saturating_add(records);
        let (Some(index), Some(leaf)) = (seen.index, seen.leaf) else {
            return;
        };
        self.index(index);
        self.edge.append(leaf);
        if let Some(act) = seen.act
            && !self.acts.insert(act)
        {
            let text = format!("entry {index}: act {act} stands in the log already");
            self.findings.add(Finding::new(Check::Acts, text));
        }
        for version in &seen.versions {
            self.version(index, version);
        }
        // What entry 0 announces is good for entry 0.
        if index == 0 {
            self.announced.add(index, &seen.keys);
        }
        if let Some(kid) = &seen.kid
            && self.manifest.log == 1
            && !self.announced.good(kid, index)
        {
            let text = format!("entry {index}, key {kid}: no record makes this key good here");
            self.findings.add(Finding::new(Check::Signatures, text));
        }
        if index > 0 {
            self.announced.add(index, &seen.keys);
        }
        self.digests.extend(seen.digests);
        self.compare_checkpoints();
    }

    fn index(&mut self, index: u64) {
        if index != self.next {
            let next = self.next;
            let text = if index > next {
                let last = index.saturating_sub(1);
                if last == next {
                    format!("entry {next} is missing")
                } else {
                    format!("entries {next} to {last} are missing")
                }
            } else {
                format!("entry {index} stands where entry {next} is due")
            };
            self.findings.add(Finding::new(Check::Entries, text));
        }
        self.next = index.saturating_add(1).max(self.next);
    }

    fn version(&mut self, index: u64, seen: &VersionSeen) {
        let (subject, version) = (seen.subject, seen.version);
        let find = |text: String| {
            let place = format!("entry {index}, subject {subject}");
            Finding::new(Check::Versions, format!("{place}: {text}"))
        };
        match self.subjects.get(&subject) {
            // A later log goes on with subjects that an earlier one began.
            None if version == 1 || self.manifest.log > 1 => {}
            None => self.findings.add(find(format!(
                "version {version} is the first that is here; version 1 is missing"
            ))),
            Some(newest) if version != newest.version.saturating_add(1) => {
                let before = newest.version;
                let text = format!("version {version} follows version {before}");
                self.findings.add(find(text));
            }
            Some(newest) if seen.previous != Some(newest.hash) => {
                let text = format!("version {version} names another version before it");
                self.findings.add(find(text));
            }
            Some(_) => {}
        }
        let newest = Newest {
            version,
            hash: seen.hash,
        };
        self.subjects.insert(subject, newest);
    }

    /// Compares the root with every checkpoint of this size.
    fn compare_checkpoints(&mut self) {
        while let Some(held) = self.checkpoints.get(self.reached)
            && held.size <= self.edge.size()
        {
            let (file, size) = (&held.file, held.size);
            if size == self.edge.size() && held.root != self.edge.root() {
                let text = format!("{file}: the first {size} entries have another root");
                self.findings.add(Finding::new(Check::Checkpoints, text));
            }
            self.reached = self.reached.saturating_add(1);
        }
    }

    /// Takes a line of `disclosures.jsonl`, its `number` from 1; all acts have passed before.
    pub fn disclosure(&mut self, number: u64, line: &str) {
        self.passed.disclosures = self.passed.disclosures.saturating_add(1);
        let find = |text: String| {
            let place = format!("line {number} of disclosures.jsonl");
            Finding::new(Check::Disclosures, format!("{place}: {text}"))
        };
        let line = match DisclosureLine::parse(line) {
            Ok(line) => line,
            Err(error) => return self.findings.add(find(error.to_string())),
        };
        let disclosure = match Disclosure::parse(line.disclosure) {
            Ok(disclosure) => disclosure,
            Err(error) => return self.findings.add(find(explain(&error))),
        };
        if disclosure.digest() != line.digest {
            let text = format!("it has another digest than {}", line.digest);
            return self.findings.add(find(text));
        }
        let Some(digest) = decoded(line.digest) else {
            return self.findings.add(find("its digest is none".to_owned()));
        };
        if !self.disclosed.insert(digest) {
            self.findings.add(find("it stands there twice".to_owned()));
        }
        if !self.digests.contains(&digest) {
            self.unreferenced_count = self.unreferenced_count.saturating_add(1);
            if self.unreferenced.len() < 3 {
                self.unreferenced.push(line.digest.to_owned());
            }
        }
    }

    /// Ends the checks and writes the lines of all but the derived records, whose findings the
    /// caller adds.
    #[must_use]
    pub fn finish(mut self, trust: Option<&Trust>, report: &mut Report) -> Findings {
        self.counted();
        self.unsealed();
        if let Some(trust) = trust {
            let (log, size) = (self.manifest.log, self.edge.size());
            let compared = self.announced.compare(trust, log, size);
            self.findings.extend(compared);
        }
        self.tell(trust, report);
        self.findings
    }

    fn counted(&mut self) {
        let (said, here) = (self.manifest.counts, self.passed);
        let pairs = [
            ("entries", said.entries, here.entries),
            ("records", said.records, here.records),
            ("disclosures", said.disclosures, here.disclosures),
        ];
        for (what, said, here) in pairs {
            if said != here {
                let text = format!("the manifest counts {said} {what}; {here} are here");
                self.findings.add(Finding::new(Check::Files, text));
            }
        }
    }

    fn unsealed(&mut self) {
        let size = self.edge.size();
        let newest = self.checkpoints.last().map(|held| held.size);
        let beyond: Vec<String> = self
            .checkpoints
            .iter()
            .filter(|held| held.size > size)
            .map(|held| {
                let (file, sealed) = (&held.file, held.size);
                format!("{file}: it seals {sealed} entries; {size} are here")
            })
            .collect();
        for text in beyond {
            self.findings.add(Finding::new(Check::Checkpoints, text));
        }
        match newest {
            None => {
                let text = "there is no checkpoint: nothing seals the entries";
                self.findings.add(Finding::new(Check::Checkpoints, text));
            }
            Some(sealed) if sealed < size => {
                let text = format!("entries from {sealed} on are under no checkpoint");
                self.findings.add(Finding::new(Check::Checkpoints, text));
            }
            Some(_) => {}
        }
        let asked = self.checkpoints.iter().any(|held| held.witnessed.is_some());
        let witnessed = self
            .checkpoints
            .iter()
            .filter(|held| held.witnessed == Some(true))
            .map(|held| held.size)
            .max();
        if asked && witnessed.is_none_or(|witnessed| witnessed < size) {
            let from = witnessed.unwrap_or_default();
            let text = format!(
                "entries from {from} on are under no checkpoint that the witnesses asked for have \
                 signed"
            );
            self.findings.add(Finding::new(Check::Checkpoints, text));
        }
    }

    fn tell(&self, trust: Option<&Trust>, report: &mut Report) {
        let (passed, findings) = (self.passed, &self.findings);
        let (entries, records) = (passed.entries, passed.records);
        let (laboratory, log) = (self.manifest.laboratory, self.manifest.log);
        let text = format!("log {log} of laboratory {laboratory}, as the manifest counts it");
        findings.tell(Check::Files, report, text);
        let text = format!("{entries} entries, from 0 without a gap");
        findings.tell(Check::Entries, report, text);
        let text = format!("{entries} acts, each once, each the root of its records");
        findings.tell(Check::Acts, report, text);
        let text = format!("{records} records, canonical, each of its act");
        findings.tell(Check::Records, report, text);
        let subjects = self.subjects.len();
        let text = format!("{subjects} subjects, their versions without a gap");
        findings.tell(Check::Versions, report, text);
        let held = self.checkpoints.len();
        let text = format!(
            "{held} checkpoints, each over the first entries; the root over all {entries} is {}",
            self.edge.root()
        );
        findings.tell(Check::Checkpoints, report, text);
        let number = Check::Signatures.number();
        match trust {
            Some(trust) => {
                let text = "every act signed by a key good at its entry, as the records announce";
                findings.tell(Check::Signatures, report, text);
                for key in self.announced.unannounced_log_keys(trust, log) {
                    let text = format!("no record announces the log key {key}");
                    report.add(number, Outcome::Noted, text);
                }
            }
            None if findings.count(Check::Signatures) > 0 => {
                findings.tell(Check::Signatures, report, String::new());
            }
            None => report.add(number, Outcome::NotChecked, "no signature was checked"),
        }
        let erased = self.digests.difference(&self.disclosed).count();
        let given = passed.disclosures;
        let text = format!("{given} disclosures as their digests say; {erased} erased or withheld");
        findings.tell(Check::Disclosures, report, text);
        if self.unreferenced_count > 0 {
            let (count, first) = (self.unreferenced_count, self.unreferenced.join(", "));
            let text = format!(
                "{count} belong to no record or act here, but to a certificate or to nothing: \
                 {first}"
            );
            report.add(Check::Disclosures.number(), Outcome::Noted, text);
        }
    }
}
