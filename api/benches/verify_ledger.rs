//! How many records a second `assize verify-ledger` checks on this machine, at three records an
//! act: signatures, hashes and links, and the same with every result computed again.
//!
//! Promises the two in turn, with the median and the spread of all rounds, over an archive whose
//! results were computed by the rules; refuses to measure where one of them does not pass. All
//! data is invented.
//!
//! `ASSIZE_BENCH_ROUNDS` (3) and `ASSIZE_BENCH_ACTS` (20000) change how much is measured.

use api::verify_ledger::VerifyLedger;
use domain::{
    analytes::Analyte,
    assessment::{
        Goods, LimitsThatApply, NamedVersions, RecordedContent, RecordedVersion, compute_result,
    },
    id::{ActId, LaboratoryId},
    ledger::{
        Act, Actor, Hash, RecordDraft, SecretKey, act,
        archive::{Counts, EntryLine, Manifest, RecordLine},
        checkpoint::{Checkpoint, Origin},
        note::{KeyUse, VerifierKey},
        tree::RightEdge,
    },
    procedures::{Procedure, ProcedureEntry},
    results::ResultVersion,
    runs::{Origin as RunOrigin, Run, RunContext, RunEntry},
    time::Moment,
    versions::SubjectVersion,
};
use serde_json::{Value, json};
use std::{
    collections::HashMap,
    io::Write as _,
    path::{Path, PathBuf},
    sync::Arc,
    time::{Duration, Instant},
};
use uuid::Uuid;
use zip::{CompressionMethod, ZipWriter, write::SimpleFileOptions};

type Failure = Box<dyn std::error::Error>;

const LABORATORY: &str = "019ca869-5000-76a3-a0ec-7b3041d8cea3";
const TIME: &str = "2026-03-01T09:00:00.000000Z";

fn main() -> Result<(), Failure> {
    let number = |name: &str, default: u32| -> Result<u32, Failure> {
        match std::env::var(name) {
            Ok(text) => Ok(text.parse()?),
            Err(_unset) => Ok(default),
        }
    };
    let (rounds, acts) = (
        number("ASSIZE_BENCH_ROUNDS", 3)?.max(1),
        number("ASSIZE_BENCH_ACTS", 20_000)?,
    );
    let room = std::env::temp_dir().join(format!("assize-bench-ledger-{}", std::process::id()));
    std::fs::create_dir_all(&room)?;
    let measured = measure(&room, rounds, acts);
    std::fs::remove_dir_all(&room)?;
    write!(std::io::stdout(), "{}", measured?)?;
    Ok(())
}

fn measure(room: &Path, rounds: u32, acts: u32) -> Result<String, Failure> {
    let written = Written::write(room, acts)?;
    let (mut plain, mut computed) = (Vec::new(), Vec::new());
    for _ in 0..rounds {
        plain.push(written.verify(false)?);
        computed.push(written.verify(true)?);
    }
    let cores = std::thread::available_parallelism()?;
    let line = |what: &str, times: &mut Vec<Duration>| {
        times.sort_unstable();
        let rate = |time: &Duration| f64::from(written.records) / time.as_secs_f64();
        let middle = times.get(times.len() / 2).map_or(0.0, rate);
        let (slow, fast) = (
            times.last().map_or(0.0, rate),
            times.first().map_or(0.0, rate),
        );
        format!("  {what:<48} {middle:>9.0} records/s   ({slow:.0} to {fast:.0})\n")
    };
    Ok(format!(
        "verify-ledger, {} records in {} acts, {cores} cores, {rounds} rounds in turn\n{}{}",
        written.records,
        written.acts,
        line("signatures, hashes and links", &mut plain),
        line("the same, and every result computed again", &mut computed),
    ))
}

/// An archive that was written to be verified.
struct Written {
    archive: PathBuf,
    trust: PathBuf,
    acts: u32,
    records: u32,
}

impl Written {
    fn write(room: &Path, acts: u32) -> Result<Self, Failure> {
        let mut log = Log::new()?;
        let bench = Bench::new(&mut log)?;
        for number in 0..acts {
            bench.measured(&mut log, number)?;
        }
        let (archive, trust) = (room.join("archive.zip"), room.join("trust.json"));
        let records = u32::try_from(log.records.len())?;
        log.pack(&archive, &trust)?;
        Ok(Self {
            archive,
            trust,
            acts: acts + 1,
            records,
        })
    }

    fn verify(&self, recomputes: bool) -> Result<Duration, Failure> {
        let name = |path: &Path| path.to_string_lossy().into_owned();
        let wanted = VerifyLedger {
            archive: name(&self.archive),
            checkpoints: vec![],
            trust: Some(name(&self.trust)),
            json: false,
            recomputes,
        };
        let begun = Instant::now();
        let report = wanted.run();
        let time = begun.elapsed();
        match report.status().exit() {
            0 => Ok(time),
            _ => Err(report.to_string().into()),
        }
    }
}

/// What every act of the bench needs.
struct Bench {
    goods: Goods,
    procedure: Arc<RecordedVersion>,
    run: RunEntry,
}

impl Bench {
    fn new(log: &mut Log) -> Result<Self, Failure> {
        let entry: ProcedureEntry =
            serde_json::from_str(include_str!("../../domain/src/procedures/example.json"))?;
        let run: RunEntry =
            serde_json::from_str(include_str!("../../domain/src/runs/example.json"))?;
        let procedure = Procedure::draft(entry)?;
        let subject = run.procedure.ok_or("the run names a procedure")?.0;
        let key = |key: &SecretKey, used_for: &str| json!({"jwk": key.public().to_jwk(), "use": used_for});
        let keys = [key(&log.record_key, "record"), key(&log.log_key, "log")];
        let [record_key, log_key] = keys;
        log.act(&[
            ("key", id(1), record_key),
            ("key", id(2), log_key),
            ("procedure", subject, serde_json::to_value(&procedure)?),
        ])?;
        Ok(Self {
            goods: Goods::shipped()?,
            procedure: version(subject, RecordedContent::Procedure(procedure)),
            run,
        })
    }

    /// One act of three records: a sample, its run and its result.
    fn measured(&self, log: &mut Log, number: u32) -> Result<(), Failure> {
        let base = 0x1_0000_0000 + u128::from(number) * 4;
        let (sample_id, run_id, result_id) = (id(base), id(base + 1), id(base + 2));
        let sample = json!({"code": format!("S-{number}"), "purpose": "validation",
            "commodity": "maize-grain", "mass_g": "1000",
            "received_at": "2026-03-01T07:30:00.000000Z"});
        let entry = RunEntry {
            sample: Some(sample_id.into()),
            ..self.run.clone()
        };
        let run = Run::record(
            entry,
            &RunContext { ports: Some(3) },
            vec![RunOrigin::bench()],
        )?;
        let versions = vec![
            Arc::clone(&self.procedure),
            version(sample_id, RecordedContent::read("sample", sample.clone())?),
            version(run_id, RecordedContent::Run(run.clone())),
        ];
        let time: Moment = TIME.parse()?;
        let named = NamedVersions::new(&self.goods, versions, HashMap::from([(run_id, time)]));
        let dossier = named
            .dossier(sample_id.into())
            .ok_or("the sample is there")?;
        let mut known = LimitsThatApply::default();
        let analyte = Analyte::AflatoxinTotal;
        let computed = compute_result(1, &named, &dossier, analyte, &mut known)?;
        let result = serde_json::to_value(ResultVersion::first(computed, false))?;
        log.act(&[
            ("sample", sample_id, sample),
            ("run", run_id, serde_json::to_value(&run)?),
            ("result", result_id, result),
        ])
    }
}

fn id(number: u128) -> Uuid {
    Uuid::from_u128(0x019c_a869_5000_7000_8000_0000_0000_0000 + number)
}

fn version(subject: Uuid, content: RecordedContent) -> Arc<RecordedVersion> {
    Arc::new(RecordedVersion {
        source: SubjectVersion {
            subject,
            version: 1,
        },
        entry: 0,
        content,
    })
}

/// A log while it is written.
struct Log {
    laboratory: LaboratoryId,
    record_key: SecretKey,
    log_key: SecretKey,
    edge: RightEdge,
    entries: Vec<String>,
    records: Vec<String>,
}

impl Log {
    fn new() -> Result<Self, Failure> {
        Ok(Self {
            laboratory: LABORATORY.parse()?,
            record_key: SecretKey::from_seed(&[1; 32]),
            log_key: SecretKey::from_seed(&[2; 32]),
            edge: RightEdge::default(),
            entries: Vec::new(),
            records: Vec::new(),
        })
    }

    fn act(&mut self, contents: &[(&str, Uuid, Value)]) -> Result<(), Failure> {
        let act = id((1 << 60) + u128::from(self.edge.size()));
        let mut hashes: Vec<Hash> = Vec::new();
        for ((kind, subject, content), position) in contents.iter().zip(0..) {
            let sealed = RecordDraft {
                act: ActId(act),
                laboratory: self.laboratory,
                kind,
                schema: 1,
                subject: *subject,
                version: 1,
                previous: None,
                content,
            }
            .seal()?;
            hashes.push(sealed.hash);
            let record = sealed.text;
            let line = RecordLine {
                act,
                position,
                record,
            };
            self.records.push(line.to_line());
        }
        let entry = Act {
            id: ActId(act),
            action: "record-run".into(),
            actor: Actor::Process {
                process: "bench".into(),
            },
            laboratory: self.laboratory,
            reason: None,
            records: u64::try_from(hashes.len())?,
            root: act::root(&hashes)?,
            time: TIME.parse()?,
        }
        .sign(&self.record_key)?;
        let line = EntryLine {
            entry: entry.text(),
            index: self.edge.size(),
        };
        self.entries.push(line.to_line());
        self.edge.append(entry.leaf_hash());
        Ok(())
    }

    fn trust(&self, origin: &str) -> Result<Value, Failure> {
        let named = VerifierKey::new(origin, KeyUse::Note, self.log_key.public().clone())?;
        let mut key = self.record_key.public().to_jwk();
        if let Some(members) = key.as_object_mut() {
            members.insert("kid".into(), self.record_key.kid().into());
            members.insert("log".into(), 1.into());
            members.insert("from_entry".into(), 0.into());
        }
        Ok(
            json!({"keys": [key], "laboratory": LABORATORY, "name": "Quay Grain Laboratory",
            "logs": [{"number": 1, "origin": origin, "vkey": named.to_string()}],
            "size": self.edge.size()}),
        )
    }

    fn pack(self, archive: &Path, trust_file: &Path) -> Result<(), Failure> {
        let origin = Origin {
            host: "records.example".into(),
            laboratory: self.laboratory,
            number: 1,
        }
        .to_string();
        let trust = self.trust(&origin)?.to_string();
        std::fs::write(trust_file, &trust)?;
        let size = self.edge.size();
        let checkpoint = Checkpoint {
            origin,
            size,
            root: self.edge.root(),
            extensions: vec![],
        };
        let manifest = Manifest {
            laboratory: self.laboratory,
            log: 1,
            from: 0,
            to: size,
            counts: Counts {
                entries: size,
                records: u64::try_from(self.records.len())?,
                disclosures: 0,
                checkpoints: 1,
            },
        };
        let ended = |lines: Vec<String>| lines.join("\n") + "\n";
        let files = [
            ("manifest.json".to_owned(), manifest.to_bytes()?),
            ("trust.json".to_owned(), trust.into_bytes()),
            ("entries.jsonl".to_owned(), ended(self.entries).into_bytes()),
            ("records.jsonl".to_owned(), ended(self.records).into_bytes()),
            ("disclosures.jsonl".to_owned(), Vec::new()),
            (
                format!("checkpoints/{size}"),
                checkpoint.sign(&self.log_key)?.into_bytes(),
            ),
        ];
        let options = SimpleFileOptions::default().compression_method(CompressionMethod::Deflated);
        let mut zip = ZipWriter::new(std::fs::File::create(archive)?);
        for (name, bytes) in files {
            zip.start_file(name, options)?;
            zip.write_all(&bytes)?;
        }
        zip.finish()?;
        Ok(())
    }
}
