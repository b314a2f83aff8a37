//! `assize verify-ledger`: checks the archive of a laboratory's whole log, offline.
//!
//! Promises a line for each check, naming the entry or the subject where one fails, and the exit
//! status that the lines make; needs no database, no settings and no network, and a memory that
//! does not grow with what the archive claims. Refuses (status 2) what is no archive of a format
//! that is known here.

mod opened;
mod pairing;
mod recomputing;
mod spool;
mod working;

use domain::ledger::{
    Report,
    archive::{Chain, Check, Finding, HeldCheckpoint, Manifest},
    report::Outcome,
    trust::Trust,
};
use opened::{Opened, Refused};
use recomputing::recompute;
use spool::Spool;
use std::path::Path;

/// What the command is to do, read from its arguments.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct VerifyLedger {
    /// The archive.
    pub archive: String,
    /// Checkpoints that somebody kept.
    pub checkpoints: Vec<String>,
    /// The trust file.
    pub trust: Option<String>,
    /// Whether the report is printed as JSON.
    pub json: bool,
    /// Whether results and holds are computed again.
    pub recomputes: bool,
}

/// Why a command line is refused.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum LedgerArgumentError {
    /// No file is named, or more than one.
    #[error("name one file: the archive of a laboratory's log")]
    File,
    /// An option that is not known, is given twice, or lacks its value.
    #[error(
        "{0} cannot be used here: assize verify-ledger ARCHIVE [--checkpoint FILE]... [--trust T] \
         [--without-recomputation] [--json]"
    )]
    Option(String),
}

impl VerifyLedger {
    /// Reads the command's arguments.
    ///
    /// # Errors
    /// [`LedgerArgumentError`].
    pub fn from_arguments(arguments: &[&str]) -> Result<Self, LedgerArgumentError> {
        let (mut archive, mut trust, mut json) = (None, None, false);
        let (mut checkpoints, mut recomputes) = (Vec::new(), true);
        let mut left = arguments.iter();
        while let Some(argument) = left.next() {
            let refuse = || LedgerArgumentError::Option((*argument).to_owned());
            match *argument {
                "--json" if !json => json = true,
                "--without-recomputation" if recomputes => recomputes = false,
                "--trust" if trust.is_none() => {
                    trust = Some((*left.next().ok_or_else(refuse)?).to_owned());
                }
                "--checkpoint" => {
                    checkpoints.push((*left.next().ok_or_else(refuse)?).to_owned());
                }
                option if option.starts_with("--") => return Err(refuse()),
                name if archive.is_none() => archive = Some(name.to_owned()),
                _ => return Err(LedgerArgumentError::File),
            }
        }
        Ok(Self {
            archive: archive.ok_or(LedgerArgumentError::File)?,
            checkpoints,
            trust,
            json,
            recomputes,
        })
    }

    /// Reads the files and checks.
    #[must_use]
    pub fn run(&self) -> Report {
        let mut report = Report::of_a_log();
        match self.check(&mut report) {
            Ok(()) => report,
            Err(refused) => {
                let mut report = Report::of_a_log();
                report.add_unreadable(0, refused.to_string());
                report
            }
        }
    }

    fn check(&self, report: &mut Report) -> Result<(), Refused> {
        let mut opened = Opened::open(Path::new(&self.archive))?;
        let manifest =
            Manifest::parse(&opened.small("manifest.json")?).map_err(Refused::because)?;
        if manifest.from != 0 {
            return Err(Refused::Other(format!(
                "the archive begins at entry {}: whole logs are checked here, from entry 0",
                manifest.from
            )));
        }
        let own = opened.small("trust.json")?;
        let given = self.trust.as_deref().map(read_file).transpose()?;
        let trust = Trust::parse(given.as_deref().unwrap_or(&own)).map_err(Refused::because)?;
        let (held, findings) = self.checkpoints(&mut opened, &manifest, &trust)?;
        let mut chain = Chain::new(manifest, held);
        findings.into_iter().for_each(|finding| chain.find(finding));
        if trust.laboratory != manifest.laboratory {
            let text = format!("the trust file is of laboratory {}", trust.laboratory);
            chain.find(Finding::new(Check::Files, text));
        }
        let spool = self.recomputes.then(Spool::create).transpose()?;
        let kept = working::check_acts(&opened, &manifest, &trust, &mut chain, spool)?;
        let mut disclosures = opened.lines("disclosures.jsonl")?;
        while let Some((number, line)) = disclosures.next_line()? {
            chain.disclosure(number, &line);
        }
        let mut findings = chain.finish(Some(&trust), report);
        let check = Check::Derived;
        match kept {
            Some((index, file)) => {
                let done = recompute(&index, &file).map_err(Refused::because)?;
                let (same, entered) = (done.same, done.entered);
                findings.extend(done.findings());
                let text = format!(
                    "{same} results and holds computed again by their rules, from the versions \
                     they name: the same; {entered} were placed by persons"
                );
                findings.tell(check, report, text);
            }
            None => {
                let text = "results and holds were not computed again, as asked";
                report.add(check.number(), Outcome::NotChecked, text);
            }
        }
        if given.is_none() {
            report.rely_on_nothing();
            let text = "no trust file was given: the signatures were checked with the keys that \
                        the archive brings itself, which anybody could have made";
            report.add(Check::Signatures.number(), Outcome::NotChecked, text);
        }
        Ok(())
    }

    /// The checkpoints that the archive holds and those that were given.
    fn checkpoints(
        &self,
        opened: &mut Opened,
        manifest: &Manifest,
        trust: &Trust,
    ) -> Result<(Vec<HeldCheckpoint>, Vec<Finding>), Refused> {
        let mut notes = Vec::new();
        for file in opened.checkpoints() {
            notes.push((file.clone(), opened.small(&file)?));
        }
        let inside = u64::try_from(notes.len()).unwrap_or(u64::MAX);
        for file in &self.checkpoints {
            notes.push((file.clone(), read_file(file)?));
        }
        let (mut held, mut findings) = (Vec::new(), Vec::new());
        if inside != manifest.counts.checkpoints {
            let said = manifest.counts.checkpoints;
            let text = format!("the manifest counts {said} checkpoints; {inside} are here");
            findings.push(Finding::new(Check::Files, text));
        }
        for (file, note) in notes {
            let note = String::from_utf8_lossy(&note);
            let (laboratory, log) = (manifest.laboratory, manifest.log);
            match HeldCheckpoint::read(&file, &note, laboratory, log, Some(trust)) {
                Ok(one) => held.push(one),
                Err(finding) => findings.push(finding),
            }
        }
        Ok((held, findings))
    }
}

/// A file that whoever verifies brings.
fn read_file(name: &str) -> Result<Vec<u8>, Refused> {
    use std::io::Read as _;
    let read = || {
        let mut bytes = Vec::new();
        let file = std::fs::File::open(name)?;
        file.take(opened::LARGEST_SMALL_FILE)
            .read_to_end(&mut bytes)?;
        Ok(bytes)
    };
    read().map_err(|error: std::io::Error| Refused::Other(format!("{name}: {error}")))
}
