//! Acts become entries, and the log is signed: while people write, with two processes, and after
//! the process died at any step.

use super::log::{log_of, logged};
use crate::harness::{
    callers::{TestApp, prepared, serve, serve_again, serve_again_at},
    service::Service,
};
use api::clock::Clock;
use domain::ledger::{checkpoint::Checkpoint, note::Note};
use futures_util::future::join_all;
use serde_json::json;

fn customer(number: usize) -> serde_json::Value {
    json!({"code": format!("MILL-{number}"), "name": format!("Hollow Mill {number}")})
}

async fn register(app: &TestApp, numbers: std::ops::Range<usize>) {
    let analyst = app.analyst().await;
    join_all(numbers.map(|number| {
        let analyst = analyst.clone();
        async move {
            analyst
                .post("/customers", customer(number))
                .await
                .expect(201);
        }
    }))
    .await;
}

#[actix_web::test]
async fn every_act_gets_one_entry_and_the_log_is_signed_from_its_beginning() {
    let app = serve().await;
    register(&app, 0..30).await;
    let log = logged(&app).await;
    log.check();
    assert!(log.entries.len() > 30);
    assert_eq!(log.checkpoints[0].0, 0, "the first is over no entries");
    let key = log.verifier_key();
    for (size, note) in &log.checkpoints {
        let read = Note::parse(note).unwrap();
        read.verify(&[&key]).unwrap();
        let checkpoint = Checkpoint::parse(read.text()).unwrap();
        assert_eq!(checkpoint.size, *size);
        assert_eq!(checkpoint.root, log.root_of(*size), "at {size}");
    }
    // What is said of the queue is a second old at the most.
    tokio::time::sleep(std::time::Duration::from_millis(1500)).await;
    let health = app.anonymous().get_raw("health").await;
    let health: serde_json::Value = health.json().await.unwrap();
    assert_eq!(health["status"], "ok");
    assert_eq!(health["log"]["oldest_pending_s"], 0);
}

#[actix_web::test]
async fn two_processes_sequence_one_laboratory_and_nothing_is_lost_or_doubled() {
    let app = serve().await;
    // Another process on another host: it has a file of its own.
    let other = serve_again(&app).await;
    let analyst = app.analyst().await;
    let twin = other.sign_in("analyst").await;
    join_all((0..120).map(|number| {
        let caller = if number % 2 == 0 { &analyst } else { &twin };
        async move {
            caller
                .post("/customers", customer(number))
                .await
                .expect(201);
        }
    }))
    .await;
    // Versions of one subject from both sides.
    let made = analyst.post("/customers", customer(999)).await.expect(201);
    for version in 1_i64..12 {
        let caller = if version % 2 == 0 { &analyst } else { &twin };
        let moved = json!({"code": "MILL-999", "name": format!("Hollow Mill, now at {version}")});
        let why = json!({"code": "late-information", "text": "They moved."});
        let body = json!({"customer": moved, "reason": why});
        caller
            .put(&format!("/customers/{}", made.id()), version, body)
            .await
            .expect(200);
    }
    let log = logged(&app).await;
    log.check();
    assert_eq!(log.pending, 0);
}

/// The process dies at each step; the next one goes on from there, and nothing that was answered is
/// missing.
#[actix_web::test]
async fn whatever_step_the_process_dies_at_the_log_goes_on() {
    let mut app = prepared().await;
    let first = Service::start(&app, &[]).await;
    app.begin().await;
    let analyst = app.analyst().await;
    logged(&app).await;
    drop(first);
    let mut answered = 0;
    for (round, step) in ["appending", "appended", "kept-outside", "signing", "signed"]
        .into_iter()
        .enumerate()
    {
        let before = log_of(&app).await;
        let mut doomed = Service::start(&app, &[("ASSIZE_FAIL_POINT", step)]).await;
        for number in 0..3 {
            let body = customer(round * 10 + number);
            if analyst.try_post("/customers", body).await == Some(201) {
                answered += 1;
            }
        }
        assert!(doomed.ends_within(20).await, "{step}: it did not die");
        let cut = log_of(&app).await;
        cut.check_so_far();
        assert_eq!(cut.entries[..before.entries.len()], before.entries[..]);
        let next = Service::start(&app, &[]).await;
        let after = logged(&app).await;
        after.check();
        assert_eq!(
            after.entries[..cut.entries.len()],
            cut.entries[..],
            "{step}"
        );
        drop(next);
    }
    let kept = app.count("SELECT count(*) FROM customers_customer").await;
    assert!(
        answered > 0 && kept >= answered,
        "{answered} were answered, {kept} kept"
    );
}

#[actix_web::test]
async fn a_database_put_back_to_an_older_state_is_found_out_and_the_next_log_begins() {
    let mut app = prepared().await;
    let running = Service::start(&app, &[]).await;
    app.begin().await;
    let analyst = app.analyst().await;
    let quality = app.quality_manager().await;
    analyst.post("/customers", customer(1)).await.expect(201);
    let older = logged(&app).await;
    let backup = app.database.copy().await;
    analyst.post("/customers", customer(2)).await.expect(201);
    let newer = logged(&app).await;
    assert!(newer.entries.len() > older.entries.len());
    drop(running);

    let restored = app.on(backup);
    let running = Service::start(&restored, &[]).await;
    let health = restored.anonymous().get_raw("health").await;
    let health: serde_json::Value = health.json().await.unwrap();
    assert_eq!(health["status"], "log-suspended");
    let refused = analyst.post("/customers", customer(3)).await.expect(503);
    assert_eq!(refused.body["type"], "/problems/log-suspended");
    analyst.get("/customers").await.expect(200);
    let why = "The disk failed; the operator put yesterday's backup back.";
    analyst
        .post("/logs", json!({"statement": why}))
        .await
        .expect(403);
    quality
        .post("/logs", json!({"statement": "Too short."}))
        .await
        .expect(422);
    let begun = quality
        .post("/logs", json!({"statement": why}))
        .await
        .expect(201);
    assert_eq!(begun.body["number"], 2);
    let signed = newer.checkpoints.last().unwrap().0;
    assert_eq!(begun.body["follows"]["size"], signed);
    assert_eq!(begun.body["follows"]["kept"], older.entries.len());
    analyst.post("/customers", customer(3)).await.expect(201);
    let second = logged(&restored).await;
    second.check();
    assert_eq!(second.number, 2);
    let again = quality
        .post("/logs", json!({"statement": why}))
        .await
        .expect(409);
    assert_eq!(again.body["type"], "/problems/log-goes-on");
    drop(running);
}

#[actix_web::test]
async fn an_act_that_no_key_signed_stops_the_log_before_it() {
    let app = serve().await;
    let before = logged(&app).await;
    // A superuser slips in an act: another one's signed bytes under a new id.
    app.run_as_owner(
        "INSERT INTO ledger_act SELECT laboratory_id, gen_random_uuid(), action, actor, \
           recorded_at, record_count, entry, records FROM ledger_act LIMIT 1; \
         INSERT INTO ledger_pending (laboratory_id, act_id) SELECT laboratory_id, act_id \
           FROM ledger_act WHERE act_id NOT IN (SELECT act_id FROM ledger_entry)",
    )
    .await;
    tokio::time::sleep(std::time::Duration::from_millis(1500)).await;
    let after = log_of(&app).await;
    after.check_so_far();
    assert_eq!(
        (after.entries.len(), after.pending),
        (before.entries.len(), 1)
    );
}

#[actix_web::test]
async fn a_clock_an_hour_back_changes_neither_order_nor_signing() {
    let app = serve().await;
    let analyst = app.analyst().await;
    analyst.post("/customers", customer(1)).await.expect(201);
    let before = logged(&app).await;
    let late = serve_again_at(&app, Clock::shifted(-3_600)).await;
    let behind = late.sign_in("analyst").await;
    for number in 2..6 {
        let caller = if number % 2 == 0 { &behind } else { &analyst };
        caller
            .post("/customers", customer(number))
            .await
            .expect(201);
    }
    let after = logged(&app).await;
    after.check();
    assert_eq!(after.entries[..before.entries.len()], before.entries[..]);
    assert!(after.checkpoints.len() > before.checkpoints.len());
}

#[actix_web::test]
async fn connections_lost_at_any_moment_lose_and_double_nothing() {
    let app = serve().await;
    let analyst = app.analyst().await;
    let cut = async {
        for _ in 0..25 {
            app.run_as_owner(
                "SELECT pg_terminate_backend(pid) FROM pg_stat_activity \
                  WHERE datname = current_database() AND pid <> pg_backend_pid()",
            )
            .await;
            tokio::time::sleep(std::time::Duration::from_millis(40)).await;
        }
    };
    let post = async {
        let mut answered = 0;
        for number in 0..60 {
            match analyst.try_post("/customers", customer(number)).await {
                Some(201) => answered += 1,
                Some(503) => {}
                other => assert!(other.is_none(), "{other:?}"),
            }
            tokio::time::sleep(std::time::Duration::from_millis(10)).await;
        }
        answered
    };
    let ((), answered) = futures_util::future::join(cut, post).await;
    let log = logged(&app).await;
    log.check();
    let kept = app.count("SELECT count(*) FROM customers_customer").await;
    assert!(
        answered > 0 && kept >= answered,
        "{answered} answered, {kept} kept"
    );
}
