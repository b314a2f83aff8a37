//! Control charts as people see them.

use super::{chart_of, control_sample, recorded};
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
async fn a_quality_manager_finds_the_chart_looks_at_it_and_narrows_it() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    let (_material, control) = control_sample(&bench).await;
    for (minute, value) in [
        (0, "19.2"),
        (5, "21.4"),
        (10, "22.8"),
        (30, "23.0"),
        (50, "20.2"),
    ] {
        recorded(&bench, &control, minute, value).await;
    }
    recorded(&bench, &bench.samples[0], 20, "4.1").await;
    let browser = Browser::start(390, 1400).await;
    let client = &browser.client;
    let list = format!("{}/{LAB}/control-charts", app.base);
    client.goto(&list).await.unwrap();
    browser.fill("#login", "quality").await;
    browser.fill("#password", PASSWORD).await;
    browser.click("main button").await;
    // What only the next page has comes first: the one before has a first line, too.
    browser.text("[aria-label='Control charts']").await;
    assert_eq!(browser.text(".answer").await, "One control chart.");
    browser.click("main tbody a").await;
    browser.text("form.choose").await;
    let answer = browser.text(".answer").await;
    assert_eq!(
        answer,
        "One control run of CM-1 failed for total aflatoxins: what lies around it is in doubt."
    );
    let page = client.source().await.unwrap();
    for words in [
        "Single control runs (Shewhart)",
        "Moving ranges",
        "Weighted averages (EWMA)",
        "Cumulative sums (CUSUM)",
        "A rule is completed at 4.",
        "it completes rule 2-2s",
        "&quot;mean_found&quot;:&quot;21.32&quot;",
    ] {
        let raw = words.replace("&quot;", "\"");
        assert!(
            page.contains(words) || page.contains(&raw),
            "{words}: {page}"
        );
    }
    assert!(!page.contains("<script"));
    let doubt = browser.text("[aria-label='Runs in doubt']").await;
    assert!(doubt.contains("S-1"), "{doubt}");
    // Nothing but tables and pictures, which scroll by themselves, is wider than a telephone.
    let wide = client
        .execute("return document.documentElement.scrollWidth", vec![])
        .await
        .unwrap();
    assert!(wide.as_i64().unwrap() <= 500, "{wide}");
    browser.keep_picture("control-chart-narrow").await;
    browser.fill("#from", "03022026").await;
    browser.click("form.choose button").await;
    browser.text("input[value='2026-03-02']").await;
    let answer = browser.text(".answer").await;
    assert!(answer.ends_with("CM-1 can be charted."), "{answer}");
    client.clone().close().await.unwrap();
}

#[actix_web::test]
async fn the_pages_are_for_those_who_may_see_charts_and_say_what_they_cannot_read() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    let (material, control) = control_sample(&bench).await;
    let path = chart_of(&bench, &material);
    let path = path.trim_start_matches('/');
    let (status, empty) = bench.quality.page("control-charts").await;
    assert_eq!(status, 200);
    assert!(empty.contains("No control run is recorded yet."));
    let (status, page) = bench.quality.page(path).await;
    assert_eq!(status, 200);
    assert!(
        page.contains("No control run of CM-1 can be charted."),
        "{page}"
    );
    let (status, page) = bench.quality.page(&format!("{path}&from=yesterday")).await;
    assert_eq!(status, 422);
    assert!(page.contains("yesterday"), "{page}");

    // A control run above the range has no place on the chart, and failed all the same.
    let mut over = run(&bench, 0, "above", Some("50"));
    over["sample"] = json!(control);
    bench.analyst.post("/runs", over).await.expect(201);
    let (status, page) = bench.quality.page(path).await;
    assert_eq!(status, 200);
    assert!(
        page.contains("One control run of CM-1 failed for total aflatoxins"),
        "{page}"
    );
}
