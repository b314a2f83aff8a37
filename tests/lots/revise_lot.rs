//! Changing lots.

use super::{maize, pointers, with};
use crate::harness::callers::serve;
use serde_json::{Value, json};

fn change(lot: Value) -> Value {
    json!({"lot": lot, "reason": {"code": "transcription-error", "text": "Read off wrongly."}})
}

#[actix_web::test]
async fn a_lot_is_revised_from_the_version_that_was_seen() {
    let app = serve().await;
    let analyst = app.analyst().await;
    let made = analyst.post("/lots", maize("L-1")).await.expect(201);
    let path = format!("/lots/{}", made.id());
    let lighter = with(maize("L-1"), json!({"mass_kg": "24380"}));
    analyst
        .put(&path, 2, change(lighter.clone()))
        .await
        .expect(412);
    let revised = analyst.put(&path, 1, change(lighter)).await.expect(200);
    assert_eq!(revised.etag.as_deref(), Some("\"2\""));
    let absurd = with(maize("L-1"), json!({"commodity": "maize-crumbs"}));
    let refused = analyst.put(&path, 2, change(absurd)).await.expect(422);
    assert_eq!(pointers(&refused.body), ["#/lot/commodity"]);
    let refused = app
        .integrator()
        .await
        .put(&path, 2, change(maize("L-1")))
        .await
        .expect(403);
    assert_eq!(refused.problem(), "not-permitted");
    let shown = analyst.get(&path).await.expect(200);
    assert_eq!(shown.body["version"], 2);
    assert_eq!(shown.body["mass_kg"], "24380");
    crate::rebuild::is_told_by_records(&app).await;
}

#[actix_web::test]
async fn a_chain_of_sublots_neither_closes_nor_mixes_commodities() {
    let app = serve().await;
    let analyst = app.analyst().await;
    let whole = analyst.post("/lots", maize("L-1")).await.expect(201);
    let part = with(maize("L-2"), json!({"parent": whole.id()}));
    let part = analyst.post("/lots", part).await.expect(201);
    let least = with(maize("L-3"), json!({"parent": part.id()}));
    let least = analyst.post("/lots", least).await.expect(201);
    let path = format!("/lots/{}", whole.id());
    for closing in [whole.id(), part.id(), least.id()] {
        let circle = with(maize("L-1"), json!({"parent": closing}));
        let refused = analyst.put(&path, 1, change(circle)).await.expect(422);
        assert_eq!(pointers(&refused.body), ["#/lot/parent"]);
    }
    let wheat = with(maize("L-1"), json!({"commodity": "wheat-grain"}));
    let refused = analyst.put(&path, 1, change(wheat)).await.expect(422);
    assert_eq!(pointers(&refused.body), ["#/lot/commodity"]);
    let shown = analyst.get(&path).await.expect(200);
    assert_eq!(shown.body["version"], 1);
}

#[actix_web::test]
async fn two_changes_that_would_close_a_circle_together_are_not_both_made() {
    let app = serve().await;
    let analyst = app.analyst().await;
    for round in 0..5 {
        let (one, two) = (format!("A-{round}"), format!("B-{round}"));
        let first = analyst.post("/lots", maize(&one)).await.expect(201);
        let second = analyst.post("/lots", maize(&two)).await.expect(201);
        let (first_path, second_path) = (
            format!("/lots/{}", first.id()),
            format!("/lots/{}", second.id()),
        );
        let below_second = change(with(maize(&one), json!({"parent": second.id()})));
        let below_first = change(with(maize(&two), json!({"parent": first.id()})));
        let (left, right) = futures_util::join!(
            analyst.put(&first_path, 1, below_second),
            analyst.put(&second_path, 1, below_first)
        );
        let mut statuses = [left.status.as_u16(), right.status.as_u16()];
        statuses.sort_unstable();
        assert_eq!(statuses, [200, 422], "{} {}", left.body, right.body);
    }
}
