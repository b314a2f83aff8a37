//! Registering control materials, finding them, revising them, and drawing from their stock.

use crate::harness::callers::serve;
use serde_json::{Value, json};

fn content(stock_g: Option<&str>) -> Value {
    let mut body = json!({
        "code": "CM-1",
        "name": "maize, naturally contaminated",
        "commodity": "maize-grain",
        "lot": "2026-A",
        "analytes": [{"analyte": "deoxynivalenol", "assigned_value": "1000",
                      "lower": "800", "upper": "1200"}],
        "expires_on": "2027-01-31"
    });
    if let Some(stock) = stock_g {
        body["stock_g"] = json!(stock);
    }
    body
}

#[actix_web::test]
async fn a_control_material_is_registered_drawn_from_and_revised() {
    let app = serve().await;
    let quality = app.quality_manager().await;
    let analyst = app.analyst().await;
    let mut wrong = content(Some("25"));
    wrong["commodity"] = json!("corn");
    let refused = quality.post("/control-materials", wrong).await.expect(422);
    assert_eq!(refused.body["errors"][0]["pointer"], "#/commodity");
    analyst
        .post("/control-materials", content(None))
        .await
        .expect(403);
    let none = analyst.get("/control-materials").await.expect(200);
    assert_eq!(none.body["items"], json!([]));
    let id = quality
        .post("/control-materials", content(Some("25")))
        .await
        .expect(201)
        .id();
    let path = format!("/control-materials/{id}");
    let draws = format!("{path}/draws");
    let drawn = analyst
        .post(&draws, json!({"mass_g": "10"}))
        .await
        .expect(200);
    assert_eq!(drawn.body["stock_g"], "15");
    let nothing = analyst
        .post(&draws, json!({"mass_g": "0"}))
        .await
        .expect(422);
    assert_eq!(nothing.body["errors"][0]["pointer"], "#/mass_g");
    let much = analyst
        .post(&draws, json!({"mass_g": "15.1"}))
        .await
        .expect(409);
    assert_eq!(much.problem(), "stock-too-small");
    let reason = json!({"code": "other", "text": "The stock is not kept any more."});
    quality
        .put(
            &path,
            1,
            json!({"control_material": content(None), "reason": reason}),
        )
        .await
        .expect(412);
    quality
        .put(
            &path,
            2,
            json!({"control_material": content(None), "reason": reason}),
        )
        .await
        .expect(200);
    let unkept = analyst
        .post(&draws, json!({"mass_g": "10"}))
        .await
        .expect(409);
    assert_eq!(unkept.problem(), "stock-not-kept");
    let shown = analyst.get(&path).await.expect(200);
    assert_eq!(shown.body["version"], 3);
    for (query, count) in [("?expires_before=2027-01-31", 0), ("?code=CM-1", 1)] {
        let listed = analyst
            .get(&format!("/control-materials{query}"))
            .await
            .expect(200);
        assert_eq!(
            listed.body["items"].as_array().unwrap().len(),
            count,
            "{query}"
        );
    }
    crate::rebuild::is_told_by_records(&app).await;
}
