//! Registering samples.

use super::{lot, of_lot};
use crate::{
    harness::callers::serve,
    lots::{codes, pointers, with},
};
use serde_json::json;

const NOBODY: &str = "019ca869-5003-7d46-b59c-6cf85cca57e4";

#[actix_web::test]
async fn a_sample_is_registered_with_who_took_it_in_and_found_by_its_barcode() {
    let app = serve().await;
    let analyst = app.analyst().await;
    let lot = lot(&analyst, "L-1").await;
    let body = with(
        of_lot("S-1", &lot),
        json!({"barcodes": ["4006381333931", "R-77"],
               "retained": {"mass_g": "500", "place": "shelf 4", "until": "2026-06-01"}}),
    );
    let made = analyst.post("/samples", body).await.expect(201);
    assert_eq!(made.body["received_by"].as_str(), analyst.id.as_deref());
    let shown = analyst
        .get(&made.location.clone().unwrap())
        .await
        .expect(200);
    assert_eq!(shown.body["retained"]["place"], "shelf 4");
    let found = analyst.get("/samples?barcode=R-77").await.expect(200);
    assert_eq!(codes(&found.body), ["S-1"]);
    let none = analyst.get("/samples?barcode=R-78").await.expect(200);
    assert_eq!(none.body["items"], json!([]));

    let by_program = app
        .integrator()
        .await
        .post("/samples", of_lot("S-2", &lot))
        .await
        .expect(201);
    assert_eq!(by_program.body["received_by"], json!(null));
    let refused = app
        .reviewer()
        .await
        .post("/samples", of_lot("S-3", &lot))
        .await
        .expect(403);
    assert_eq!(refused.problem(), "not-permitted");
}

#[actix_web::test]
async fn a_barcode_or_code_in_use_is_refused_and_leaves_nothing_behind() {
    let app = serve().await;
    let analyst = app.analyst().await;
    let lot = lot(&analyst, "L-1").await;
    let labelled = with(of_lot("S-1", &lot), json!({"barcodes": ["B-1"]}));
    analyst.post("/samples", labelled).await.expect(201);
    let other = with(of_lot("S-2", &lot), json!({"barcodes": ["B-2", "B-1"]}));
    let refused = analyst.post("/samples", other).await.expect(409);
    assert_eq!(refused.problem(), "duplicate");
    let detail = refused.body["detail"].as_str().unwrap();
    assert!(
        detail.contains("barcode") && detail.contains("label"),
        "{detail}"
    );
    let twice = with(of_lot("S-2", &lot), json!({"barcodes": ["B-2", "B-2"]}));
    let refused = analyst.post("/samples", twice).await.expect(422);
    assert_eq!(pointers(&refused.body), ["#/barcodes/1"]);
    let same = analyst
        .post("/samples", of_lot("S-1", &lot))
        .await
        .expect(409);
    assert_eq!(same.problem(), "duplicate");
    let list = analyst.get("/samples").await.expect(200);
    assert_eq!(codes(&list.body), ["S-1"]);
    let found = analyst.get("/samples?barcode=B-2").await.expect(200);
    assert_eq!(found.body["items"], json!([]));
}

#[actix_web::test]
async fn only_a_customers_sample_needs_a_lot_and_a_control_needs_its_material() {
    let app = serve().await;
    let analyst = app.analyst().await;
    let bare = |code: &str, purpose: &str| {
        json!({"code": code, "purpose": purpose, "commodity": "maize-grain",
               "received_at": "2026-03-01T08:15:00Z"})
    };
    let refused = analyst
        .post("/samples", bare("S-1", "customer"))
        .await
        .expect(422);
    assert_eq!(pointers(&refused.body), ["#/lot"]);
    let refused = analyst
        .post("/samples", bare("S-1", "control"))
        .await
        .expect(422);
    assert_eq!(pointers(&refused.body), ["#/control_material"]);
    analyst
        .post("/samples", bare("S-1", "proficiency"))
        .await
        .expect(201);
    let names = with(
        of_lot("S-2", NOBODY),
        json!({"commodity": "maize-grain", "site": NOBODY, "order": NOBODY, "sampling": NOBODY,
               "control_material": NOBODY, "received_by": NOBODY,
               "moisture": {"percent": "14.2", "method": "oven", "by": NOBODY},
               "custody": [{"at": "2026-03-01T09:00:00Z", "action": "opened", "by": NOBODY}]}),
    );
    let refused = analyst.post("/samples", names).await.expect(422);
    let mut named = pointers(&refused.body);
    named.sort_unstable();
    assert_eq!(
        named,
        [
            "#/control_material",
            "#/custody/0/by",
            "#/lot",
            "#/moisture/by",
            "#/order",
            "#/received_by",
            "#/sampling",
            "#/site"
        ]
    );
    let crumbs = with(bare("S-2", "validation"), json!({"commodity": "crumbs"}));
    let refused = analyst.post("/samples", crumbs).await.expect(422);
    assert_eq!(pointers(&refused.body), ["#/commodity"]);
}

#[actix_web::test]
async fn a_sampling_of_another_lot_is_refused() {
    let app = serve().await;
    let analyst = app.analyst().await;
    let (one, two) = (lot(&analyst, "L-1").await, lot(&analyst, "L-2").await);
    let taken = analyst
        .post(
            "/samplings",
            json!({"lot": one, "taken_at": "2026-03-01T08:00:00Z"}),
        )
        .await
        .expect(201);
    let other = with(of_lot("S-1", &two), json!({"sampling": taken.id()}));
    let refused = analyst.post("/samples", other).await.expect(422);
    assert_eq!(pointers(&refused.body), ["#/sampling"]);
    let right = with(of_lot("S-1", &one), json!({"sampling": taken.id()}));
    analyst.post("/samples", right).await.expect(201);
}
