//! Keys announced and withdrawn while two processes write; a compromised one; what is refused.

use super::{
    log::{log_of, logged},
    trust_file::trust_file,
};
use crate::{
    certificates,
    harness::callers::{Caller, TestApp, serve, serve_again},
};
use actix_web::rt;
use api::secrets::Seed;
use diesel_async::{AsyncConnection as _, AsyncPgConnection, RunQueryDsl as _};
use domain::{
    id::ActId,
    ledger::{
        Act, Actor, RecordDraft, SecretKey,
        act::{self, ReadAct},
        checkpoint::Checkpoint,
        note::Note,
        report::Status,
        trust::Trust,
        verify_bundle,
    },
};
use serde_json::{Value, json};
use std::{
    cell::Cell,
    collections::BTreeMap,
    rc::Rc,
    time::{Duration, Instant},
};

/// Waits until something is so.
async fn until(what: &str, mut so: impl AsyncFnMut() -> bool) {
    let begun = Instant::now();
    while !so().await {
        assert!(begun.elapsed() < Duration::from_secs(30), "{what}");
        tokio::time::sleep(Duration::from_millis(50)).await;
    }
}

async fn keys(manager: &Caller) -> Vec<Value> {
    let listed = manager.get("/keys").await.expect(200);
    listed.body["items"].as_array().unwrap().clone()
}

async fn key_of(manager: &Caller, id: &str) -> Value {
    let keys = keys(manager).await;
    keys.into_iter().find(|key| key["id"] == id).unwrap()
}

async fn only_key(manager: &Caller, signs: &str) -> String {
    let keys = keys(manager).await;
    let key = keys.iter().find(|key| key["use"] == signs).unwrap();
    key["id"].as_str().unwrap().to_owned()
}

fn why(code: &str) -> Value {
    json!({"reason": {"code": code, "text": "As the procedure for keys asks."}})
}

/// Whether every act has an entry, signed by a key that was good at it, and every checkpoint is
/// signed by a key of its log; how many entries each key signed.
async fn verified(app: &TestApp) -> BTreeMap<String, usize> {
    let log = logged(app).await;
    log.check();
    let trust = Trust::parse(&trust_file(app).await).unwrap();
    let mut signed: BTreeMap<String, usize> = BTreeMap::new();
    for one in &log.entries {
        let index = u64::try_from(one.entry_index).unwrap();
        let act = ReadAct::parse(&one.entry).unwrap();
        let key = trust.key_at(&act.kid, 1, index);
        let key = key.unwrap_or_else(|| unreachable!("{} at entry {index}", act.kid));
        act.verify(&key.key).unwrap();
        *signed.entry(act.kid).or_default() += 1;
    }
    let log_keys: Vec<_> = trust.logs.iter().map(|log| &log.key).collect();
    for (size, note) in &log.checkpoints {
        let note = Note::parse(note).unwrap();
        note.verify(&log_keys).unwrap();
        let checkpoint = Checkpoint::parse(note.text()).unwrap();
        assert_eq!(checkpoint.root, log.root_of(*size));
    }
    signed
}

/// Posts customers until it is told to stop; how many.
fn keep_posting(by: Caller, name: usize, stop: Rc<Cell<bool>>) -> rt::task::JoinHandle<usize> {
    rt::spawn(async move {
        let mut made = 0;
        while !stop.get() {
            let body = json!({"code": format!("C-{name}-{made}"), "name": "A mill"});
            by.post("/customers", body).await.expect(201);
            made += 1;
            tokio::time::sleep(Duration::from_millis(10)).await;
        }
        made
    })
}

#[actix_web::test]
async fn keys_come_and_go_while_two_processes_write_and_everything_verifies() {
    let app = serve().await;
    let other = serve_again(&app).await;
    let manager = app.quality_manager().await;
    app.analyst().await;
    let (old_record, old_log) = (
        only_key(&manager, "record").await,
        only_key(&manager, "log").await,
    );
    let stop = Rc::new(Cell::new(false));
    let mut writers = Vec::new();
    for number in 0..6 {
        let service = if number % 2 == 0 { &app } else { &other };
        let by = service.sign_in("analyst").await;
        writers.push(keep_posting(by, number, Rc::clone(&stop)));
    }
    let withdrawal = format!("/keys/{old_record}/withdrawal");
    let early = manager.post_seen(&withdrawal, 1, why("key-rotation")).await;
    assert_eq!(early.expect(409).problem(), "only-signing-key");
    let mut announced = Vec::new();
    for signs in ["record", "log"] {
        let made = manager
            .post("/keys", json!({"use": signs}))
            .await
            .expect(201);
        announced.push(made.id());
    }
    for id in &announced {
        until("the new key is good", async || {
            key_of(&manager, id).await.get("from").is_some()
        })
        .await;
    }
    // Overlap: both are good, and every process signs with the new one.
    tokio::time::sleep(Duration::from_millis(500)).await;
    let manager_there = other.sign_in("quality").await;
    let gone = manager_there
        .post_seen(&withdrawal, 1, why("key-rotation"))
        .await
        .expect(200);
    assert_eq!(gone.body["withdrawn"], true);
    let again = manager
        .post_seen(&withdrawal, 2, why("key-rotation"))
        .await
        .expect(409);
    assert_eq!(again.problem(), "key-withdrawn");
    let withdrawal = format!("/keys/{old_log}/withdrawal");
    manager
        .post_seen(&withdrawal, 1, why("key-rotation"))
        .await
        .expect(200);
    tokio::time::sleep(Duration::from_millis(500)).await;
    stop.set(true);
    let mut made = 0;
    for writer in writers {
        made += writer.await.unwrap();
    }
    logged(&app).await;
    // Asked before: verifying takes so long that the service hangs up meanwhile.
    let old = key_of(&manager, &old_record).await;
    let new = key_of(&manager, &announced[0]).await;
    let signed = verified(&app).await;
    assert!(
        signed.values().sum::<usize>() > made,
        "{signed:?}, {made} customers"
    );
    for key in [&old, &new] {
        assert!(signed[key["kid"].as_str().unwrap()] > 6, "{signed:?}");
    }
    assert!(
        old["until"]["entry"].as_u64() > new["from"]["entry"].as_u64(),
        "an overlap"
    );
    let trust = Trust::parse(&trust_file(&app).await).unwrap();
    assert_eq!((trust.keys.len(), trust.logs.len()), (2, 2));
}

#[actix_web::test]
async fn a_compromised_key_goes_at_once_and_what_it_signed_before_stands() {
    let app = serve().await;
    let bench = certificates::bench(&app).await;
    let manager = app.sign_in("quality").await;
    let issued = bench.issued().await;
    let log = logged(&app).await;
    let path = issued.body["links"]["bundle"].as_str().unwrap().to_owned();
    let bundle = certificates::bytes(&bench.analyst, &path).await;
    let mut bundle: Value = serde_json::from_slice(&bundle).unwrap();
    bundle["proof"] = json!(log.proof_of(bundle["act"].as_str().unwrap()));
    let bundle = bundle.to_string().into_bytes();
    let before = trust_file(&app).await;
    assert_eq!(
        verify_bundle(&bundle, Some(&before)).status(),
        Status::Verified
    );

    for signs in ["record", "log"] {
        let key = only_key(&manager, signs).await;
        let withdrawal = format!("/keys/{key}/withdrawal");
        bench
            .analyst
            .post_seen(&withdrawal, 1, why("key-compromised"))
            .await
            .expect(403);
        manager
            .post_seen(&withdrawal, 3, why("key-compromised"))
            .await
            .expect(412);
        let gone = manager
            .post_seen(&withdrawal, 1, why("key-compromised"))
            .await
            .expect(200);
        assert_eq!(
            (gone.body["withdrawn"].clone(), gone.body["version"].clone()),
            (json!(true), json!(2))
        );
    }
    let party = json!({"code": "LATER", "name": "A mill"});
    bench.analyst.post("/customers", party).await.expect(201);
    logged(&app).await;
    let keys = keys(&manager).await;
    assert_eq!(verified(&app).await.len(), 2);

    // Its successor is good from the entry on at which it ends.
    let of_records: Vec<&Value> = keys.iter().filter(|key| key["use"] == "record").collect();
    assert_eq!(of_records.len(), 2);
    let (new, old) = (of_records[0], of_records[1]);
    assert_eq!(new["from"], old["until"]);
    // The certificate was logged before that; without its proof nobody could tell.
    let trust = trust_file(&app).await;
    let report = verify_bundle(&bundle, Some(&trust));
    assert_eq!(report.status(), Status::Verified, "{report}");
    assert!(report.to_string().contains("withdrawn"), "{report}");
    let check = issued.body["links"]["check"].as_str().unwrap();
    let (status, page) = crate::certificates::page(&app, check).await;
    assert_eq!(status, 200);
    let entry = old["until"]["entry"].as_u64().unwrap();
    let said = format!("has withdrawn the key that signed this certificate, from entry {entry} of");
    assert!(page.contains(&said), "{page}");
    let mut unproved: Value = serde_json::from_slice(&bundle).unwrap();
    unproved.as_object_mut().unwrap().remove("proof");
    let report = verify_bundle(unproved.to_string().as_bytes(), Some(&trust));
    assert_eq!(report.status(), Status::Failed, "{report}");
    let parsed = Trust::parse(&trust).unwrap();
    let kid = old["kid"].as_str().unwrap();
    let until = old["until"]["entry"].as_u64().unwrap();
    assert!(parsed.key_at(kid, 1, until - 1).is_some());
    assert!(parsed.key_at(kid, 1, until).is_none());
}

#[derive(diesel::QueryableByName)]
struct Sealed {
    #[diesel(sql_type = diesel::sql_types::Binary)]
    sealed: Vec<u8>,
}

/// The private half of a key, as somebody has it who has the database and the file with the
/// key-encryption key.
async fn stolen(app: &TestApp, id: &str) -> SecretKey {
    let mut owner = AsyncPgConnection::establish(&app.database.owner_url)
        .await
        .unwrap();
    let row: Sealed = diesel::sql_query(format!(
        "SELECT sealed_private_key AS sealed FROM ledger_key WHERE key_id = '{id}'"
    ))
    .get_result(&mut owner)
    .await
    .unwrap();
    let laboratory = app.state.laboratory("quay").await.unwrap().unwrap().id;
    let encryption = Seed::from_file(&app.state.config.key_file).unwrap();
    let seed = encryption.open(&format!("{laboratory}/{id}"), &row.sealed);
    SecretKey::from_seed(&seed.unwrap())
}

#[actix_web::test]
async fn an_act_that_a_withdrawn_key_signed_stops_the_log_before_it() {
    let app = serve().await;
    let manager = app.quality_manager().await;
    let old = only_key(&manager, "record").await;
    let withdrawal = format!("/keys/{old}/withdrawal");
    manager
        .post_seen(&withdrawal, 1, why("key-compromised"))
        .await
        .expect(200);
    let size = logged(&app).await.entries.len();
    let key = stolen(&app, &old).await;
    let laboratory = app.state.laboratory("quay").await.unwrap().unwrap().id;
    let id: ActId = api::ids::fresh();
    let record = RecordDraft {
        act: id,
        laboratory,
        kind: "site",
        schema: 1,
        subject: api::ids::fresh(),
        version: 1,
        previous: None,
        content: &json!({"code": "FORGED"}),
    }
    .seal()
    .unwrap();
    let entry = Act {
        id,
        action: "register-site".into(),
        actor: Actor::Process {
            process: "set-up".into(),
        },
        laboratory,
        reason: None,
        records: 1,
        root: act::root(&[record.hash]).unwrap(),
        time: "2026-03-01T08:00:00Z".parse().unwrap(),
    }
    .sign(&key)
    .unwrap()
    .into_text();
    app.run_as_owner(&format!(
        "INSERT INTO ledger_act (laboratory_id, act_id, action, actor, recorded_at, \
             record_count, entry, records) \
         SELECT laboratory_id, '{id}', 'register-site', '{{\"process\": \"set-up\"}}', now(), 1, \
             '{entry}', convert_to($record${}$record$ || chr(10), 'UTF8') \
         FROM laboratories_laboratory; \
         INSERT INTO ledger_pending (laboratory_id, act_id) \
         SELECT laboratory_id, '{id}' FROM laboratories_laboratory",
        record.text
    ))
    .await;
    let party = json!({"code": "LATER", "name": "A mill"});
    app.analyst()
        .await
        .post("/customers", party)
        .await
        .expect(201);
    tokio::time::sleep(Duration::from_secs(3)).await;
    let log = log_of(&app).await;
    log.check_so_far();
    assert_eq!(log.entries.len(), size, "nothing goes past it");
    assert!(log.pending > 1);
    let health = app.anonymous().get("health").await;
    assert!(health.body["log"]["oldest_pending_s"].as_i64() > Some(0));
}
