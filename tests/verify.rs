//! `assize verify`, run as a program of its own: no database, no settings, no network.

use serde_json::{Value, json};
use std::{
    path::{Path, PathBuf},
    process::Command,
};

const GOLDEN: &str = include_str!("vectors/formats_golden.json");

/// A folder of this test's own.
fn folder(name: &str) -> PathBuf {
    let path = std::env::temp_dir().join(format!("assize-verify-{}-{name}", std::process::id()));
    std::fs::create_dir_all(&path).unwrap();
    path
}

fn write(folder: &Path, name: &str, bytes: &[u8]) -> String {
    let path = folder.join(name);
    std::fs::write(&path, bytes).unwrap();
    path.to_str().unwrap().to_owned()
}

/// Runs the program with nothing of this process's environment.
fn verify(arguments: &[&str]) -> (i32, String) {
    let done = Command::new(env!("CARGO_BIN_EXE_assize"))
        .arg("verify")
        .args(arguments)
        .env_clear()
        .output()
        .unwrap();
    (
        done.status.code().unwrap(),
        String::from_utf8(done.stdout).unwrap(),
    )
}

fn bytes(case: &Value, member: &str) -> Option<Vec<u8>> {
    let value = case.get(member)?;
    let text = value
        .as_str()
        .map_or_else(|| value.to_string(), str::to_owned);
    Some(text.into_bytes())
}

#[test]
fn every_golden_bundle_ends_with_its_exit_status() {
    let golden: Value = serde_json::from_str(GOLDEN).unwrap();
    let cases = golden["bundle_cases"].as_array().unwrap();
    assert_eq!(cases.len(), 78);
    let folder = folder("golden");
    let mut wrong = Vec::new();
    for case in cases {
        let bundle = bytes(case, "text")
            .or_else(|| bytes(case, "bundle"))
            .unwrap();
        let file = write(&folder, "bundle.json", &bundle);
        let trust = bytes(case, "trust").map(|trust| write(&folder, "trust.json", &trust));
        let mut arguments = vec![file.as_str()];
        if let Some(trust) = &trust {
            arguments.extend(["--trust", trust]);
        }
        let (exit, said) = verify(&arguments);
        if json!(exit) != case["exit"] {
            wrong.push(format!(
                "{}: {exit}, not {}\n{said}",
                case["name"], case["exit"]
            ));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn the_report_has_a_line_for_each_check_also_as_json() {
    let golden: Value = serde_json::from_str(GOLDEN).unwrap();
    let folder = folder("report");
    let bundle = write(&folder, "b.json", golden["bundle"].to_string().as_bytes());
    let trust = write(&folder, "t.json", golden["trust"].to_string().as_bytes());
    let (exit, said) = verify(&[&bundle, "--trust", &trust]);
    assert_eq!(exit, 0, "{said}");
    for check in 1..=7 {
        assert!(
            said.contains(&format!("{check}. passed: ")),
            "{check}: {said}"
        );
    }
    let (exit, said) = verify(&["--json", "--trust", &trust, &bundle]);
    let report: Value = serde_json::from_str(&said).unwrap();
    assert_eq!((exit, &report["exit"]), (0, &json!(0)));
    assert_eq!(report["status"], "verified");
    assert_eq!(report["lines"][0]["outcome"], "passed");
}

/// The invented payload, signed and bundled by nobody: what a PDF needs to be set.
fn pdf() -> Vec<u8> {
    use domain::ledger::{SecretKey, bundle::Bundle, certificate};
    let payload = serde_json::from_str(include_str!("vectors/certificate_payload.json")).unwrap();
    let jws = certificate::sign(&payload, &SecretKey::from_seed(&[7; 32])).unwrap();
    let bundle = Bundle {
        act: "none".into(),
        act_path: vec![],
        certificate: certificate::assemble(&jws, &[]),
        position: 0,
        proof: None,
        record: "{}".into(),
        trust: "https://records.example/log/trust.json".into(),
    };
    api::certificates::render(&bundle.to_bytes().unwrap()).unwrap()
}

#[test]
fn of_a_pdf_the_attached_bundle_is_checked_and_its_pages_are_compared() {
    let folder = folder("pdf");
    let whole = pdf();
    let file = write(&folder, "whole.pdf", &whole);
    let (exit, said) = verify(&[&file]);
    assert_eq!(exit, 1, "nobody recorded this certificate: {said}");
    assert!(said.contains("1. passed: "), "{said}");
    assert!(said.contains("8. passed: the pages are those"), "{said}");

    let changed = [whole.as_slice(), b"\n% added later\n"].concat();
    let file = write(&folder, "changed.pdf", &changed);
    let (_, said) = verify(&[&file]);
    assert!(said.contains("8. FAILED: rendered again"), "{said}");

    let newer = replaced(&whole, b"certificate form 1", b"certificate form 9");
    let file = write(&folder, "newer.pdf", &newer);
    let (_, said) = verify(&[&file]);
    assert!(
        said.contains("8. not checked: the pages were not"),
        "{said}"
    );
}

fn replaced(bytes: &[u8], from: &[u8], to: &[u8]) -> Vec<u8> {
    let mut found = bytes.to_vec();
    let places: Vec<usize> = (0..bytes.len().saturating_sub(from.len()))
        .filter(|at| bytes[*at..].starts_with(from))
        .collect();
    assert!(!places.is_empty(), "the PDF names its renderer in clear");
    for at in places {
        found[at..at + to.len()].copy_from_slice(to);
    }
    found
}

#[test]
fn what_cannot_be_checked_says_so() {
    let folder = folder("nothing");
    let absent = folder.join("absent.json");
    let (exit, said) = verify(&[absent.to_str().unwrap()]);
    assert_eq!(exit, 2, "{said}");
    let empty = write(&folder, "no-bundle.pdf", b"%PDF-1.7\n%%EOF\n");
    let (exit, said) = verify(&[&empty]);
    assert_eq!(exit, 2, "{said}");
    assert_eq!(verify(&[]).0, 64);
    assert_eq!(verify(&[&empty, "--trusted", "x"]).0, 64);
    assert_eq!(verify(&[&empty, "--trust"]).0, 64);
}
