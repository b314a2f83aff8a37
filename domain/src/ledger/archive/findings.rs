//! What was found amiss in an archive, by the check that found it.
//!
//! Promises that nothing found is forgotten: past the first of a check the rest is counted.

use crate::ledger::report::{Outcome, Report};

/// How many findings of one check are said in full.
pub const MOST_SHOWN: usize = 20;

/// The checks of an archive, in the order of the report.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Check {
    /// The files, and what the manifest counts.
    Files,
    /// The entries: numbered from 0 without a gap.
    Entries,
    /// The acts: form, laboratory, count and root of their records, each once.
    Acts,
    /// The records: canonical, in their act, of the laboratory.
    Records,
    /// The versions of each subject: without a gap, each naming the one before.
    Versions,
    /// The checkpoints: root, signature, prefix.
    Checkpoints,
    /// The signatures of the acts, each by a key good at its entry.
    Signatures,
    /// The disclosures that are left.
    Disclosures,
    /// Results and holds, computed again.
    Derived,
}

impl Check {
    /// All of them, in order.
    pub const ALL: [Self; 9] = [
        Self::Files,
        Self::Entries,
        Self::Acts,
        Self::Records,
        Self::Versions,
        Self::Checkpoints,
        Self::Signatures,
        Self::Disclosures,
        Self::Derived,
    ];

    /// The number of its lines in the report.
    ///
    /// ```
    /// use domain::ledger::archive::Check;
    /// assert_eq!((Check::Files.number(), Check::Derived.number()), (1, 9));
    /// ```
    #[must_use]
    pub const fn number(self) -> u8 {
        match self {
            Self::Files => 1,
            Self::Entries => 2,
            Self::Acts => 3,
            Self::Records => 4,
            Self::Versions => 5,
            Self::Checkpoints => 6,
            Self::Signatures => 7,
            Self::Disclosures => 8,
            Self::Derived => 9,
        }
    }
}

/// One thing that does not hold, with the entry or subject where it does not.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Finding {
    /// The check that found it.
    pub check: Check,
    /// What was found, in words.
    pub text: String,
}

impl Finding {
    /// A finding.
    #[must_use]
    pub fn new(check: Check, text: impl Into<String>) -> Self {
        Self {
            check,
            text: text.into(),
        }
    }
}

/// The findings of a whole archive: the first of each check, and how many there are.
///
/// ```
/// use domain::ledger::archive::{Check, Finding, Findings};
/// use domain::ledger::Report;
/// let mut findings = Findings::default();
/// findings.add(Finding::new(Check::Entries, "entry 4 is missing"));
/// let mut report = Report::new();
/// findings.tell(Check::Entries, &mut report, "8 entries, numbered from 0");
/// findings.tell(Check::Acts, &mut report, "8 acts");
/// assert_eq!(report.lines()[0].text, "entry 4 is missing");
/// assert_eq!(report.lines()[1].text, "8 acts");
/// assert_eq!(report.status().exit(), 1);
/// ```
#[derive(Debug, Clone, Default)]
pub struct Findings {
    shown: Vec<Finding>,
    counts: [u64; 10],
}

impl Findings {
    /// Adds one.
    pub fn add(&mut self, finding: Finding) {
        let Some(count) = self.counts.get_mut(usize::from(finding.check.number())) else {
            return;
        };
        *count = count.saturating_add(1);
        if *count <= u64::try_from(MOST_SHOWN).unwrap_or(u64::MAX) {
            self.shown.push(finding);
        }
    }

    /// Adds several.
    pub fn extend(&mut self, findings: impl IntoIterator<Item = Finding>) {
        findings.into_iter().for_each(|finding| self.add(finding));
    }

    /// How many a check found.
    #[must_use]
    pub fn count(&self, check: Check) -> u64 {
        let number = usize::from(check.number());
        self.counts.get(number).copied().unwrap_or_default()
    }

    /// Adds the lines of a check to a report: what it found, or that it passed.
    pub fn tell(&self, check: Check, report: &mut Report, passed: impl Into<String>) {
        let number = check.number();
        let found = self.count(check);
        if found == 0 {
            report.add(number, Outcome::Passed, passed);
            return;
        }
        let of_check = self.shown.iter().filter(|one| one.check == check);
        let mut said: u64 = 0;
        for finding in of_check {
            report.add(number, Outcome::Failed, finding.text.clone());
            said = said.saturating_add(1);
        }
        if found > said {
            let more = found.saturating_sub(said);
            report.add(
                number,
                Outcome::Failed,
                format!("and {more} more like these"),
            );
        }
    }
}
