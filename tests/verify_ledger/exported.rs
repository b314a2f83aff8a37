//! The demo laboratory's log, exported and verified: whole, and with results that were not
//! computed as they say.

use super::{
    archives::{count, folder, pack},
    second::second,
};
use crate::harness::callers::{LAB, TestApp, serve};
use api::{ledger::ExportLog, verify_ledger::VerifyLedger};
use domain::ledger::{
    Act, Hash, Record, RecordDraft, Report, SecretKey, act,
    act::ReadAct,
    archive::{EntryLine, Manifest, RecordLine},
    checkpoint::Checkpoint,
    note::{KeyUse, VerifierKey},
    tree,
};
use serde_json::{Value, json};
use std::{
    collections::HashMap,
    io::Read as _,
    path::Path,
    time::{Duration, Instant},
};
use uuid::Uuid;

const PASSWORD: &str = "marram-0123456789";

async fn until_sealed(app: &TestApp) {
    let waiting = "SELECT count(*) FROM ledger_head WHERE signed_size < size";
    let pending = "SELECT count(*) FROM ledger_pending";
    let begun = Instant::now();
    while app.count(pending).await + app.count(waiting).await > 0 {
        let waited = begun.elapsed();
        assert!(waited < Duration::from_secs(60), "the log never rests");
        tokio::time::sleep(Duration::from_millis(50)).await;
    }
}

fn verify(archive: &str, trust: Option<&str>, recomputes: bool) -> Report {
    VerifyLedger {
        archive: archive.to_owned(),
        checkpoints: vec![],
        trust: trust.map(str::to_owned),
        json: false,
        recomputes,
    }
    .run()
}

/// Every result and hold of the test's laboratory is computed again from its exported log.
pub(crate) async fn is_computed_again(app: &TestApp, name: &str) {
    until_sealed(app).await;
    let to = folder(name).join("log.zip");
    drop(std::fs::remove_file(&to));
    let wanted = ExportLog {
        laboratory: LAB.into(),
        log: None,
        to: to.clone(),
    };
    wanted.run(&app.state).await.unwrap();
    let trust = folder(name).join("trust.json");
    std::fs::write(&trust, &unpacked(&to)["trust.json"]).unwrap();
    let report = verify(to.to_str().unwrap(), trust.to_str(), true);
    assert_eq!(report.status().exit(), 0, "{report}");
}

#[actix_web::test]
async fn the_demo_laboratory_is_exported_and_every_result_computed_again() {
    let app = serve().await;
    let owner = app.database.owner_url.clone();
    api::demo::load(&app.state, &owner, &app.base, PASSWORD)
        .await
        .unwrap();
    until_sealed(&app).await;
    for (what, query) in [
        (
            "results with a budget of five lines or more",
            "SELECT count(*) FROM results_result \
             WHERE jsonb_array_length(content#>'{uncertainty,lines}') >= 5",
        ),
        (
            "holds by a rule over control runs",
            "SELECT count(*) FROM holds_hold WHERE content->>'kind' = 'control-rule' \
             AND content->>'detail' LIKE 'rule 2-2s%'",
        ),
        (
            "readings that follow from their signals",
            "SELECT count(*) FROM runs_run AS run JOIN kit_lots_kit_lot AS lot \
             ON lot.kit_lot_id::text = run.content->>'kit_lot' \
             WHERE run.content#>'{readings,0,signals,test_line}' IS NOT NULL \
             AND lot.content ? 'curves' AND NOT EXISTS (SELECT 1 FROM holds_hold \
             WHERE content->>'kind' = 'signal-disagreement')",
        ),
        (
            "decision rules with a probability",
            "SELECT count(DISTINCT decided.one#>>'{rule,rule}') - 2 FROM results_result, \
             jsonb_array_elements(content->'decisions') AS decided (one) \
             WHERE decided.one ? 'probability_of_conformity'",
        ),
    ] {
        assert!(app.count(query).await > 0, "the demo has no {what}");
    }
    let folder = folder("exported");
    let to = folder.join("marram.zip");
    drop(std::fs::remove_file(&to));
    let wanted = ExportLog {
        laboratory: api::demo::SLUG.into(),
        log: None,
        to: to.clone(),
    };
    let manifest = wanted.run(&app.state).await.unwrap();
    assert!(manifest.counts.entries > 100, "{manifest:?}");
    assert!(wanted.run(&app.state).await.is_err(), "the file is there");
    let nobody = ExportLog {
        laboratory: "nobody".into(),
        ..wanted.clone()
    };
    assert!(nobody.run(&app.state).await.is_err());

    let files = unpacked(&to);
    let trust = folder.join("trust.json");
    std::fs::write(&trust, &files["trust.json"]).unwrap();
    let (archive, trust) = (to.to_str().unwrap(), trust.to_str().unwrap());
    let report = verify(archive, Some(trust), true);
    assert_eq!(report.status().exit(), 0, "{report}");
    let said = report.to_string();
    assert!(said.contains("9. passed: "), "{said}");
    assert!(!said.contains("9. passed: 0 results"), "{said}");
    let case = json!({"archive": archive, "trust": String::from_utf8_lossy(&files["trust.json"])});
    if let Some(second) = second(&[case]) {
        assert_eq!(second[0].exit, 0, "{:?}", second[0]);
    }
    lies_are_found(&folder, &files);
}

type Lie = dyn Fn(&str, &mut Value) -> bool;

/// Whoever holds both keys writes the whole log anew, with one lie: all but the computing again
/// passes.
fn lies_are_found(folder: &Path, files: &HashMap<String, Vec<u8>>) {
    let (archive, trust, lied) = written_anew(folder, files, |_, _| false);
    let report = verify(&archive, Some(&trust), true);
    assert_eq!((report.status().exit(), lied), (0, None), "{report}");

    let concentration = |kind: &str, content: &mut Value| {
        let lies = kind == "result" && content.get("concentration").is_some();
        if lies {
            content["concentration"] = json!("1.000000");
        }
        lies
    };
    let state = |kind: &str, content: &mut Value| {
        let lies = kind == "result" && content["state"] == "needs-a-run";
        if lies {
            content["state"] = json!("ready");
        }
        lies
    };
    let hold = |kind: &str, content: &mut Value| {
        let lies = kind == "hold" && content["raised_by"] == "rule";
        if lies {
            content["detail"] = json!("nothing is amiss");
        }
        lies
    };
    let source = |kind: &str, content: &mut Value| {
        let lies = kind == "result" && content["from"].as_array().is_some_and(|f| f.len() > 3);
        if lies {
            content["from"].as_array_mut().unwrap().remove(1);
        }
        lies
    };
    let rules = |kind: &str, content: &mut Value| {
        let lies = kind == "result";
        if lies {
            content["rules"] = json!(99);
        }
        lies
    };
    let lies: [&Lie; 5] = [&concentration, &state, &hold, &source, &rules];
    for lie in lies {
        let (archive, trust, lied) = written_anew(folder, files, lie);
        let subject = lied.unwrap().to_string();
        let report = verify(&archive, Some(&trust), false);
        assert_eq!(report.status().exit(), 0, "{report}");
        let report = verify(&archive, Some(&trust), true);
        assert_eq!(report.status().exit(), 1, "{report}");
        let said = report.to_string();
        let named = said
            .lines()
            .any(|line| line.starts_with("9. FAILED: entry ") && line.contains(&subject));
        assert!(named, "{subject}: {said}");
    }
}

fn unpacked(path: &Path) -> HashMap<String, Vec<u8>> {
    let mut zip = zip::ZipArchive::new(std::fs::File::open(path).unwrap()).unwrap();
    (0..zip.len())
        .map(|index| {
            let mut file = zip.by_index(index).unwrap();
            let mut bytes = Vec::new();
            file.read_to_end(&mut bytes).unwrap();
            (file.name().unwrap().into_owned(), bytes)
        })
        .collect()
}

fn lines(files: &HashMap<String, Vec<u8>>, name: &str) -> Vec<String> {
    let text = String::from_utf8(files[name].clone()).unwrap();
    text.lines().map(str::to_owned).collect()
}

/// The log as another pair of keys would have signed it, with the first lie that can be told: the
/// archive, its trust file, and about which subject it lies.
#[expect(clippy::too_many_lines, reason = "one log, written from its beginning")]
fn written_anew(
    folder: &Path,
    files: &HashMap<String, Vec<u8>>,
    lie: impl Fn(&str, &mut Value) -> bool,
) -> (String, String, Option<Uuid>) {
    let (record_key, log_key) = (
        SecretKey::from_seed(&[21; 32]),
        SecretKey::from_seed(&[22; 32]),
    );
    let mut of_act: HashMap<Uuid, Vec<RecordLine>> = HashMap::new();
    for line in lines(files, "records.jsonl") {
        let line = RecordLine::parse(&line).unwrap();
        of_act.entry(line.act).or_default().push(line);
    }
    let mut hashes: HashMap<Uuid, Hash> = HashMap::new();
    let (mut lied, mut entries, mut records, mut leaves) = (None, vec![], vec![], vec![]);
    for line in lines(files, "entries.jsonl") {
        let line = EntryLine::parse(&line).unwrap();
        let read = ReadAct::parse(line.entry).unwrap().act;
        let mut roots = Vec::new();
        for held in &of_act[&read.id.0] {
            let record = Record::parse(held.record.as_bytes()).unwrap();
            let mut content = record.content;
            if record.kind == "key" {
                let key = match content["use"].as_str() {
                    Some("record") => &record_key,
                    _ => &log_key,
                };
                content["jwk"] = key.public().to_jwk();
            }
            if lied.is_none() && lie(&record.kind, &mut content) {
                lied = Some(record.subject);
            }
            let sealed = RecordDraft {
                act: record.act,
                laboratory: record.laboratory,
                kind: &record.kind,
                schema: record.schema,
                subject: record.subject,
                version: record.version,
                previous: hashes.get(&record.subject).copied(),
                content: &content,
            }
            .seal()
            .unwrap();
            hashes.insert(record.subject, sealed.hash);
            roots.push(sealed.hash);
            let line = RecordLine {
                record: sealed.text,
                ..held.clone()
            };
            records.push(line.to_line());
        }
        let root = act::root(&roots).unwrap();
        let entry = Act { root, ..read }.sign(&record_key).unwrap();
        leaves.push(entry.leaf_hash());
        let (entry, index) = (entry.text(), line.index);
        entries.push(EntryLine { entry, index }.to_line());
    }
    let mut trust: Value = serde_json::from_slice(&files["trust.json"]).unwrap();
    let origin = trust["logs"][0]["origin"].as_str().unwrap().to_owned();
    let named = VerifierKey::new(&origin, KeyUse::Note, log_key.public().clone()).unwrap();
    trust["logs"][0]["vkey"] = json!(named.to_string());
    trust["keys"][0]["x"] = record_key.public().to_jwk()["x"].clone();
    trust["keys"][0]["kid"] = json!(record_key.kid());
    let checkpoint = Checkpoint {
        origin,
        size: count(leaves.len()),
        root: tree::root(&leaves),
        extensions: vec![],
    };
    let mut manifest = Manifest::parse(&files["manifest.json"]).unwrap();
    manifest.counts.checkpoints = 1;
    let ended = |lines: Vec<String>| (lines.join("\n") + "\n").into_bytes();
    let trust = trust.to_string();
    let path = folder.join("anew-trust.json");
    std::fs::write(&path, &trust).unwrap();
    let whole = [
        ("manifest.json", manifest.to_bytes().unwrap()),
        ("trust.json", trust.into_bytes()),
        ("entries.jsonl", ended(entries)),
        ("records.jsonl", ended(records)),
        ("disclosures.jsonl", files["disclosures.jsonl"].clone()),
        (
            &format!("checkpoints/{}", leaves.len()),
            checkpoint.sign(&log_key).unwrap().into_bytes(),
        ),
    ]
    .map(|(name, bytes)| (name.to_owned(), bytes));
    let archive = pack(folder, "anew.zip", &whole);
    (archive, path.to_str().unwrap().to_owned(), lied)
}
