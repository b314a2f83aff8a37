//! Pictures: each with its table, whatever is in the body, and nothing in them that runs.

use crate::harness::callers::{Caller, serve};
use serde_json::{Value, json};

/// The picture, and the page that a browser gets.
async fn drawn(caller: &Caller, base: &str, plot: &str, body: &Value) -> (String, String) {
    let address = format!("/v1/calculator/plots/{plot}");
    let answer = caller.post_raw(&address, "\"none is needed\"", body).await;
    assert_eq!(answer.status(), 200, "{plot}");
    assert_eq!(answer.headers()["content-type"], "image/svg+xml");
    assert_eq!(
        answer.headers()["content-security-policy"],
        "default-src 'none'"
    );
    let svg = answer.text().await.unwrap();
    let page = reqwest::Client::new()
        .post(format!("{base}{address}"))
        .bearer_auth(caller.token())
        .header("Accept", "text/html")
        .json(body)
        .send()
        .await
        .unwrap();
    assert_eq!(page.status(), 200, "{plot}");
    (svg, page.text().await.unwrap())
}

#[actix_web::test]
async fn a_picture_has_its_table_beside_it_and_runs_nothing() {
    let app = serve().await;
    let caller = app.integrator().await;
    let line = |source: &str, standard: &str| json!({"source": source, "doubt": {"kind": "standard", "standard": standard}});
    let budget = json!({"lines": [line("<script>alert(1)</script>", "3"), line("mass", "4")]});
    let (svg, page) = drawn(&caller, &app.base, "budget", &budget).await;
    assert!(!svg.contains("<script") && svg.contains("&lt;script&gt;"));
    assert!(!page.contains("<script") && page.contains("<td>mass</td>"));
    assert!(svg.contains("combined standard uncertainty of 5"), "{svg}");

    let findings = json!({"limit": "20", "rule": {"rule": "guarded-acceptance", "guard_factor": "1"},
        "findings": [
            {"finding": {"kind": "quantified", "value": "18.5"},
                "uncertainty": {"expanded": "3", "coverage_factor": "2"}},
            {"finding": {"kind": "above", "bound": "50"},
                "uncertainty": {"expanded": "3", "coverage_factor": "2"}},
            {"finding": {"kind": "not-detected", "below": "1"},
                "uncertainty": {"expanded": "3", "coverage_factor": "2"}}]});
    let (svg, page) = drawn(&caller, &app.base, "decision", &findings).await;
    assert!(svg.contains("limit 20 µg/kg") && svg.contains("decision-hatch"));
    assert!(
        page.contains("&gt; 50 µg/kg") || page.contains("&#62; 50 µg/kg"),
        "{page}"
    );

    let mut values: Vec<String> = (0..20)
        .map(|at| format!("{}.{}", 50 + at % 2, at % 3))
        .collect();
    values.push("90".into());
    let values = json!({"values": values, "baseline": 20});
    let (svg, page) = drawn(&caller, &app.base, "control-chart", &values).await;
    assert!(svg.contains("Beyond a limit: 21."), "{svg}");
    assert!(page.contains("<td>yes</td>"));

    let many: Vec<Value> = (0..41).map(|_| findings["findings"][0].clone()).collect();
    let body = json!({"limit": "20", "rule": {"rule": "simple"}, "findings": many});
    let refused = caller.post("/v1/calculator/plots/decision", body).await;
    assert_eq!(refused.problem(), "too-many-values");
}
