//! A reviewer's morning in a browser: sign in, look at the queue, release one result, look at its
//! sample.

use crate::{
    harness::{
        browser::Browser,
        callers::{LAB, PASSWORD, TestApp, serve},
        fixtures::{Bench, bench_of},
    },
    runs::run,
};
use serde_json::json;

async fn another_sample(bench: &Bench, number: u32, intended_use: &str) -> String {
    let lot = bench
        .analyst
        .post(
            "/lots",
            json!({"code": format!("L-{number}"), "commodity": "maize-grain",
                "mass_kg": "24000", "arrived_on": "2026-03-01",
                "intended_uses": [intended_use], "jurisdictions": ["US"]}),
        )
        .await
        .expect(201);
    let sample = json!({"code": format!("S-{number}"), "purpose": "customer", "lot": lot.id(),
        "commodity": "maize-grain", "mass_g": "1000", "received_at": "2026-03-01T07:00:00Z",
        "moisture": {"percent": "13.2", "method": "oven"}});
    let made = bench.analyst.post("/samples", sample).await.expect(201);
    made.id()
}

/// One result below the limit of 20 µg/kg, one far above it by a diluted run, one held, and one
/// that needs a dilution.
pub(super) async fn morning(app: &TestApp) -> (Bench, [String; 3]) {
    let bench = bench_of(app).await;
    let adoption = json!({"date": "2026-01-05", "reading": "Read in the policy guide."});
    bench
        .quality
        .post(
            "/limits/us-feed-corn-finishing-beef-afla/adoption",
            adoption,
        )
        .await
        .expect(200);
    let post = async |run| bench.analyst.post("/runs", run).await.expect(201);
    post(run(&bench, 0, "number", Some("4.13"))).await;
    let diluted = another_sample(&bench, 5, "food").await;
    let of = |mut run: serde_json::Value, sample: &str| {
        run["sample"] = json!(sample);
        run
    };
    post(of(run(&bench, 10, "above", Some("50")), &diluted)).await;
    let mut second = of(run(&bench, 20, "number", Some("46")), &diluted);
    second["dilution"] =
        json!([{"sample_volume_ul": "100", "diluent_volume_ul": "500", "diluent": "water"}]);
    let second = post(second).await;
    let mut corrected = of(run(&bench, 20, "number", Some("44")), &diluted);
    corrected["analyst"] = json!(bench.analyst.id);
    corrected["dilution"] =
        json!([{"sample_volume_ul": "100", "diluent_volume_ul": "500", "diluent": "water"}]);
    bench
        .analyst
        .post_seen(
            &format!("/runs/{}/correction", second.id()),
            1,
            json!({"run": corrected,
                "reason": {"code": "transcription-error", "text": "The display showed 44."}}),
        )
        .await
        .expect(200);
    let held = another_sample(&bench, 6, "food").await;
    let mut mismatched = of(run(&bench, 30, "number", Some("12.5")), &held);
    mismatched["curve_lot"] = json!("C-117");
    post(mismatched).await;
    let due = another_sample(&bench, 7, "feed-finishing-beef").await;
    post(of(run(&bench, 40, "above", Some("50")), &due)).await;
    (bench, [diluted, held, due])
}

#[actix_web::test]
async fn a_reviewer_releases_one_result_and_reads_the_answer() {
    let app = serve().await;
    let (bench, [diluted, held, due]) = morning(&app).await;
    app.reviewer().await;
    let page = |path: &str| format!("{}/{LAB}/{path}", app.base);
    let browser = Browser::start(1200, 1500).await;
    let client = &browser.client;

    client.goto(&page("review")).await.unwrap();
    browser.keep_picture("sign-in").await;
    browser.fill("#login", "reviewer").await;
    browser.fill("#password", PASSWORD).await;
    browser.click("main button").await;
    assert_eq!(
        browser.text(".answer").await,
        "Two results wait for a second person; one is held.",
        "sign-in leads back to the page that was asked for"
    );
    browser.keep_picture("queue").await;

    let of_sample = "#queue input[aria-label$=' S-1']";
    browser.click(of_sample).await;
    browser.fill("#password", "not my password").await;
    browser.click("button[value=release]").await;
    let refused = browser.text(".faults").await;
    assert!(refused.contains("The password is not yours"), "{refused}");
    browser.keep_picture("queue-refused").await;
    let kept = client
        .find(fantoccini::Locator::Css(of_sample))
        .await
        .unwrap()
        .is_selected()
        .await
        .unwrap();
    assert!(kept, "what was selected stays selected");

    browser.fill("#password", PASSWORD).await;
    browser.click("button[value=release]").await;
    assert_eq!(
        browser.text("[role=status]").await,
        "One result was released."
    );
    client
        .goto(&page(&format!("samples/{}", bench.samples[0])))
        .await
        .unwrap();
    assert_eq!(
        browser.text(".answer").await,
        "This lot may be released: 4.1 µg/kg total aflatoxins, limit 20."
    );
    let history = browser.text("ol.history li").await;
    assert!(history.contains("Release results"), "{history}");
    assert!(history.contains("Person reviewer (reviewer)"), "{history}");
    browser.keep_picture("sample").await;

    for (name, path) in [
        ("sample-diluted", format!("samples/{diluted}")),
        ("sample-held", format!("samples/{held}")),
        ("sample-due", format!("samples/{due}")),
        ("samples", "samples".to_owned()),
        ("lots", "lots".to_owned()),
        ("runs", "runs".to_owned()),
        ("limits", "limits".to_owned()),
        ("equipment", "equipment".to_owned()),
        ("imports", "imports".to_owned()),
        ("lot", format!("lots/{}", bench.lot)),
        ("certificates", "certificates".to_owned()),
    ] {
        client.goto(&page(&path)).await.unwrap();
        assert!(!browser.text(".answer").await.is_empty(), "{name}");
        browser.keep_picture(name).await;
    }
    client.goto(&page(&format!("samples/{due}"))).await.unwrap();
    assert_eq!(
        browser.text(".answer").await,
        "This sample needs a diluted run: it holds more than 50 µg/kg total aflatoxins. Dilute \
         the extract × 6: 100 µL with 500 µL of water."
    );
    client.clone().close().await.unwrap();
}
