//! The golden log as an archive, whole and damaged.
#![expect(clippy::unwrap_used, clippy::indexing_slicing, reason = "tests may")]

use super::{
    Chain, Check, Counts, Expected, Findings, HeldCheckpoint, Manifest, RecordLine, examine,
};
use crate::ledger::Report;
use crate::ledger::trust::Trust;
use serde_json::Value;

fn golden() -> Value {
    serde_json::from_str(include_str!(
        "../../../../tests/vectors/formats_golden.json"
    ))
    .unwrap()
}

/// The lines of each act, the disclosures, the checkpoints, the trust file.
struct Archive {
    acts: Vec<(String, Vec<String>)>,
    disclosures: Vec<String>,
    checkpoints: Vec<(String, String)>,
    trust: Trust,
}

impl Archive {
    fn golden() -> Self {
        let golden = golden();
        let text = |value: &Value| value.as_str().unwrap().to_owned();
        let list = |value: &Value| value.as_array().unwrap().clone();
        let record = |act: &Value, one: &Value| {
            let payload: Value = serde_json::from_str(act["payload"].as_str().unwrap()).unwrap();
            RecordLine {
                act: payload["act"].as_str().unwrap().parse().unwrap(),
                position: one["position"].as_u64().unwrap(),
                record: text(&one["record"]),
            }
            .to_line()
        };
        let acts = list(&golden["acts"])
            .iter()
            .map(|act| {
                let line = format!(
                    r#"{{"entry":"{}","index":{}}}"#,
                    act["entry"].as_str().unwrap(),
                    act["index"]
                );
                let records = list(&act["records"]);
                (line, records.iter().map(|one| record(act, one)).collect())
            })
            .collect();
        let disclosures = list(&golden["disclosures"])
            .iter()
            .map(|one| {
                format!(
                    r#"{{"digest":{},"disclosure":{}}}"#,
                    one["digest"], one["disclosure"]
                )
            })
            .collect();
        let held = golden["checkpoints"].as_object().unwrap();
        Self {
            acts,
            disclosures,
            checkpoints: held
                .iter()
                .map(|(size, note)| (format!("checkpoints/{size}"), text(note)))
                .collect(),
            trust: Trust::parse(golden["trust"].to_string().as_bytes()).unwrap(),
        }
    }

    fn check(&self) -> (Findings, Report) {
        let laboratory = self.trust.laboratory;
        let count = |number: usize| u64::try_from(number).unwrap();
        let manifest = Manifest {
            laboratory,
            log: 1,
            from: 0,
            to: count(self.acts.len()),
            counts: Counts {
                entries: count(self.acts.len()),
                records: count(self.acts.iter().map(|(_, records)| records.len()).sum()),
                disclosures: count(self.disclosures.len()),
                checkpoints: count(self.checkpoints.len()),
            },
        };
        let trust = Some(&self.trust);
        let (mut held, mut refused) = (Vec::new(), Vec::new());
        for (file, note) in &self.checkpoints {
            match HeldCheckpoint::read(file, note, laboratory, 1, trust) {
                Ok(one) => held.push(one),
                Err(finding) => refused.push(finding),
            }
        }
        let mut chain = Chain::new(manifest, held);
        refused.into_iter().for_each(|finding| chain.find(finding));
        let expected = Expected {
            laboratory,
            log: 1,
            trust,
        };
        for (number, (entry, records)) in self.acts.iter().enumerate() {
            let records: Vec<&str> = records.iter().map(String::as_str).collect();
            chain.add(examine(&expected, count(number) + 1, entry, &records));
        }
        for (number, line) in self.disclosures.iter().enumerate() {
            chain.disclosure(count(number) + 1, line);
        }
        let mut report = Report::new();
        let findings = chain.finish(trust, &mut report);
        (findings, report)
    }

    /// The texts that the checks say.
    fn said(&self, check: Check) -> String {
        let (_, report) = self.check();
        let of_check = report
            .lines()
            .iter()
            .filter(|line| line.check == check.number());
        of_check
            .map(|line| line.text.as_str())
            .collect::<Vec<_>>()
            .join("\n")
    }
}

#[test]
fn the_golden_log_holds() {
    let (_, report) = Archive::golden().check();
    assert_eq!(report.status().exit(), 0, "{report}");
    let said = report.to_string();
    assert!(said.contains("8 entries, from 0"), "{said}");
    // Two belong to the certificate, whose signed part an archive does not hold.
    assert!(said.contains("2 belong to no record"), "{said}");
    assert!(said.contains("no record announces the log key"), "{said}");
}

#[test]
fn what_is_missing_between_the_acts_is_named() {
    let mut middle = Archive::golden();
    middle.acts.remove(4);
    assert!(middle.said(Check::Entries).contains("entry 4 is missing"));
    assert!(
        middle
            .said(Check::Versions)
            .contains("entry 5, subject 019ca869-5005")
    );
    assert!(middle.said(Check::Checkpoints).contains("checkpoints/5"));

    let mut newest = Archive::golden();
    newest.acts.pop();
    let said = newest.said(Check::Checkpoints);
    assert!(
        said.contains("checkpoints/8: it seals 8 entries; 7 are here"),
        "{said}"
    );

    let mut swapped = Archive::golden();
    swapped.acts.swap(1, 2);
    assert!(swapped.said(Check::Entries).contains("entry 1 is missing"));

    let mut twice = Archive::golden();
    let last = twice.acts[7].clone();
    let again = last.0.replace(r#""index":7"#, r#""index":8"#);
    twice.acts.push((again, last.1));
    assert!(
        twice
            .said(Check::Acts)
            .contains("entry 8: act 019ca869-6f40")
    );
    assert!(twice.said(Check::Checkpoints).contains("entries from 8 on"));
}

#[test]
fn a_changed_byte_is_named_where_it_is() {
    let mut record = Archive::golden();
    record.acts[3].1[1] = record.acts[3].1[1].replace("312.000000", "313.000000");
    assert!(
        record
            .said(Check::Acts)
            .contains("entry 3, act 019ca869-5fa0")
    );
    assert!(
        record
            .said(Check::Versions)
            .contains("entry 4, subject 019ca869-5005")
    );

    let mut fewer = Archive::golden();
    fewer.acts[3].1.pop();
    assert!(
        fewer
            .said(Check::Acts)
            .contains("says that it holds 3 records; 2 are here")
    );

    let mut spaced = Archive::golden();
    spaced.acts[2].1[0] = spaced.acts[2].1[0].replace(r#"{\"act"#, r#"{ \"act"#);
    assert!(spaced.said(Check::Records).contains("entry 2, record 0"));

    let mut note = Archive::golden();
    note.checkpoints[1].1 = note.checkpoints[1].1.replace("\n5\n", "\n6\n");
    assert!(note.said(Check::Checkpoints).contains("checkpoints/5"));

    let mut disclosure = Archive::golden();
    disclosure.disclosures[3] = disclosure.disclosures[3].replace("WyJC", "WyJD");
    let said = disclosure.said(Check::Disclosures);
    assert!(said.contains("line 4 of disclosures.jsonl"), "{said}");
}

#[test]
fn a_key_is_good_where_records_and_trust_file_say_so() {
    let mut later = Archive::golden();
    later.trust.keys[1].from_entry = 6;
    let said = later.said(Check::Signatures);
    assert!(
        said.contains("is good from entry 7; the trust file says 6"),
        "{said}"
    );

    let mut unknown = Archive::golden();
    unknown.trust.keys.pop();
    let said = unknown.said(Check::Signatures);
    assert!(said.contains("entry 7, act 019ca869-6f40"), "{said}");

    let mut endless = Archive::golden();
    endless.trust.keys[0].until_entry = None;
    let said = endless.said(Check::Signatures);
    assert!(
        said.contains("until before entry 7; the trust file says"),
        "{said}"
    );
}
