//! Accepting a hold in a browser: a reason, a signature, and the result waits for its review.

use crate::{
    harness::{
        browser::Browser,
        callers::{LAB, PASSWORD, serve},
        fixtures::bench_of,
    },
    runs::run,
};
use serde_json::json;

#[actix_web::test]
async fn a_reviewer_accepts_a_hold_with_a_reason_and_the_password_given_again() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    let mut amiss = run(&bench, 0, "number", Some("4.13"));
    amiss["matrix"] = json!("wheat");
    let amiss = bench.analyst.post("/runs", amiss).await.expect(201);
    assert_eq!(amiss.body["holds"][0]["kind"], "matrix-mismatch");
    app.reviewer().await;
    let page = format!("{}/{LAB}/samples/{}", app.base, bench.samples[0]);
    let browser = Browser::start(1200, 1500).await;
    let client = &browser.client;

    client.goto(&page).await.unwrap();
    browser.fill("#login", "reviewer").await;
    browser.fill("#password", PASSWORD).await;
    browser.click("main button").await;
    browser.click("ul.holds summary").await;
    browser
        .fill("#reason-1", "The curves of both matrices are one.")
        .await;
    browser.fill("#password-1", "not my password").await;
    browser.keep_picture("hold-form").await;
    browser.click("ul.holds button").await;
    let refused = browser.text(".faults").await;
    assert!(refused.contains("The password is not yours"), "{refused}");
    browser.keep_picture("hold-refused").await;

    // What was typed stays, save the password.
    browser.fill("#password-1", PASSWORD).await;
    browser.click("ul.holds button").await;
    assert_eq!(
        browser.text("[role=status]").await,
        "The hold was accepted."
    );
    let lifted = browser.text("ul.holds li").await;
    assert!(lifted.contains("Accepted by Person reviewer"), "{lifted}");
    assert!(
        lifted.contains("The curves of both matrices are one."),
        "{lifted}"
    );
    browser.keep_picture("hold-accepted").await;
    let of_run = format!("/holds?subject={}", amiss.id());
    let holds = bench.analyst.get(&of_run).await.expect(200);
    assert_eq!(holds.body["items"][0]["lifted"]["how"], "acceptance");
    client.clone().close().await.unwrap();
}

#[actix_web::test]
async fn a_hold_is_not_accepted_by_whose_work_it_is_nor_from_another_site() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    let mut amiss = run(&bench, 0, "number", Some("4.13"));
    amiss["matrix"] = json!("wheat");
    let amiss = bench.analyst.post("/runs", amiss).await.expect(201);
    let of_run = format!("/holds?subject={}", amiss.id());
    let holds = bench.analyst.get(&of_run).await.expect(200);
    let hold = holds.body["items"][0]["id"].as_str().unwrap();
    let at = format!("/holds/{hold}/acceptance");
    let body = |password: &str| json!({"reason": "One curve.", "password": password});
    bench
        .analyst
        .post_seen(&at, 1, body(PASSWORD))
        .await
        .expect(403);
    let reviewer = app.reviewer().await;
    let wrong = reviewer.post_seen(&at, 1, body("not my password")).await;
    wrong.expect(403);
    let stale = reviewer.post_seen(&at, 7, body(PASSWORD)).await;
    stale.expect(412);
    let page = format!("samples/{}", bench.samples[0]);
    let fields = format!("key=1&hold={hold}:1&reason=One+curve.&password=no");
    let foreign = reviewer
        .post_form(&page, "https://example.org", &fields)
        .await;
    assert_eq!(foreign, 403);
    let holds = bench.analyst.get(&of_run).await.expect(200);
    let still = &holds.body["items"][0];
    assert!(still.get("lifted").is_none(), "nothing changed");
}
