//! Writing procedures and finding them.

use super::content;
use crate::harness::callers::serve;
use serde_json::json;

#[actix_web::test]
async fn a_quality_manager_drafts_a_procedure_and_an_analyst_finds_it_by_its_code() {
    let app = serve().await;
    let quality = app.quality_manager().await;
    let analyst = app.analyst().await;
    let made = quality
        .post("/procedures", content("P-07"))
        .await
        .expect(201);
    assert_eq!(made.body["state"], "draft");
    quality
        .post("/procedures", content("P-08"))
        .await
        .expect(201);
    let found = analyst.get("/procedures?code=P-07").await.expect(200);
    assert_eq!(found.body["items"].as_array().unwrap().len(), 1);
    assert_eq!(found.body["items"][0]["id"], made.body["id"]);
    let adopted = analyst.get("/procedures?state=adopted").await.expect(200);
    assert_eq!(adopted.body["items"], json!([]));
    let shown = analyst.get(&made.location.unwrap()).await.expect(200);
    assert_eq!(shown.body["analytes"][0]["upper"], "50");

    let taken = quality
        .post("/procedures", content("P-07"))
        .await
        .expect(409);
    assert_eq!(taken.problem(), "duplicate");
    analyst
        .post("/procedures", content("P-09"))
        .await
        .expect(403);
    let all = analyst.get("/procedures").await.expect(200);
    assert_eq!(all.body["items"].as_array().unwrap().len(), 2);
}

#[actix_web::test]
async fn commodities_are_words_of_the_vocabulary() {
    let app = serve().await;
    let quality = app.quality_manager().await;
    let mut body = content("P-07");
    body["commodities"] = json!(["maize-grain", "corn", "Maize grain"]);
    let refused = quality.post("/procedures", body.clone()).await.expect(422);
    let pointers: Vec<&str> = refused.body["errors"]
        .as_array()
        .unwrap()
        .iter()
        .map(|fault| fault["pointer"].as_str().unwrap())
        .collect();
    assert_eq!(pointers, ["#/commodities/2", "#/commodities/1"]);
    let made = quality
        .post("/procedures", content("P-07"))
        .await
        .expect(201);
    let refused = quality
        .put(
            &format!("/procedures/{}", made.id()),
            1,
            json!({"procedure": body, "reason": {"code": "other", "text": "More goods."}}),
        )
        .await
        .expect(422);
    assert_eq!(
        refused.body["errors"][1]["pointer"],
        "#/procedure/commodities/1"
    );
}
