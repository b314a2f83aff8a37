//! The doubt of the lot, from the order that asks for it to the certificate.

use super::computed_again;
use crate::{
    certificates::{bench, bytes, link},
    harness::callers::serve,
    lots::{pointers, with},
    reviews::shown,
};
use serde_json::{Value, json};

/// What an order says, without what the service adds.
fn content(view: &Value) -> Value {
    let mut content = view.clone();
    for added in ["id", "version", "created_at", "changed_at"] {
        content.as_object_mut().unwrap().remove(added);
    }
    content
}

#[actix_web::test]
async fn an_order_asks_for_the_doubt_of_the_lot_and_decisions_stay_as_they_are() {
    let app = serve().await;
    let bench = bench(&app).await;
    let lot = bench.analyst.get(&format!("/lots/{}", bench.lot)).await;
    let path = format!("/orders/{}", lot.body["order"].as_str().unwrap());
    let order = content(&bench.analyst.get(&path).await.expect(200).body);
    let before = shown(&bench.reviewer, &bench.sample).await;
    assert!(before[0].get("lot").is_none(), "{:#}", before[0]);
    let revised = |analyte: &str| {
        let asked = json!([{"analyte": analyte, "model": {"model": "aflatoxin-shelled-corn"}}]);
        json!({"order": with(order.clone(), json!({"lot_uncertainty": asked})),
            "reason": {"code": "late-information", "text": "The buyer asks for the lot too."}})
    };
    let refused = bench.analyst.put(&path, 1, revised("zearalenone")).await;
    let refused = refused.expect(422);
    assert_eq!(
        pointers(&refused.body),
        ["#/order/lot_uncertainty/0/analyte"]
    );
    bench
        .analyst
        .put(&path, 1, revised("aflatoxin-total"))
        .await
        .expect(200);
    computed_again(&app).await;

    let after = shown(&bench.reviewer, &bench.sample).await;
    for same in ["decisions", "uncertainty", "reported", "state", "rules"] {
        assert_eq!(after[0][same], before[0][same], "{same}");
    }
    let doubt = &after[0]["lot"];
    assert_eq!(doubt["model"], "aflatoxin in shelled corn");
    // 1000 g were ground, 10.0 g weighed.
    assert_eq!(
        (&doubt["sample_mass_kg"], &doubt["test_portion_g"]),
        (&json!("1"), &json!("10.0"))
    );
    let lines = doubt["budget"]["lines"].as_array().unwrap();
    let contribution = |source: &str| {
        let line = lines.iter().find(|line| line["source"] == source).unwrap();
        let contribution = line["contribution"].as_str().unwrap();
        contribution.parse::<f64>().unwrap()
    };
    // Johansson et al. (coefficients from memory): at 276 µg/kg √(12.95/1 · 276^0.98) = 56.52 and
    // √(62.70/10 · 276^1.27) = 88.84.
    assert!(
        (contribution("sampling") - 56.52).abs() < 0.05,
        "{lines:#?}"
    );
    assert!(
        (contribution("sample preparation") - 88.84).abs() < 0.05,
        "{lines:#?}"
    );
    // 276 against limits of 20 and 300.
    let chances = doubt["chances"].as_array().unwrap();
    assert_eq!(chances.len(), 2, "{chances:#?}");
    for chance in chances {
        let above = chance["probability_above"].as_str().unwrap();
        let above: f64 = above.parse().unwrap();
        let food = chance["limit"] == "us-food-general-afla";
        assert!(
            if food {
                above > 0.99
            } else {
                (0.1..0.9).contains(&above)
            },
            "{chance}"
        );
    }

    let (_, page) = bench
        .reviewer
        .page(&format!("samples/{}", bench.sample))
        .await;
    for words in [
        "Doubt of the lot",
        "sample preparation",
        "the lot above it:",
    ] {
        assert!(page.contains(words), "{words}");
    }
    let issued = bench.issued().await;
    let bundle = bytes(&bench.analyst, &link(&issued, "bundle")).await;
    let certificate = api::certificates::open(&bundle).unwrap().certificate;
    let result = &certificate.results[0];
    assert!(result.lot_doubt.as_ref().unwrap().budget.is_some());
    let above = result.decisions.iter().map(|one| one.probability_lot_above);
    assert!(above.flatten().count() == 2, "{:?}", result.decisions);
    crate::rebuild::is_told_by_records(&app).await;
    crate::verify_ledger::is_computed_again(&app, "lot-doubt").await;
}
