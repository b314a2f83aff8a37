//! The log as files, read by code of this test's own: a tree by the words of RFC 9162 2.1, tiles
//! and bundles by those of C2SP tlog-tiles.

use crate::harness::callers::{Caller, TestApp, serve};
use crate::ledger::trust_file::trust_file;
use domain::ledger::{
    checkpoint::Checkpoint,
    note::{Note, VerifierKey},
    trust::Trust,
};
use serde_json::json;
use sha2::{Digest, Sha256};
use std::time::Duration;

type Hash = [u8; 32];

fn leaf(entry: &[u8]) -> Hash {
    Sha256::new()
        .chain_update([0])
        .chain_update(entry)
        .finalize()
        .into()
}

fn node(left: Hash, right: Hash) -> Hash {
    Sha256::new()
        .chain_update([1])
        .chain_update(left)
        .chain_update(right)
        .finalize()
        .into()
}

/// RFC 9162 2.1.1, word for word.
fn root(leaves: &[Hash]) -> Hash {
    match leaves {
        [] => Sha256::digest(b"").into(),
        [only] => *only,
        _ => {
            let (left, right) = leaves.split_at(leaves.len().next_power_of_two() / 2);
            node(root(left), root(right))
        }
    }
}

fn hashes(bytes: &[u8]) -> Vec<Hash> {
    assert_eq!(bytes.len() % 32, 0);
    bytes
        .chunks(32)
        .map(|hash| hash.try_into().unwrap())
        .collect()
}

/// Entries, each behind its length.
fn entries(mut bundle: &[u8]) -> Vec<Vec<u8>> {
    let mut found = Vec::new();
    while let Some((length, rest)) = bundle.split_first_chunk::<2>() {
        let (entry, rest) = rest.split_at(usize::from(u16::from_be_bytes(*length)));
        found.push(entry.to_vec());
        bundle = rest;
    }
    found
}

/// Where the laboratory's first log is served.
pub(crate) async fn prefix(app: &TestApp) -> String {
    let id = app.state.laboratory("quay").await.unwrap().unwrap().id;
    format!("log/{id}/1")
}

/// Waits until the newest checkpoint covers every act, and tells how many it covers.
pub(crate) async fn checkpoint_over_all(app: &TestApp) -> u64 {
    for _ in 0..200 {
        let behind = app
            .count(
                "SELECT (SELECT count(*) FROM ledger_act) - \
                 (SELECT coalesce(max(size), -1) FROM ledger_checkpoint)",
            )
            .await;
        if behind == 0 {
            let size = app.count("SELECT max(size) FROM ledger_checkpoint").await;
            return size.try_into().unwrap();
        }
        tokio::time::sleep(Duration::from_millis(100)).await;
    }
    unreachable!("no checkpoint covers every act after 20 seconds");
}

/// Reads a checkpoint and checks its signature by the key in the trust file.
pub(crate) async fn verified(app: &TestApp, note: &str) -> Checkpoint {
    let trust = Trust::parse(&trust_file(app).await).unwrap();
    let known: Vec<&VerifierKey> = trust.logs.iter().map(|log| &log.key).collect();
    let note = Note::parse(note).unwrap();
    note.verify(&known).unwrap();
    let checkpoint = Checkpoint::parse(note.text()).unwrap();
    assert_eq!(checkpoint.origin, trust.logs[0].origin);
    checkpoint
}

async fn file(caller: &Caller, path: &str) -> Vec<u8> {
    let answer = caller.get_raw(path).await;
    assert_eq!(answer.status().as_u16(), 200, "{path}");
    let header = |name: &str| answer.headers()[name].to_str().unwrap().to_owned();
    assert_eq!(header("content-type"), "application/octet-stream", "{path}");
    assert!(header("cache-control").ends_with(", immutable"), "{path}");
    assert!(!answer.headers().contains_key("content-encoding"));
    answer.bytes().await.unwrap().to_vec()
}

async fn customers(analyst: &Caller, from: u32, to: u32) {
    let numbers: Vec<u32> = (from..to).collect();
    for some in numbers.chunks(16) {
        let posts = some.iter().map(|number| {
            let customer = json!({"code": format!("C-{number}"), "name": "Hollow Mill Ltd"});
            analyst.post("/customers", customer)
        });
        for made in futures_util::future::join_all(posts).await {
            made.expect(201);
        }
    }
}

#[actix_web::test]
async fn the_log_read_by_its_files_has_the_root_that_was_signed() {
    let app = serve().await;
    let analyst = app.analyst().await;
    customers(&analyst, 0, 262).await;
    let covered = checkpoint_over_all(&app).await;
    let prefix = prefix(&app).await;
    let answer = analyst.get_raw(&format!("{prefix}/checkpoint")).await;
    assert_eq!(
        answer.headers()["content-type"],
        "text/plain; charset=utf-8"
    );
    assert_eq!(answer.headers()["cache-control"], "private, max-age=1");
    let note = answer.text().await.unwrap();
    let checkpoint = verified(&app, &note).await;
    assert_eq!(checkpoint.size, covered);
    let over = covered - 256;
    assert!((1..256).contains(&over), "a full tile and a partial one");

    let full = hashes(&file(&analyst, &format!("{prefix}/tile/0/000")).await);
    let edge = hashes(&file(&analyst, &format!("{prefix}/tile/0/001.p/{over}")).await);
    let leaves = [full.clone(), edge.clone()].concat();
    assert_eq!(leaves.len(), usize::try_from(covered).unwrap());
    assert_eq!(root(&leaves), checkpoint.root.0, "every tile, from nothing");
    let above = hashes(&file(&analyst, &format!("{prefix}/tile/1/000.p/1")).await);
    assert_eq!(above, [root(&full)]);

    let mut acts = entries(&file(&analyst, &format!("{prefix}/tile/entries/000")).await);
    let rest = format!("{prefix}/tile/entries/001.p/{over}");
    acts.extend(entries(&file(&analyst, &rest).await));
    let of_acts: Vec<Hash> = acts.iter().map(|act| leaf(act)).collect();
    assert_eq!(of_acts, leaves, "each entry is the one that was hashed");
    assert!(
        !acts.iter().any(|act| {
            let text = String::from_utf8_lossy(act);
            text.contains("Hollow")
        }),
        "entries carry no names"
    );

    // Narrower tiles of a smaller checkpoint are there for good, cut from what there is by now.
    for (path, whole) in [("000.p/7", &full), ("001.p/1", &edge)] {
        let narrow = hashes(&file(&analyst, &format!("{prefix}/tile/0/{path}")).await);
        assert_eq!(Some(narrow.as_slice()), whole.get(..narrow.len()), "{path}");
    }
    let narrow = entries(&file(&analyst, &format!("{prefix}/tile/entries/000.p/3")).await);
    assert_eq!(Some(narrow.as_slice()), acts.get(..3));
}

#[actix_web::test]
async fn nothing_is_shown_beyond_the_checkpoint_and_no_file_that_no_log_has() {
    let app = serve().await;
    let analyst = app.analyst().await;
    let before = checkpoint_over_all(&app).await;
    customers(&analyst, 0, 3).await;
    let after = checkpoint_over_all(&app).await;
    assert!(before < after && after < 256);
    let prefix = prefix(&app).await;
    let status = async |path: &str| {
        let answer = analyst.get(&format!("{prefix}/{path}")).await;
        if answer.status.as_u16() != 200 {
            assert!(!answer.problem().is_empty(), "{path}");
        }
        answer.status.as_u16()
    };
    for beyond in [
        format!("tile/0/000.p/{}", after + 1),
        format!("tile/entries/000.p/{}", after + 1),
        "tile/0/000".into(),
        "tile/entries/000".into(),
        "tile/0/001.p/1".into(),
        "tile/1/000.p/1".into(),
        "tile/63/000.p/1".into(),
        "tile/0/x999/x999/x999/x999/x999/999".into(),
        "nothing".into(),
    ] {
        assert_eq!(status(&beyond).await, 404, "{beyond}");
    }
    for no_path in [
        "tile/0/0",
        "tile/0/000.p/0",
        "tile/0/000.p/256",
        "tile/0/000.p/01",
        "tile/0/000.p/x",
        "tile/00/000",
        "tile/64/000",
        "tile/0/001/000",
        "tile/entries/x000",
        "tile/entries/1",
    ] {
        assert_eq!(status(no_path).await, 400, "{no_path}");
    }
    let id = prefix.split('/').nth(1).unwrap();
    for no_log in [
        format!("log/{id}/2/checkpoint"),
        format!("log/{id}/01/checkpoint"),
        format!("log/{id}/0/checkpoint"),
        "log/019ca869-5000-76a3-a0ec-7b3041d8cea3/1/checkpoint".into(),
        "log/quay/1/checkpoint".into(),
    ] {
        let refused = analyst.get(&no_log).await.expect(404);
        assert_eq!(refused.problem(), "not-found", "{no_log}");
    }

    // As long as only the checkpoint before was published, the tiles end with that.
    app.run_as_owner(&format!(
        "ALTER TABLE ledger_checkpoint DISABLE TRIGGER ledger_checkpoint_append_only; \
         DELETE FROM ledger_checkpoint WHERE size > {before}"
    ))
    .await;
    assert_eq!(status(&format!("tile/0/000.p/{before}")).await, 200);
    let beyond = before + 1;
    assert_eq!(status(&format!("tile/0/000.p/{beyond}")).await, 404);
    assert_eq!(status(&format!("tile/entries/000.p/{beyond}")).await, 404);
}
