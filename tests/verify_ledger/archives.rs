//! Archives to verify: the golden log as one, and keys with which to forge.

use domain::{
    id::LaboratoryId,
    ledger::{
        Act, Actor, Hash, RecordDraft, SecretKey, act,
        archive::{Counts, EntryLine, Manifest, RecordLine},
        checkpoint::Checkpoint,
        tree,
    },
};
use serde_json::Value;
use std::{
    io::Write as _,
    path::{Path, PathBuf},
};
use uuid::Uuid;
use zip::{CompressionMethod, ZipWriter, write::SimpleFileOptions};

pub(super) fn golden() -> Value {
    serde_json::from_str(include_str!("../vectors/formats_golden.json")).unwrap()
}

/// A folder of this test's own.
pub(super) fn folder(name: &str) -> PathBuf {
    let path = std::env::temp_dir().join(format!("assize-ledger-{}-{name}", std::process::id()));
    std::fs::create_dir_all(&path).unwrap();
    path
}

pub(super) fn count(number: usize) -> u64 {
    u64::try_from(number).unwrap()
}

/// What an archive's files say, before they are packed.
#[derive(Clone)]
pub(super) struct Archive {
    pub(super) laboratory: LaboratoryId,
    /// JWS and index of each entry.
    pub(super) entries: Vec<(String, u64)>,
    pub(super) records: Vec<RecordLine>,
    pub(super) disclosures: Vec<String>,
    pub(super) checkpoints: Vec<(String, String)>,
    pub(super) trust: String,
    /// Counts of the manifest, where they are not those of the files.
    pub(super) counts: Option<Counts>,
}

fn seed(name: &str) -> SecretKey {
    let text = golden()["keys"][name].as_str().unwrap().to_owned();
    let hash: Hash = text.parse().unwrap();
    SecretKey::from_seed(hash.as_bytes())
}

/// The laboratory's record key until entry 6.
pub(super) fn record_key() -> SecretKey {
    seed("record_seed")
}

/// The laboratory's record key from entry 7.
pub(super) fn next_record_key() -> SecretKey {
    seed("next_record_seed")
}

pub(super) fn log_key() -> SecretKey {
    seed("log_seed")
}

impl Archive {
    /// The golden log.
    pub(super) fn golden() -> Self {
        let golden = golden();
        let text = |value: &Value| value.as_str().unwrap().to_owned();
        let acts = golden["acts"].as_array().unwrap();
        let mut records = Vec::new();
        for act in acts {
            let payload: Value = serde_json::from_str(act["payload"].as_str().unwrap()).unwrap();
            for record in act["records"].as_array().unwrap() {
                records.push(RecordLine {
                    act: payload["act"].as_str().unwrap().parse().unwrap(),
                    position: record["position"].as_u64().unwrap(),
                    record: text(&record["record"]),
                });
            }
        }
        let disclosure = |one: &Value| {
            let (digest, text) = (&one["digest"], &one["disclosure"]);
            format!(r#"{{"digest":{digest},"disclosure":{text}}}"#)
        };
        let checkpoints = golden["checkpoints"].as_object().unwrap();
        let disclosures = golden["disclosures"].as_array().unwrap();
        Self {
            laboratory: golden["trust"]["laboratory"]
                .as_str()
                .unwrap()
                .parse()
                .unwrap(),
            entries: acts
                .iter()
                .map(|act| (text(&act["entry"]), act["index"].as_u64().unwrap()))
                .collect(),
            records,
            disclosures: disclosures.iter().map(disclosure).collect(),
            checkpoints: checkpoints
                .iter()
                .map(|(size, note)| (format!("checkpoints/{size}"), text(note)))
                .collect(),
            trust: golden["trust"].to_string(),
            counts: None,
        }
    }

    pub(super) fn manifest(&self) -> Manifest {
        let counts = self.counts.unwrap_or(Counts {
            entries: count(self.entries.len()),
            records: count(self.records.len()),
            disclosures: count(self.disclosures.len()),
            checkpoints: count(self.checkpoints.len()),
        });
        Manifest {
            laboratory: self.laboratory,
            log: 1,
            from: 0,
            to: counts.entries,
            counts,
        }
    }

    /// The files with their names.
    pub(super) fn files(&self) -> Vec<(String, Vec<u8>)> {
        let entry = |(entry, index): &(String, u64)| {
            let index = *index;
            EntryLine { entry, index }.to_line()
        };
        let lines = |lines: Vec<String>| {
            let ended: Vec<String> = lines.into_iter().map(|line| line + "\n").collect();
            ended.concat().into_bytes()
        };
        let mut files = vec![
            (
                "manifest.json".to_owned(),
                self.manifest().to_bytes().unwrap(),
            ),
            ("trust.json".to_owned(), self.trust.clone().into_bytes()),
            (
                "entries.jsonl".to_owned(),
                lines(self.entries.iter().map(entry).collect()),
            ),
            (
                "records.jsonl".to_owned(),
                lines(self.records.iter().map(RecordLine::to_line).collect()),
            ),
            (
                "disclosures.jsonl".to_owned(),
                lines(self.disclosures.clone()),
            ),
        ];
        let held = self.checkpoints.iter();
        files.extend(held.map(|(name, note)| (name.clone(), note.clone().into_bytes())));
        files
    }

    pub(super) fn write(&self, folder: &Path, name: &str) -> String {
        pack(folder, name, &self.files())
    }

    /// The acts' ids by the entries' places.
    pub(super) fn act(&self, place: usize) -> Uuid {
        let (entry, index) = &self.entries[place];
        let index = *index;
        EntryLine { entry, index }.act().unwrap()
    }

    /// Takes an entry out, with its records, and numbers the others on.
    pub(super) fn take_out(&mut self, place: usize) {
        let act = self.act(place);
        self.entries.remove(place);
        self.records.retain(|line| line.act != act);
        self.number();
    }

    pub(super) fn number(&mut self) {
        for (place, (_, index)) in self.entries.iter_mut().enumerate() {
            *index = count(place);
        }
    }

    /// A checkpoint over the first entries, signed by the log's key: of this tree.
    pub(super) fn seal(&mut self, size: usize) {
        let leaves: Vec<Hash> = self.entries[..size]
            .iter()
            .map(|(entry, _)| Hash::of_leaf(entry.as_bytes()))
            .collect();
        let checkpoint = Checkpoint {
            origin: golden()["origin"].as_str().unwrap().to_owned(),
            size: count(size),
            root: tree::root(&leaves),
            extensions: vec![],
        };
        let note = checkpoint.sign(&log_key()).unwrap();
        self.checkpoints
            .retain(|(name, _)| *name != format!("checkpoints/{size}"));
        self.checkpoints.push((format!("checkpoints/{size}"), note));
    }

    /// Forgets all checkpoints and seals the whole anew: what only the holder of the log key can.
    pub(super) fn fork(&mut self) {
        self.checkpoints.clear();
        self.seal(self.entries.len());
    }
}

/// An act of one record of a sample, rightly signed by this key.
pub(super) fn sample_act(
    laboratory: LaboratoryId,
    id: Uuid,
    subject: Uuid,
    code: &str,
    key: &SecretKey,
) -> (String, RecordLine) {
    let content = serde_json::json!({"code": code, "commodity": "maize-grain"});
    let sealed = RecordDraft {
        act: id.into(),
        laboratory,
        kind: "sample",
        schema: 1,
        subject,
        version: 1,
        previous: None,
        content: &content,
    }
    .seal()
    .unwrap();
    let act = Act {
        id: id.into(),
        action: "register-sample".into(),
        actor: Actor::Process {
            process: "forger".into(),
        },
        laboratory,
        reason: None,
        records: 1,
        root: act::root(&[sealed.hash]).unwrap(),
        time: "2026-03-01T08:10:00.250000Z".parse().unwrap(),
    };
    let line = RecordLine {
        act: id,
        position: 0,
        record: sealed.text,
    };
    (act.sign(key).unwrap().into_text(), line)
}

/// Packs files into a ZIP file; its path.
pub(super) fn pack(folder: &Path, name: &str, files: &[(String, Vec<u8>)]) -> String {
    let path = folder.join(name);
    let mut zip = ZipWriter::new(std::fs::File::create(&path).unwrap());
    let options = SimpleFileOptions::default().compression_method(CompressionMethod::Deflated);
    for (name, bytes) in files {
        zip.start_file(name.as_str(), options).unwrap();
        zip.write_all(bytes).unwrap();
    }
    zip.finish().unwrap();
    path.to_str().unwrap().to_owned()
}
