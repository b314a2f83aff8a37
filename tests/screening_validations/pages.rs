//! The report as a page, in a browser.

use super::{adopted, study};
use crate::harness::{
    browser::Browser,
    callers::{LAB, PASSWORD, serve},
    fixtures::bench_of,
};
use fantoccini::Locator;
use serde_json::json;

#[actix_web::test]
async fn a_quality_manager_finds_the_report_with_every_figure_and_determination() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    let (status, empty) = bench.quality.page("screening-validations").await;
    assert_eq!(status, 200);
    assert!(
        empty.contains("Validations of screening methods would be here"),
        "{empty}"
    );
    adopted(&bench, study(&bench)).await;
    let mut begun = study(&bench);
    begun["code"] = json!("SV-<8>");
    begun["determinations"] = json!([]);
    begun.as_object_mut().unwrap().remove("below_counted_as");
    let begun = bench.analyst.post("/screening-validations", begun).await;
    let begun = begun.expect(201).id();

    let browser = Browser::start(1200, 1500).await;
    let client = &browser.client;
    let list = format!("{}/{LAB}/limits", app.base);
    client.goto(&list).await.unwrap();
    browser.fill("#login", "quality").await;
    browser.fill("#password", PASSWORD).await;
    browser.click("main button").await;
    // From the limits the thin line leads there.
    browser.click("nav a[href$='/screening-validations']").await;
    let listed = browser.text("main table").await;
    assert!(
        listed.contains("SV-07") && listed.contains("SV-<8>"),
        "{listed}"
    );
    let client = &browser.client;
    let link = client.find(Locator::LinkText("SV-07")).await.unwrap();
    link.click().await.unwrap();
    let answer = browser.text("p.answer").await;
    assert!(
        answer.starts_with("A sample over 19 µg/kg is suspect"),
        "{answer}"
    );
    assert!(answer.contains("target of 20 µg/kg"), "{answer}");
    let facts = browser.text("dl.facts").await;
    for words in [
        "P-AF",
        "2023/2782, Annex II, point 4.2",
        "Person quality",
        "2027-03-06",
    ] {
        assert!(facts.contains(words), "{words}: {facts}");
    }
    let figures = browser.text("[aria-label=Figures]").await;
    for words in [
        "20.015",
        "1.72913",
        "18.6178",
        "False-suspect rate",
        "19 degrees of freedom",
    ] {
        assert!(figures.contains(words), "{words}: {figures}");
    }
    let rows = client
        .find_all(Locator::Css("[aria-label=Determinations] tbody tr"))
        .await
        .unwrap();
    assert_eq!(rows.len(), 40);
    let dots = client
        .find_all(Locator::Css("figure svg circle"))
        .await
        .unwrap();
    assert_eq!(dots.len(), 39, "and one bound, as an arrow");
    browser.keep_picture("validation").await;

    let page = format!("{}/{LAB}/screening-validations/{begun}", app.base);
    client.goto(&page).await.unwrap();
    let answer = browser.text("p.answer").await;
    assert_eq!(answer, "Not complete: blanks: 20 are needed, 0 are there.");
    client.clone().close().await.unwrap();
    // A program that asks for HTML is given the same page.
    let url = format!("{}/v1/laboratories/{LAB}/screening-validations", app.base);
    let asked = reqwest::Client::new()
        .get(format!("{url}/{begun}/report"))
        .bearer_auth(bench.quality.token())
        .header("Accept", "text/html");
    let html = asked.send().await.unwrap().text().await.unwrap();
    assert!(
        html.contains("<h1>Validation SV-&#60;8&#62;</h1>"),
        "{html}"
    );
}
