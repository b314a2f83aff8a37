//! Checking a bundle with nothing but the laboratory's keys.
//!
//! Promises a line for each check and the exit status of `assize verify`; asks nobody, fetches
//! nothing, and believes nothing that a key from the trust file does not stand behind. What only a
//! PDF has is added to the report by whoever can open one.

mod checks;

use self::checks::{
    Logged, check_act, check_checkpoint, check_entry, check_record, describe, good_key, signed,
    standing,
};
use super::act::ReadAct;
use super::bundle::Bundle;
use super::canonical;
use super::certificate::ReadCertificate;
use super::checkpoint::{CheckpointError, Origin, ProofFile};
use super::record::Record;
use super::report::{Outcome, Report};
use super::strict_json;
use super::trust::Trust;

/// The version of a certificate record's content that is known here.
const RECORD_SCHEMA: u64 = 1;

/// Checks a bundle; without a trust file no signature can be checked.
///
/// ```
/// use domain::ledger::verify::verify_bundle;
/// let report = verify_bundle(b"{", None);
/// assert_eq!(report.status().exit(), 2);
/// ```
#[must_use]
pub fn verify_bundle(bundle: &[u8], trust: Option<&[u8]>) -> Report {
    let mut report = Report::new();
    let written_canonically = canonical::is_canonical(bundle);
    let bundle = match Bundle::parse(bundle) {
        Ok(bundle) => bundle,
        Err(error) => {
            report.add_unreadable(0, explain(&error));
            return report;
        }
    };
    let trust = match trust.map(Trust::parse).transpose() {
        Ok(trust) => trust,
        Err(error) => {
            report.add_unreadable(0, explain(&error));
            return report;
        }
    };
    if let Some(problem) = unknown_version(&bundle) {
        report.add_unreadable(0, problem);
        return report;
    }
    if !written_canonically {
        let text = "the file was written again by another program (not canonical); what it holds \
                    is judged all the same";
        report.add(0, Outcome::Noted, text);
    }
    Verifier {
        bundle: &bundle,
        trust: trust.as_ref(),
        report,
    }
    .run()
}

/// A text that is of a later version is not malformed: it is for a later program.
fn unknown_version(bundle: &Bundle) -> Option<String> {
    let record = strict_json::read(bundle.record.as_bytes()).ok();
    let schema = record
        .as_ref()
        .and_then(|record| record.get("schema")?.as_u64());
    if let Some(schema) = schema.filter(|schema| *schema != RECORD_SCHEMA) {
        return Some(format!(
            "a certificate record of schema {schema} is not known here"
        ));
    }
    match bundle.proof.as_deref().map(ProofFile::parse) {
        Some(Err(error @ CheckpointError::ProofVersion)) => Some(error.to_string()),
        _ => None,
    }
}

/// An error with its causes, in one line.
pub(crate) fn explain(error: &dyn std::error::Error) -> String {
    let mut text = error.to_string();
    let mut cause = error.source();
    while let Some(error) = cause {
        text.push_str(": ");
        text.push_str(&error.to_string());
        cause = error.source();
    }
    text
}

struct Verifier<'a> {
    bundle: &'a Bundle,
    trust: Option<&'a Trust>,
    report: Report,
}

impl Verifier<'_> {
    fn run(mut self) -> Report {
        let bundle = self.bundle;
        let certificate = self.read(1, ReadCertificate::parse(&bundle.certificate));
        if let Some(certificate) = &certificate {
            self.report.add(1, Outcome::Passed, describe(certificate));
        }
        let record = self.read(2, Record::parse(bundle.record.as_bytes()));
        if let Some(record) = &record {
            self.check(2, check_record(record, certificate.as_ref()));
        }
        let act = self.read(3, ReadAct::parse(&bundle.act));
        if let Some(act) = &act {
            self.check(
                3,
                check_act(bundle, act, record.as_ref(), certificate.as_ref()),
            );
        }
        let proof = bundle.proof.as_deref().map(ProofFile::parse).transpose();
        let proof = self.read(5, proof).flatten();
        let logged = proof.as_ref().map(Logged::read).transpose();
        let logged = self.read_text(5, logged).flatten();
        let laboratory = self.laboratory(
            certificate.as_ref(),
            record.as_ref(),
            act.as_ref(),
            logged.as_ref(),
        );
        self.check(4, laboratory);
        self.check_log(logged.as_ref());
        self.check_signatures(certificate.as_ref(), act.as_ref(), logged.as_ref());
        let mut report = self.report;
        report.sort();
        report
    }

    fn read<T, E: std::error::Error>(&mut self, check: u8, read: Result<T, E>) -> Option<T> {
        self.read_text(check, read.map_err(|error| explain(&error)))
    }

    fn read_text<T>(&mut self, check: u8, read: Result<T, String>) -> Option<T> {
        match read {
            Ok(value) => Some(value),
            Err(problem) => {
                self.report.add(check, Outcome::Failed, problem);
                None
            }
        }
    }

    fn check(&mut self, check: u8, found: Result<String, String>) {
        match found {
            Ok(text) => self.report.add(check, Outcome::Passed, text),
            Err(text) => self.report.add(check, Outcome::Failed, text),
        }
    }

    /// Check 4: one laboratory throughout.
    fn laboratory(
        &self,
        certificate: Option<&ReadCertificate<'_>>,
        record: Option<&Record>,
        act: Option<&ReadAct<'_>>,
        logged: Option<&Logged<'_>>,
    ) -> Result<String, String> {
        let origin = logged
            .map(|logged| logged.checkpoint.origin.parse::<Origin>())
            .transpose()
            .map_err(|error| explain(&error))?;
        let named = [
            certificate.map(|certificate| certificate.laboratory),
            record.map(|record| record.laboratory),
            act.map(|act| act.act.laboratory),
            origin.map(|origin| origin.laboratory),
            self.trust.map(|trust| trust.laboratory),
        ];
        let mut named = named.into_iter().flatten();
        let Some(first) = named.next() else {
            return Err("nothing names a laboratory".to_owned());
        };
        if named.all(|other| other == first) {
            Ok(format!("one laboratory throughout: {first}"))
        } else {
            Err("certificate, record, act, origin and trust file name several laboratories".into())
        }
    }

    /// Checks 5 and 6: the entry under the checkpoint, the checkpoint under its key.
    fn check_log(&mut self, logged: Option<&Logged<'_>>) {
        let Some(logged) = logged else {
            if self.bundle.proof.is_none() {
                self.report.without_proof();
                let text = "there is no proof that the act was logged";
                self.report.add(5, Outcome::NotChecked, text);
                let asked = self.trust.is_some_and(|trust| trust.witnesses.is_some());
                let outcome = if asked {
                    Outcome::Failed
                } else {
                    Outcome::NotChecked
                };
                let text = if asked {
                    "witnesses are asked for"
                } else {
                    "there is no checkpoint"
                };
                self.report.add(6, outcome, text);
            }
            return;
        };
        let entry = check_entry(&self.bundle.act, logged, self.trust);
        self.check(5, entry);
        match self.trust {
            Some(trust) => self.check(6, check_checkpoint(logged, trust)),
            None => {
                let text = "no trust file was given, so no key of the log is known";
                self.report.add(6, Outcome::NotChecked, text);
            }
        }
    }

    /// Check 7: the signatures of act and certificate.
    fn check_signatures(
        &mut self,
        certificate: Option<&ReadCertificate<'_>>,
        act: Option<&ReadAct<'_>>,
        logged: Option<&Logged<'_>>,
    ) {
        let Some(trust) = self.trust else {
            self.report.without_trust();
            let text = "no trust file was given, so no signature was checked";
            self.report.add(7, Outcome::NotChecked, text);
            return;
        };
        if self.bundle.proof.is_some() && logged.is_none() {
            let text = "without a proof that can be read no key is known to be good";
            self.report.add(7, Outcome::NotChecked, text);
            return;
        }
        if let Some(act) = act {
            let found = good_key(trust, &act.kid, logged).and_then(|key| {
                act.verify(&key.key)
                    .map(|()| standing(key))
                    .map_err(|error| explain(&error))
            });
            self.check(7, signed("act", &act.kid, found));
        }
        if let Some(certificate) = certificate {
            let found = good_key(trust, &certificate.kid, logged).and_then(|key| {
                certificate
                    .verify(&key.key)
                    .map(|()| standing(key))
                    .map_err(|error| explain(&error))
            });
            self.check(7, signed("certificate", &certificate.kid, found));
        }
    }
}
