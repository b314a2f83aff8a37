//! ZIP files that were made to do harm: refused, by both verifiers, before they can.

use super::{
    archives::{Archive, folder, pack},
    second::second,
};
use api::verify_ledger::VerifyLedger;
use serde_json::{Value, json};

type Files = Vec<(String, Vec<u8>)>;

fn with(change: impl FnOnce(&mut Files)) -> Files {
    let mut files = Archive::golden().files();
    change(&mut files);
    files
}

fn refused(path: &str) -> String {
    let report = VerifyLedger {
        archive: path.to_owned(),
        checkpoints: vec![],
        trust: None,
        json: false,
        recomputes: true,
    }
    .run();
    assert_eq!(report.status().exit(), 2, "{path}: {report}");
    report.to_string()
}

#[test]
fn what_is_no_archive_cannot_be_checked() {
    let folder = folder("hostile");
    let mut paths = Vec::new();
    for (name, files) in [
        (
            "path.zip",
            with(|files| files.push(("../../evil".into(), vec![1]))),
        ),
        (
            "absolute.zip",
            with(|files| files.push(("/evil".into(), vec![1]))),
        ),
        (
            "nested.zip",
            with(|files| files.push(("checkpoints/../1".into(), vec![1]))),
        ),
        (
            "zeros.zip",
            with(|files| files.push(("checkpoints/007".into(), vec![1]))),
        ),
        (
            "missing.zip",
            with(|files| files.retain(|(name, _)| name != "records.jsonl")),
        ),
        ("bomb.zip", with(|files| files[3].1 = vec![b'a'; 64 << 20])),
        (
            "format.zip",
            with(|files| files[0].1 = br#"{"format":2}"#.to_vec()),
        ),
    ] {
        paths.push(pack(&folder, name, &files));
    }
    let whole = std::fs::read(Archive::golden().write(&folder, "whole.zip")).unwrap();
    let mut write = |name: &str, bytes: &[u8]| {
        let path = folder.join(name);
        std::fs::write(&path, bytes).unwrap();
        paths.push(path.to_str().unwrap().to_owned());
    };
    write("cut.zip", &whole[..whole.len() / 2]);
    write("empty.zip", b"");
    // A name that stands twice: the directory's record of another file is renamed.
    let twice = renamed(&whole, b"checkpoints/5", b"checkpoints/6");
    write("twice.zip", &twice);
    let mut flipped = whole.clone();
    let middle = flipped.len() / 2;
    flipped[middle] ^= 0x55;
    write("flipped.zip", &flipped);
    for path in &paths {
        refused(path);
    }
    assert!(refused(&paths[0]).contains("is no file of an archive"));
    let cases: Vec<Value> = paths.iter().map(|path| json!({"archive": path})).collect();
    for (path, said) in paths.iter().zip(second(&cases).unwrap_or_default()) {
        assert_eq!(said.exit, 2, "{path}: {said:?}");
    }
}

fn renamed(bytes: &[u8], from: &[u8], to: &[u8]) -> Vec<u8> {
    let mut out = bytes.to_vec();
    for at in 0..bytes.len() - from.len() {
        if bytes[at..].starts_with(from) {
            out[at..at + to.len()].copy_from_slice(to);
        }
    }
    out
}
