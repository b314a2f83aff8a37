//! Releasing results and returning them.

use super::{release, shown, versions};
use crate::{
    harness::callers::{PASSWORD, fresh_key, serve},
    harness::fixtures::bench_of,
    runs::run,
};
use diesel_async::{AsyncConnection as _, AsyncPgConnection, SimpleAsyncConnection as _};
use serde_json::json;

#[actix_web::test]
async fn a_second_person_releases_what_was_shown_with_the_password_given_again() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    let reading = run(&bench, 0, "number", Some("4.13"));
    bench.analyst.post("/runs", reading).await.expect(201);
    let reviewer = app.reviewer().await;
    let results = versions(&shown(&reviewer, &bench.samples[0]).await);
    let body = |password: &str| json!({"meaning": "release", "results": results, "password": password, "comment": "Reading and arithmetic checked."});

    let key = fresh_key();
    let wrong = reviewer
        .post_once("/reviews", &key, body("not my password"))
        .await
        .expect(403);
    assert_eq!(wrong.problem(), "not-permitted");
    let unsigned = shown(&reviewer, &bench.samples[0]).await;
    assert_eq!(unsigned[0]["state"], "ready", "nothing was left behind");
    let refused = bench.analyst.post("/reviews", body(PASSWORD)).await;
    refused.expect(403);

    let made = reviewer
        .post_once("/reviews", &key, body(PASSWORD))
        .await
        .expect(201);
    assert_eq!(made.body["meaning"], "release");
    assert_eq!(json!(reviewer.id), made.body["reviewer"]);
    let again = reviewer
        .post_once("/reviews", &key, body(PASSWORD))
        .await
        .expect(201);
    assert_eq!(made.body, again.body, "the same request is done once");
    let released = shown(&reviewer, &bench.samples[0]).await;
    assert_eq!(released[0]["state"], "released");
    assert!(released[0]["released_at"].is_string() || released[0]["changed_at"].is_string());

    // One act holds the signature and what it released.
    let trail = reviewer
        .get(&format!("/records?subject={}", made.id()))
        .await;
    let result = released[0]["id"].as_str().unwrap();
    let of_result = reviewer.get(&format!("/records?subject={result}")).await;
    let (signed, moved) = (&trail.body["items"][0], &of_result.body["items"][0]);
    assert_eq!(signed["act"], moved["act"]);
    assert_eq!(signed["action"], "release-results");
    let record = signed["record"].as_str().unwrap();
    assert!(!record.contains("arithmetic"), "a comment is a digest");
    let shown_again = reviewer.get(&made.location.unwrap()).await.expect(200);
    assert_eq!(shown_again.body["results"], made.body["results"]);
    let of = reviewer.get(&format!("/reviews?result={result}")).await;
    assert_eq!(of.body["items"].as_array().unwrap().len(), 1);

    let twice = release(&reviewer, &bench.samples[0]).await.expect(409);
    assert_eq!(twice.problem(), "not-in-this-state");
    crate::rebuild::is_told_by_records(&app).await;
}

#[actix_web::test]
async fn wrong_passwords_at_a_signature_lock_the_account_as_those_at_sign_in_do() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    let reading = run(&bench, 0, "number", Some("4.13"));
    bench.analyst.post("/runs", reading).await.expect(201);
    let reviewer = app.reviewer().await;
    let results = versions(&shown(&reviewer, &bench.samples[0]).await);
    let body =
        |password: &str| json!({"meaning": "release", "results": results, "password": password});
    let sign_in = |password: &str| json!({"login": "reviewer", "password": password});
    let nobody = app.anonymous();
    for _ in 0..5 {
        nobody
            .post("/tokens", sign_in("not my password"))
            .await
            .expect(401);
        reviewer
            .post("/reviews", body("not my password"))
            .await
            .expect(403);
    }
    let locked = reviewer.post("/reviews", body(PASSWORD)).await.expect(429);
    assert_eq!(locked.problem(), "too-many-attempts");
    nobody.post("/tokens", sign_in(PASSWORD)).await.expect(429);
    let unsigned = shown(&reviewer, &bench.samples[0]).await;
    assert_eq!(unsigned[0]["state"], "ready", "nothing was left behind");
    let recorded = app
        .count("SELECT count(*) FROM ledger_act WHERE action = 'signature-attempt'")
        .await;
    assert_eq!(recorded, 5);
}

#[actix_web::test]
async fn what_changed_since_it_was_shown_is_not_signed() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    let reading = run(&bench, 0, "number", Some("4.13"));
    bench.analyst.post("/runs", reading).await.expect(201);
    let reviewer = app.reviewer().await;
    let old = versions(&shown(&reviewer, &bench.samples[0]).await);
    let later = run(&bench, 20, "number", Some("4.31"));
    bench.analyst.post("/runs", later).await.expect(201);
    let stale = reviewer
        .post(
            "/reviews",
            json!({"meaning": "release", "results": old, "password": PASSWORD}),
        )
        .await
        .expect(412);
    assert_eq!(stale.problem(), "stale-version");
    let detail = stale.body["detail"].as_str().unwrap();
    assert!(
        detail.contains(old[0]["result"].as_str().unwrap()),
        "{detail}"
    );
    let list = reviewer.get("/reviews").await.expect(200);
    assert_eq!(list.body["items"], json!([]));
    for (results, pointer) in [
        (json!([]), "#/results"),
        (json!([old[0], old[0]]), "#/results/1"),
        (
            json!([{"result": "019ca869-5003-7d46-b59c-6cf85cca57e5", "version": 1}]),
            "#/results",
        ),
    ] {
        let refused = reviewer
            .post(
                "/reviews",
                json!({"meaning": "release", "results": results, "password": PASSWORD}),
            )
            .await
            .expect(422);
        assert_eq!(refused.body["errors"][0]["pointer"], pointer);
    }
}

#[actix_web::test]
async fn nobody_releases_work_of_their_own_nor_what_is_held() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    let both = app.account("both", &["analyst", "reviewer"]).await;
    let mut own = run(&bench, 0, "number", Some("4.13"));
    own["analyst"] = json!(bench.analyst.id);
    both.post("/runs", own).await.expect(201);
    let refused = release(&both, &bench.samples[0]).await.expect(409);
    assert_eq!(
        refused.problem(),
        "own-work",
        "who enters a run does not release it"
    );

    let mut late = run(&bench, 20, "number", Some("4.2"));
    late["curve_lot"] = json!("C-999");
    bench.analyst.post("/runs", late).await.expect(201);
    let reviewer = app.reviewer().await;
    let held = release(&reviewer, &bench.samples[0]).await.expect(409);
    assert_eq!(held.problem(), "held");
    let detail = held.body["detail"].as_str().unwrap();
    assert!(detail.contains("curve-mismatch"), "{detail}");
    let list = reviewer.get("/reviews").await.expect(200);
    assert_eq!(list.body["items"], json!([]));
}

#[actix_web::test]
async fn a_return_says_what_to_look_at() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    let reading = run(&bench, 0, "number", Some("4.13"));
    bench.analyst.post("/runs", reading).await.expect(201);
    let reviewer = app.reviewer().await;
    let results = versions(&shown(&reviewer, &bench.samples[0]).await);
    let mut body = json!({"meaning": "return", "results": results, "password": PASSWORD});
    let silent = reviewer.post("/reviews", body.clone()).await.expect(422);
    assert_eq!(silent.body["errors"][0]["pointer"], "#/comment");
    body["comment"] = json!("The strip's barcode is not readable on the photograph.");
    let made = reviewer.post("/reviews", body).await.expect(201);
    assert_eq!(
        shown(&reviewer, &bench.samples[0]).await[0]["state"],
        "returned"
    );
    let trail = reviewer
        .get(&format!("/records?subject={}", made.id()))
        .await;
    assert_eq!(trail.body["items"][0]["action"], "return-results");
}

#[actix_web::test]
async fn what_waits_to_be_computed_again_is_not_released() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    let reading = run(&bench, 0, "number", Some("4.13"));
    bench.analyst.post("/runs", reading).await.expect(201);
    let reviewer = app.reviewer().await;
    // The lock keeps the service's own job from doing it meanwhile.
    let mut busy = AsyncPgConnection::establish(&app.database.owner_url)
        .await
        .unwrap();
    busy.batch_execute(&format!(
        "BEGIN; INSERT INTO results_recomputation \
             (laboratory_id, sample_id, cause_id, cause_version, due_since) \
         SELECT laboratory_id, sample_id, sample_id, 1, now() FROM samples_sample \
         WHERE sample_id = '{}'; \
         COMMIT; BEGIN; SELECT FROM results_recomputation FOR UPDATE",
        bench.samples[0]
    ))
    .await
    .unwrap();
    let refused = release(&reviewer, &bench.samples[0]).await.expect(409);
    assert_eq!(refused.problem(), "computation-due");
}
