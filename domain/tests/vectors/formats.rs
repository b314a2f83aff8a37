//! Golden bytes of every part of the ledger, reproduced from seeds; bundles to accept or refuse.

use crate::{File, Tally, from_hex, list, text};
use base64::Engine as _;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use domain::ledger::bundle::Bundle;
use domain::ledger::certificate::{self, ReadCertificate};
use domain::ledger::checkpoint::{Checkpoint, ProofFile};
use domain::ledger::disclosure::{Disclosure, reveal};
use domain::ledger::note::{KeyUse, VerifierKey};
use domain::ledger::trust::Trust;
use domain::ledger::verify_bundle;
use domain::ledger::{Act, Hash, Record, RecordDraft, SecretKey, act, canonical, tree};
use serde_json::Value;

pub(crate) fn run(file: &File<'_>, tally: &mut Tally) {
    let json = &file.json;
    let keys = Keys::read(json);
    run_keys(json, &keys, tally);
    for case in list(json, "acts") {
        let name = format!("entry {:?}", case.get("index"));
        tally.case("acts", &name, || golden_act(case, &keys));
        let hashes: Option<Vec<Hash>> = list(case, "records")
            .iter()
            .map(|record| text(record, "hash")?.parse().ok())
            .collect();
        for (index, record) in list(case, "records").iter().enumerate() {
            tally.case("records", &format!("{name}, {index}"), || {
                golden_record(record, index, hashes.as_ref()?)
            });
        }
    }
    for case in list(json, "disclosures") {
        tally.case("disclosures", text(case, "digest").unwrap_or(""), || {
            golden_disclosure(case)
        });
    }
    run_log(json, &keys, tally);
    if let Some(case) = json.get("certificate") {
        tally.case("certificate", "signed again", || {
            golden_certificate(case, &keys)
        });
    }
    if json.get("bundle").is_some() {
        tally.case("bundle", "made again", || golden_bundle(json));
    }
    if let Some(trust) = json.get("trust") {
        tally.case("trust", "read", || {
            Some(Trust::parse(&serde_json::to_vec(trust).ok()?).is_ok())
        });
    }
    for case in list(json, "bundle_cases") {
        run_bundle_case(case, tally);
    }
}

/// The keys whose seeds the file gives.
#[derive(Default)]
struct Keys {
    record: Vec<SecretKey>,
    log: Option<SecretKey>,
}

impl Keys {
    fn read(json: &Value) -> Self {
        let Some(given) = json.get("keys").and_then(Value::as_object) else {
            return Self::default();
        };
        let key = |seed: &Value| {
            let seed = from_hex(seed.as_str()?)?.try_into().ok()?;
            Some(SecretKey::from_seed(&seed))
        };
        let record = |(name, seed): (&String, &Value)| {
            name.ends_with("record_seed").then(|| key(seed)).flatten()
        };
        Self {
            record: given.iter().filter_map(record).collect(),
            log: given.get("log_seed").and_then(key),
        }
    }

    fn named(&self, kid: &str) -> Option<&SecretKey> {
        self.record.iter().find(|key| key.kid() == kid)
    }
}

fn run_keys(json: &Value, keys: &Keys, tally: &mut Tally) {
    let Some(given) = json.get("keys") else {
        return;
    };
    if let Some(kid) = text(given, "record_kid") {
        tally.case("keys", "record_kid", || Some(keys.named(kid).is_some()));
    }
    if let (Some(vkey), Some(log)) = (text(given, "log_vkey"), &keys.log) {
        tally.case("keys", "log_vkey", || {
            let origin = text(json, "origin")?;
            let made = VerifierKey::new(origin, KeyUse::Note, log.public().clone()).ok()?;
            Some(made.to_string() == vkey)
        });
    }
}

fn golden_act(case: &Value, keys: &Keys) -> Option<bool> {
    let (payload, entry) = (text(case, "payload")?, text(case, "entry")?);
    let read = act::ReadAct::parse(entry).ok()?;
    let from_payload = Act::parse_payload(payload.as_bytes()).ok()?;
    let hashes: Option<Vec<Hash>> = list(case, "records")
        .iter()
        .map(|record| Some(Hash::of_leaf(text(record, "record")?.as_bytes())))
        .collect();
    let made = match keys.named(&read.kid) {
        Some(key) => {
            read.verify(key.public()).ok()?;
            from_payload.sign(key).ok()?
        }
        None => return None,
    };
    Some(
        made.text() == entry
            && from_payload.payload().ok()? == payload
            && from_payload == read.act
            && act::root(&hashes?).ok()? == from_payload.root
            && made.leaf_hash().to_string() == text(case, "entry_leaf_hash")?,
    )
}

fn golden_record(case: &Value, index: usize, hashes: &[Hash]) -> Option<bool> {
    let given = text(case, "record")?;
    let read = Record::parse(given.as_bytes()).ok()?;
    let sealed = RecordDraft {
        act: read.act,
        laboratory: read.laboratory,
        kind: &read.kind,
        schema: read.schema,
        subject: read.subject,
        version: read.version,
        previous: read.previous,
        content: &read.content,
    }
    .seal()
    .ok()?;
    let path: Option<Vec<Hash>> = list(case, "act_path")
        .iter()
        .map(|hash| hash.as_str()?.parse().ok())
        .collect();
    Some(
        sealed.text == given
            && sealed.hash == read.hash
            && sealed.hash.to_string() == text(case, "hash")?
            && tree::inclusion_proof(hashes, index).ok() == path
            && u64::try_from(index).ok() == case.get("position")?.as_u64(),
    )
}

fn golden_disclosure(case: &Value) -> Option<bool> {
    let given = text(case, "disclosure")?;
    let read = Disclosure::parse(given).ok()?;
    let array = strict(&URL_SAFE_NO_PAD.decode(given).ok()?)?;
    let salt = URL_SAFE_NO_PAD.decode(array.get(0)?.as_str()?).ok()?;
    let made = Disclosure::new(salt.try_into().ok()?, read.name(), read.value()).ok()?;
    Some(made.text() == given && made.digest() == text(case, "digest")? && made == read)
}

fn strict(bytes: &[u8]) -> Option<Value> {
    canonical::read(bytes).ok()
}

fn entry_leaves(json: &Value) -> Vec<Hash> {
    list(json, "acts")
        .iter()
        .filter_map(|act| Some(Hash::of_leaf(text(act, "entry")?.as_bytes())))
        .collect()
}

fn run_log(json: &Value, keys: &Keys, tally: &mut Tally) {
    let leaves = entry_leaves(json);
    let by_size = |name: &str| {
        let members = json.get(name).and_then(Value::as_object);
        members.into_iter().flatten().collect::<Vec<_>>()
    };
    for (size, root) in by_size("roots") {
        tally.case("roots", size, || {
            let leaves = leaves.get(..size.parse().ok()?)?;
            Some(tree::root(leaves).to_string() == root.as_str()?)
        });
    }
    for (size, given) in by_size("checkpoints") {
        tally.case("checkpoints", size, || {
            let made = Checkpoint {
                origin: text(json, "origin")?.to_owned(),
                size: size.parse().ok()?,
                root: tree::root(leaves.get(..size.parse().ok()?)?),
                extensions: Vec::new(),
            };
            Some(made.sign(keys.log.as_ref()?).ok()? == given.as_str()?)
        });
    }
}

fn golden_certificate(case: &Value, keys: &Keys) -> Option<bool> {
    let (payload, jws) = (text(case, "payload")?, text(case, "jws")?);
    let handed_out = certificate::assemble(jws, &[]);
    let read = ReadCertificate::parse(&handed_out).ok()?;
    let key = keys.named(&read.kid)?;
    let made = certificate::sign(&strict(payload.as_bytes())?, key).ok()?;
    Some(
        made == jws
            && read.verify(key.public()).is_ok()
            && read.jws_hash().to_string() == text(case, "jws_sha256")?,
    )
}

/// The bundle, put together from the acts, records, disclosures and checkpoints of the file.
fn golden_bundle(json: &Value) -> Option<bool> {
    let given = json.get("bundle")?;
    let entry = text(given, "act")?;
    let record = text(given, "record")?;
    let acts = list(json, "acts");
    let index = acts
        .iter()
        .position(|act| text(act, "entry") == Some(entry))?;
    let records = list(acts.get(index)?, "records");
    let position = records
        .iter()
        .position(|case| text(case, "record") == Some(record))?;
    let hashes: Vec<Hash> = records
        .iter()
        .filter_map(|case| Some(Hash::of_leaf(text(case, "record")?.as_bytes())))
        .collect();
    let payload = strict(text(json.get("certificate")?, "payload")?.as_bytes())?;
    let own = |disclosure: &Disclosure| payload.to_string().contains(disclosure.digest());
    let disclosures: Vec<Disclosure> = list(json, "disclosures")
        .iter()
        .filter_map(|case| Disclosure::parse(text(case, "disclosure")?).ok())
        .filter(own)
        .collect();
    let erased = reveal(&mut payload.clone(), &disclosures).ok()?;
    let given_proof = ProofFile::parse(text(given, "proof")?).ok()?;
    let size = given_proof.checkpoint.lines().nth(1)?;
    let leaves = entry_leaves(json);
    let proof = ProofFile {
        extra: None,
        index: u64::try_from(index).ok()?,
        hashes: tree::inclusion_proof(leaves.get(..size.parse().ok()?)?, index).ok()?,
        checkpoint: text(json.get("checkpoints")?, size)?.to_owned(),
    };
    let made = Bundle {
        act: entry.to_owned(),
        act_path: tree::inclusion_proof(&hashes, position)
            .ok()?
            .iter()
            .map(Hash::to_string)
            .collect(),
        certificate: certificate::assemble(text(json.get("certificate")?, "jws")?, &disclosures),
        position: u64::try_from(position).ok()?,
        proof: Some(proof.to_text()),
        record: record.to_owned(),
        trust: text(given, "trust")?.to_owned(),
    };
    Some(erased.is_empty() && made.to_bytes().ok()? == canonical::to_bytes(given).ok()?)
}

fn run_bundle_case(case: &Value, tally: &mut Tally) {
    let name = text(case, "name").unwrap_or("");
    let bundle = match text(case, "text") {
        Some(text) => text.as_bytes().to_vec(),
        None => case
            .get("bundle")
            .map(Value::to_string)
            .unwrap_or_default()
            .into_bytes(),
    };
    let trust = match (text(case, "trust"), case.get("trust")) {
        (Some(text), _) => Some(text.as_bytes().to_vec()),
        (None, trust) => trust.map(|trust| trust.to_string().into_bytes()),
    };
    let report = verify_bundle(&bundle, trust.as_deref());
    let expected = case.get("exit").and_then(Value::as_u64);
    let got = u64::from(report.status().exit());
    let shown = format!("{name}: expected {expected:?}, got {got}\n{report}");
    tally.case("bundle_cases", &shown, || Some(expected? == got));
}
