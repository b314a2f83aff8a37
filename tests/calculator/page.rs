//! The page of the calculator, for whoever comes.

use crate::{
    harness::{browser::Browser, callers::serve},
    openapi::{document, operations},
};

#[actix_web::test]
async fn the_page_shows_each_computation_with_a_sample_and_its_answer() {
    let app = serve().await;
    let page = reqwest::get(format!("{}/calculator", app.base))
        .await
        .unwrap();
    assert_eq!(page.status(), 200);
    let html = page.text().await.unwrap();
    for operation in operations(&document()) {
        if operation.body["tags"][0] == "calculator" {
            let address = format!("<code>POST {}</code>", operation.path);
            assert!(html.contains(&address), "{}", operation.path);
        }
    }
    // The worked example quam-a1-cadmium-standard: u(c) is 0.835 mg/L.
    let plain = html.replace("&#34;", "\"");
    assert!(plain.contains("\"combined\": \"0.835"));
    assert_eq!(html.matches("<svg ").count(), 4, "a picture for each plot");

    let browser = Browser::start(1280, 1600).await;
    let address = format!("{}/calculator", app.base);
    browser.client.goto(&address).await.unwrap();
    let answer = browser.text(".answer").await;
    assert!(answer.contains("it computes from your numbers too"));
    browser.keep_picture("calculator").await;
    browser
        .click("section[aria-labelledby=\"decisions-conformity\"] summary")
        .await;
    let opened = "section[aria-labelledby=\"decisions-conformity\"] pre:last-of-type";
    let shown = browser.text(opened).await;
    assert!(shown.contains("probability_of_conformity"), "{shown}");
    let place = "document.querySelector(arguments[0]).scrollIntoView()";
    let whole = "section[aria-labelledby=\"decisions-conformity\"]";
    let arguments = vec![serde_json::json!(whole)];
    browser.client.execute(place, arguments).await.unwrap();
    browser.keep_picture("calculator_opened").await;
    for plot in [
        "budget",
        "decision",
        "control-chart",
        "operating-characteristic",
    ] {
        let picture = format!("section[aria-labelledby=\"plots-{plot}\"] svg");
        let arguments = vec![serde_json::json!(picture)];
        browser.client.execute(place, arguments).await.unwrap();
        browser.keep_picture(&format!("calculator_{plot}")).await;
    }
    browser.client.set_window_size(390, 900).await.unwrap();
    browser.keep_picture("calculator_narrow").await;
    let overflow = "return document.documentElement.scrollWidth - window.innerWidth";
    let wider = browser.client.execute(overflow, vec![]).await.unwrap();
    assert!(wider.as_i64().unwrap() <= 0, "the page is {wider} too wide");
}
