//! What a verifier must not be talked into, beyond the golden cases.
#![expect(clippy::unwrap_used, reason = "a test may unwrap")]

use domain::ledger::bundle::Bundle;
use domain::ledger::certificate::{self, ReadCertificate};
use domain::ledger::checkpoint::{Checkpoint, ProofFile};
use domain::ledger::disclosure::{Disclosure, conceal};
use domain::ledger::jws;
use domain::ledger::note::{self, KeyUse, VerifierKey};
use domain::ledger::report::{Outcome, Report};
use domain::ledger::witness::Policy;
use domain::ledger::{Act, Actor, Hash, RecordDraft, SecretKey, act, tree, verify_bundle};
use serde_json::{Value, json};

const LABORATORY: &str = "019ca869-5000-76a3-a0ec-7b3041d8cea3";
const CERTIFICATE: &str = "019ca869-5007-7d17-ae69-a1b67666e970";
const ACT: &str = "019ca869-6770-7acc-81fd-2c1931abc4d1";
const ORIGIN: &str = "lab.example/log/019ca869-5000-76a3-a0ec-7b3041d8cea3/1";

fn record_key() -> SecretKey {
    SecretKey::from_seed(&[1; 32])
}

fn log_key() -> SecretKey {
    SecretKey::from_seed(&[2; 32])
}

/// An invented certificate's payload.
fn payload() -> Value {
    json!({
        "customer": {"name": "Hollow Mill Ltd"},
        "iat": 1_772_359_200,
        "iss": "https://lab.example",
        "jti": CERTIFICATE,
        "laboratory": LABORATORY,
        "number": "Q-1",
        "results": [{"analyte": "aflatoxin-total", "unit": "ug/kg", "value": "150.000000"}],
    })
}

/// A bundle made as the service makes it, with the fourth of seven entries.
fn issue(mut payload: Value, conceal_paths: &[&str]) -> (Bundle, Vec<Disclosure>) {
    let disclosures = conceal(&mut payload, conceal_paths, || [3; 16]).unwrap();
    let jws = certificate::sign(&payload, &record_key()).unwrap();
    let content = json!({"jws": Hash::of(jws.as_bytes()).to_string(), "number": "Q-1"});
    let record = RecordDraft {
        act: ACT.parse().unwrap(),
        laboratory: LABORATORY.parse().unwrap(),
        kind: "certificate",
        schema: 1,
        subject: CERTIFICATE.parse().unwrap(),
        version: 1,
        previous: None,
        content: &content,
    };
    let sealed = record.seal().unwrap();
    let hashes = [
        Hash::of(b"another record"),
        sealed.hash,
        Hash::of(b"a third"),
    ];
    let entry = Act {
        id: ACT.parse().unwrap(),
        action: "issue-certificate".to_owned(),
        actor: Actor::Process {
            process: "test".to_owned(),
        },
        laboratory: LABORATORY.parse().unwrap(),
        reason: None,
        records: 3,
        root: act::root(&hashes).unwrap(),
        time: "2026-03-01T10:00:00.999999Z".parse().unwrap(),
    }
    .sign(&record_key())
    .unwrap();
    let mut leaves: Vec<Hash> = (0..7_u8).map(|byte| Hash::of_leaf(&[byte])).collect();
    *leaves.get_mut(3).unwrap() = entry.leaf_hash();
    let checkpoint = Checkpoint {
        origin: ORIGIN.to_owned(),
        size: 7,
        root: tree::root(&leaves),
        extensions: Vec::new(),
    };
    let proof = ProofFile {
        extra: Some(b"\x1b[2Kpassed".to_vec()),
        index: 3,
        hashes: tree::inclusion_proof(&leaves, 3).unwrap(),
        checkpoint: checkpoint.sign(&log_key()).unwrap(),
    };
    let path = tree::inclusion_proof(&hashes, 1).unwrap();
    let bundle = Bundle {
        act: entry.into_text(),
        act_path: path.iter().map(Hash::to_string).collect(),
        certificate: certificate::assemble(&jws, &disclosures),
        position: 1,
        proof: Some(proof.to_text()),
        record: sealed.text,
        trust: "https://lab.example/trust.json".to_owned(),
    };
    (bundle, disclosures)
}

fn trust() -> Value {
    let mut key = record_key().public().to_jwk();
    let more = json!({"from_entry": 0, "kid": record_key().kid(), "log": 1});
    key.as_object_mut()
        .unwrap()
        .extend(more.as_object().unwrap().clone());
    let vkey = VerifierKey::new(ORIGIN, KeyUse::Note, log_key().public().clone()).unwrap();
    json!({
        "keys": [key],
        "laboratory": LABORATORY,
        "logs": [{"number": 1, "origin": ORIGIN, "vkey": vkey.to_string()}],
        "name": "A laboratory",
        "size": 7,
    })
}

fn verify(bundle: &Bundle, trust: &Value) -> Report {
    verify_bundle(
        &bundle.to_bytes().unwrap(),
        Some(trust.to_string().as_bytes()),
    )
}

fn exit(bundle: &Bundle, trust: &Value) -> u8 {
    verify(bundle, trust).status().exit()
}

#[test]
fn what_is_issued_verifies_and_nothing_unauthenticated_is_printed() {
    let (bundle, _) = issue(payload(), &["/customer/name"]);
    let report = verify(&bundle, &trust());
    assert_eq!(report.status().exit(), 0, "{report}");
    assert!(!report.to_string().contains("[2K"));
    let checks: Vec<u8> = report.lines().iter().map(|line| line.check).collect();
    assert_eq!(checks, [1, 2, 3, 4, 5, 6, 7, 7]);
    assert!(
        report
            .lines()
            .iter()
            .all(|line| line.outcome == Outcome::Passed)
    );
}

#[test]
fn a_certificate_whose_name_was_erased_still_verifies() {
    let (mut bundle, disclosures) = issue(payload(), &["/customer/name"]);
    let (jws, _) = bundle.certificate.split_once('~').unwrap();
    bundle.certificate = format!("{jws}~");
    let report = verify(&bundle, &trust());
    assert_eq!(report.status().exit(), 0, "{report}");
    assert!(
        report
            .to_string()
            .contains(disclosures.first().unwrap().digest())
    );
}

#[test]
fn a_unit_or_value_is_never_disclosed() {
    for path in ["/results/*/unit", "/results/*/value"] {
        let (bundle, _) = issue(payload(), &[path]);
        assert_eq!(exit(&bundle, &trust()), 1, "{path}");
    }
}

#[test]
fn a_record_that_names_its_schema_twice_is_malformed_and_not_of_a_later_version() {
    let (mut bundle, _) = issue(payload(), &[]);
    bundle.record = bundle
        .record
        .replace("\"schema\":1", "\"schema\":1,\"schema\":2");
    assert_eq!(exit(&bundle, &trust()), 1);
}

#[test]
fn a_file_written_again_with_spaces_verifies_with_a_note() {
    let (bundle, _) = issue(payload(), &[]);
    let value: Value = serde_json::from_slice(&bundle.to_bytes().unwrap()).unwrap();
    let spaced = serde_json::to_vec_pretty(&value).unwrap();
    let report = verify_bundle(&spaced, Some(trust().to_string().as_bytes()));
    assert_eq!(report.status().exit(), 0, "{report}");
    assert!(
        report
            .lines()
            .iter()
            .any(|line| line.outcome == Outcome::Noted)
    );
}

#[test]
fn a_trust_file_that_contradicts_itself_is_not_used() {
    let (bundle, _) = issue(payload(), &[]);
    let set = |pointer: &str, value: Value| {
        let mut changed = trust();
        *changed.pointer_mut(pointer).unwrap() = value;
        changed
    };
    let log_jwk = log_key().public().to_jwk();
    let mut same_key = set("/keys/0/x", log_jwk.get("x").unwrap().clone());
    *same_key.pointer_mut("/keys/0/kid").unwrap() = log_key().kid().into();
    let mut secret = trust();
    let key = secret
        .pointer_mut("/keys/0")
        .unwrap()
        .as_object_mut()
        .unwrap();
    key.insert("d".to_owned(), "AAAA".into());
    for (what, changed) in [
        ("a record key is the log key", same_key),
        (
            "a number that is not the origin's",
            set("/logs/0/number", 2.into()),
        ),
        ("a secret key", secret),
        ("a size in text", set("/size", "7".into())),
        (
            "a laboratory in capitals",
            set("/laboratory", LABORATORY.to_uppercase().into()),
        ),
    ] {
        assert_eq!(exit(&bundle, &changed), 2, "{what}");
    }
    assert_eq!(
        exit(&bundle, &set("/keys/0/log", 2.into())),
        1,
        "a key of another log"
    );
}

#[test]
fn one_witness_key_under_two_names_does_not_make_a_quorum_of_two() {
    let witness = SecretKey::from_seed(&[4; 32]);
    let named = |name: &str| {
        let key = VerifierKey::new(name, KeyUse::Cosignature, witness.public().clone()).unwrap();
        format!("witness {name} {key}\n")
    };
    let policy = named("a") + &named("b") + "group both all a b\nquorum both\n";
    assert!(Policy::parse(&policy).is_err());
    assert!(Policy::parse(&(named("a") + "quorum a\n")).is_ok());
    for refused in [
        "",
        "quorum none\nquorum none\n",
        "quorum a\n",
        "group g 2 a\nquorum g\n",
    ] {
        assert!(Policy::parse(refused).is_err(), "{refused:?}");
    }
}

#[test]
fn a_false_cosignature_spoils_a_checkpoint_that_has_enough_others() {
    let (mut bundle, _) = issue(payload(), &[]);
    let (first, second) = (
        SecretKey::from_seed(&[4; 32]),
        SecretKey::from_seed(&[5; 32]),
    );
    let line = |name: &str, key: &SecretKey| {
        let key = VerifierKey::new(name, KeyUse::Cosignature, key.public().clone()).unwrap();
        format!("witness {name} {key}\n")
    };
    let policy = line("a", &first) + &line("b", &second) + "group g any a b\nquorum g\n";
    let mut asked = trust();
    asked
        .as_object_mut()
        .unwrap()
        .insert("witnesses".to_owned(), policy.into());
    assert_eq!(exit(&bundle, &asked), 1);
    let mut proof = ProofFile::parse(bundle.proof.as_ref().unwrap()).unwrap();
    let text = note::Note::parse(&proof.checkpoint)
        .unwrap()
        .text()
        .to_owned();
    proof.checkpoint += &note::cosignature_line(&text, 1_772_359_300, "a", &first).unwrap();
    bundle.proof = Some(proof.to_text());
    assert_eq!(exit(&bundle, &asked), 0);
    proof.checkpoint += &note::cosignature_line("other\n", 1, "b", &second).unwrap();
    bundle.proof = Some(proof.to_text());
    assert_eq!(exit(&bundle, &asked), 1);
}

#[test]
fn a_certificate_without_a_result_or_with_a_list_element_concealed_is_refused() {
    let key = record_key();
    let mut none = payload();
    *none.pointer_mut("/results").unwrap() = json!([]);
    assert!(certificate::sign(&none, &key).is_err());
    let mut element = payload();
    let results = element
        .pointer_mut("/results")
        .unwrap()
        .as_array_mut()
        .unwrap();
    results.push(json!({"...": "AAAA"}));
    assert!(certificate::sign(&element, &key).is_err());
    let element = serde_json_canonicalizer::to_vec(&element).unwrap();
    let header = format!(
        r#"{{"alg":"EdDSA","kid":"{}","typ":"{}"}}"#,
        key.kid(),
        certificate::TYP
    );
    let jws = jws::sign(&header, &element, &key);
    assert!(ReadCertificate::parse(&certificate::assemble(&jws, &[])).is_err());
}
