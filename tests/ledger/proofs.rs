//! Proofs over HTTP: that a record is in the log, that the log only grew, and what is said while
//! there is no proof yet.

use crate::certificates::bench;
use crate::harness::callers::{Caller, TestApp, serve};
use crate::ledger::log_files::{checkpoint_over_all, prefix, verified};
use diesel_async::{AsyncConnection as _, AsyncPgConnection, SimpleAsyncConnection as _};
use domain::ledger::{Hash, act::ReadAct, checkpoint::ProofFile, tree};
use serde_json::{Value, json};

async fn customer(caller: &Caller, code: &str) -> String {
    let customer = json!({"code": code, "name": "Hollow Mill Ltd"});
    caller.post("/customers", customer).await.expect(201).id()
}

#[actix_web::test]
async fn a_post_answers_with_a_receipt_that_its_proof_bears_out() {
    let app = serve().await;
    let analyst = app.analyst().await;
    let key = crate::harness::callers::fresh_key();
    let body = json!({"code": "MILL", "name": "Hollow Mill Ltd"});
    let answer = analyst.post_raw("/customers", &key, &body).await;
    assert_eq!(answer.status().as_u16(), 201);
    let header = |answer: &reqwest::Response, name: &str| {
        let value = answer.headers().get(name);
        value.map(|value| value.to_str().unwrap().to_owned())
    };
    let entry = header(&answer, "assize-entry").unwrap();
    let records = header(&answer, "assize-records").unwrap();
    let address = header(&answer, "assize-proof").unwrap();
    let act = ReadAct::parse(&entry).unwrap().act;
    let hashes: Vec<Hash> = records
        .split(", ")
        .map(|hash| hash.parse().unwrap())
        .collect();
    assert_eq!(tree::root(&hashes), act.root);

    let proved = analyst.get_preferring(&address, "wait=10").await;
    let proved: Value = serde_json::from_slice(&proved.bytes().await.unwrap()).unwrap();
    assert_eq!(proved["act"]["entry"], entry);
    assert_eq!(proved["hash"], hashes[0].to_string());

    // A repeat records nothing: it says where the proof is.
    let again = analyst.post_raw("/customers", &key, &body).await;
    assert_eq!(header(&again, "assize-proof"), Some(address));
    assert_eq!(header(&again, "assize-entry"), None);
    let other = json!({"code": "MILL", "name": "Hollow Mill Ltd"});
    let refused = analyst
        .post_raw("/customers", &crate::harness::callers::fresh_key(), &other)
        .await;
    assert_eq!(refused.status().as_u16(), 409);
    assert_eq!(
        header(&refused, "assize-proof"),
        None,
        "nothing was recorded"
    );
}

fn path_of(value: &Value) -> Vec<Hash> {
    serde_json::from_value(value.clone()).unwrap()
}

async fn proof(caller: &Caller, subject: &str) -> Value {
    let path = format!("/records/{subject}/1/proof");
    let answer = caller.get_preferring(&path, "wait=10").await;
    assert_eq!(answer.headers()["preference-applied"], "wait=10");
    assert_eq!(answer.status().as_u16(), 200);
    serde_json::from_slice(&answer.bytes().await.unwrap()).unwrap()
}

#[actix_web::test]
async fn a_record_is_proved_from_its_text_to_a_checkpoint_that_verifies() {
    let app = serve().await;
    let analyst = app.analyst().await;
    let id = customer(&analyst, "MILL").await;
    let shown = proof(&analyst, &id).await;

    let record = shown["record"].as_str().unwrap();
    let hash = Hash::of_leaf(record.as_bytes());
    assert_eq!(shown["hash"], hash.to_string());
    let entry = shown["act"]["entry"].as_str().unwrap();
    let act = ReadAct::parse(entry).unwrap().act;
    assert_eq!(shown["act"]["id"], act.id.to_string());
    let position = shown["act"]["position"].as_u64().unwrap();
    let path = path_of(&shown["act"]["path"]);
    tree::verify_inclusion(position, act.records, &hash, &path, &act.root).unwrap();

    let note = shown["checkpoint"]["note"].as_str().unwrap();
    let checkpoint = verified(&app, note).await;
    assert_eq!(shown["checkpoint"]["size"], checkpoint.size);
    assert_eq!(shown["checkpoint"]["root"], checkpoint.root.to_string());
    assert_eq!(shown["entry"]["origin"], checkpoint.origin);
    let index = shown["entry"]["index"].as_u64().unwrap();
    let path = path_of(&shown["entry"]["path"]);
    let leaf = Hash::of_leaf(entry.as_bytes());
    tree::verify_inclusion(index, checkpoint.size, &leaf, &path, &checkpoint.root).unwrap();

    // The standard's file says the same.
    let file = format!("/records/{id}/1/entry.tlog-proof");
    let answer = analyst.get_preferring(&file, "wait=10").await;
    assert_eq!(
        answer.headers()["content-type"],
        "text/plain; charset=utf-8"
    );
    let text = answer.text().await.unwrap();
    let file = ProofFile::parse(&text).unwrap();
    assert_eq!(
        (file.index, file.hashes, file.checkpoint.as_str()),
        (index, path, note)
    );
    assert_eq!(shown["proof"], text);

    for missing in [
        format!("/records/{id}/2/proof"),
        "/records/019ca869-5003-7d46-b59c-6cf85cca57e4/1/entry.tlog-proof".into(),
    ] {
        let refused = analyst.get(&missing).await.expect(404);
        assert_eq!(refused.problem(), "not-found");
    }
}

async fn consistency(caller: &Caller, from: u64, to: u64) -> (u16, Value) {
    let path = format!("/logs/1/consistency?from={from}&to={to}");
    let answer = caller.get(&path).await;
    (answer.status.as_u16(), answer.body)
}

#[actix_web::test]
async fn whoever_kept_an_older_checkpoint_sees_that_the_log_only_grew() {
    let app = serve().await;
    let analyst = app.analyst().await;
    let file = format!("{}/checkpoint", prefix(&app).await);
    let checkpoint = async || {
        checkpoint_over_all(&app).await;
        let note = analyst.get_raw(&file).await.text().await.unwrap();
        verified(&app, &note).await
    };
    let older = checkpoint().await;
    for number in 0..9 {
        customer(&analyst, &format!("C-{number}")).await;
    }
    let newer = checkpoint().await;
    assert_eq!(newer.size, older.size + 9);

    let (_, shown) = consistency(&analyst, older.size, newer.size).await;
    let hashes = path_of(&shown["hashes"]);
    let (old, new) = (&older.root, &newer.root);
    tree::verify_consistency(older.size, newer.size, old, new, &hashes).unwrap();
    assert_eq!(shown["from_root"], old.to_string());
    assert_eq!(shown["to_root"], new.to_string());

    // Between any two sizes, whether a checkpoint was signed of them or not.
    for from in 1..=newer.size {
        for to in [from, from.midpoint(newer.size), newer.size] {
            let (status, shown) = consistency(&analyst, from, to).await;
            assert_eq!(status, 200, "{from} {to}: {shown}");
            let root = |name: &str| shown[name].as_str().unwrap().parse::<Hash>().unwrap();
            let (old, new) = (root("from_root"), root("to_root"));
            let hashes = path_of(&shown["hashes"]);
            tree::verify_consistency(from, to, &old, &new, &hashes).unwrap();
            if to == newer.size {
                assert_eq!(new, newer.root);
            }
        }
    }
    for (from, to, status) in [
        (0, newer.size, 400),
        (5, 4, 400),
        (1, newer.size + 1, 404),
        (newer.size, newer.size + 1, 404),
    ] {
        let (told, body) = consistency(&analyst, from, to).await;
        assert_eq!(told, status, "{from} {to}: {body}");
    }
    analyst
        .get("/logs/2/consistency?from=1&to=1")
        .await
        .expect(404);
    analyst.get("/logs/1/consistency?from=1").await.expect(400);
}

/// Keeps entries from being appended for as long as it lives.
async fn hold_the_head(app: &TestApp) -> AsyncPgConnection {
    let mut holder = AsyncPgConnection::establish(&app.database.owner_url)
        .await
        .unwrap();
    holder
        .batch_execute("BEGIN; SELECT FROM ledger_head FOR UPDATE")
        .await
        .unwrap();
    holder
}

#[actix_web::test]
async fn what_no_checkpoint_covers_yet_says_when_to_come_back() {
    let app = serve().await;
    let bench = bench(&app).await;
    checkpoint_over_all(&app).await;
    let mut holder = hold_the_head(&app).await;
    let issued = bench.issued().await;
    let proof = format!("/records/{}/1/proof", issued.id());
    let file = format!("/records/{}/1/entry.tlog-proof", issued.id());
    let link = |name: &str| issued.body["links"][name].as_str().unwrap().to_owned();
    let check = link("check").trim_start_matches('/').to_owned();
    let paths = [
        proof.clone(),
        file,
        link("bundle"),
        link("pdf"),
        format!("{check}/bundle"),
        format!("{check}/pdf"),
    ];
    for path in &paths {
        let answer = bench.analyst.get_preferring(path, "wait=0").await;
        assert_eq!(answer.status().as_u16(), 202, "{path}");
        assert_eq!(answer.headers()["retry-after"], "1");
        assert_eq!(answer.headers()["preference-applied"], "wait=0");
        let body: Value = serde_json::from_slice(&answer.bytes().await.unwrap()).unwrap();
        assert_eq!(body["state"], "waiting-for-checkpoint", "{path}");
    }
    let begun = std::time::Instant::now();
    let answer = bench.analyst.get_preferring(&proof, "wait=1").await;
    assert_eq!(answer.status().as_u16(), 202);
    assert!(begun.elapsed().as_millis() >= 900, "it waited");
    assert_eq!(
        app.count("SELECT count(proof) FROM certificates_document")
            .await,
        0
    );
    let (status, page) = crate::certificates::page(&app, &link("check")).await;
    assert_eq!(status, 200);
    assert!(
        page.contains("Not yet: it is signed and recorded"),
        "{page}"
    );

    holder.batch_execute("ROLLBACK").await.unwrap();
    let bundle = async |path: &str| {
        let answer = bench.analyst.get_preferring(path, "wait=10").await;
        assert_eq!(answer.status().as_u16(), 200, "{path}");
        answer.bytes().await.unwrap()
    };
    let first = bundle(&link("bundle")).await;
    assert_eq!(
        app.count("SELECT count(proof) FROM certificates_document")
            .await,
        1
    );
    // Later checkpoints do not change what was handed out.
    customer(&bench.analyst, "LATER").await;
    checkpoint_over_all(&app).await;
    assert!(bundle(&link("bundle")).await == first);
    assert!(bundle(&format!("{check}/bundle")).await == first);
    let (_, page) = crate::certificates::page(&app, &link("check")).await;
    assert!(page.contains("Yes: it is entry "), "{page}");
}

#[actix_web::test]
async fn no_proof_is_made_of_hashes_that_do_not_lead_to_what_was_signed() {
    let app = serve().await;
    let analyst = app.analyst().await;
    let id = customer(&analyst, "MILL").await;
    customer(&analyst, "BUYER").await;
    let size = checkpoint_over_all(&app).await;
    proof(&analyst, &id).await;
    app.run_as_owner(
        "UPDATE ledger_head SET unfinished[1] = \
         set_byte(unfinished[1], octet_length(unfinished[1]) - 1, \
           get_byte(unfinished[1], octet_length(unfinished[1]) - 1) # 1)",
    )
    .await;
    let path = format!("/records/{id}/1/proof");
    let refused = analyst.get(&path).await.expect(500);
    assert_eq!(refused.problem(), "internal");
    assert!(size > 2);
}
