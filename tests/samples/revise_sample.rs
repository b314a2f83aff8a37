//! Changing samples.

use super::{lot, of_lot};
use crate::{
    harness::callers::serve,
    lots::{codes, pointers, with},
};
use serde_json::{Value, json};

fn change(sample: Value) -> Value {
    json!({"sample": sample, "reason": {"code": "late-information", "text": "Measured now."}})
}

#[actix_web::test]
async fn moisture_retained_portion_and_barcodes_are_revised_and_custody_is_not() {
    let app = serve().await;
    let analyst = app.analyst().await;
    let lot = lot(&analyst, "L-1").await;
    let plain = with(of_lot("S-1", &lot), json!({"barcodes": ["B-1"]}));
    let made = analyst.post("/samples", plain).await.expect(201);
    let path = format!("/samples/{}", made.id());
    analyst
        .post(
            &format!("{path}/custody"),
            json!({"at": "2026-03-01T09:00:00Z", "action": "opened"}),
        )
        .await
        .expect(200);
    let shown = analyst.get(&path).await.expect(200);
    let wet = with(
        of_lot("S-1", &lot),
        json!({"barcodes": ["B-2"], "custody": shown.body["custody"],
               "received_by": shown.body["received_by"],
               "moisture": {"percent": "14.2", "method": "oven, 130 °C"},
               "retained": {"mass_g": "400", "place": "shelf 2", "until": "2026-09-01"}}),
    );
    analyst.put(&path, 1, change(wet.clone())).await.expect(412);
    let revised = analyst.put(&path, 2, change(wet.clone())).await.expect(200);
    assert_eq!(revised.body["moisture"]["percent"], "14.2");
    let found = analyst.get("/samples?barcode=B-2").await.expect(200);
    assert_eq!(codes(&found.body), ["S-1"]);
    let freed = with(of_lot("S-2", &lot), json!({"barcodes": ["B-1"]}));
    analyst.post("/samples", freed).await.expect(201);

    let forgotten = with(wet.clone(), json!({"custody": []}));
    let refused = analyst.put(&path, 3, change(forgotten)).await.expect(409);
    assert_eq!(refused.problem(), "never-changes");
    let slipped_in = with(
        wet.clone(),
        json!({"custody": [shown.body["custody"][0],
                           {"at": "2026-03-01T10:00:00Z", "action": "opened"}]}),
    );
    let refused = analyst.put(&path, 3, change(slipped_in)).await.expect(422);
    assert_eq!(pointers(&refused.body), ["#/sample/custody"]);
    let taken = with(wet.clone(), json!({"barcodes": ["B-1"]}));
    let refused = analyst.put(&path, 3, change(taken)).await.expect(409);
    assert_eq!(refused.problem(), "duplicate");
    let too_much = with(
        wet,
        json!({"retained": {"mass_g": "1001", "place": "shelf 2", "until": "2026-09-01"}}),
    );
    let refused = analyst.put(&path, 3, change(too_much)).await.expect(422);
    assert_eq!(pointers(&refused.body), ["#/sample/retained/mass_g"]);
    let refused = app
        .integrator()
        .await
        .put(&path, 3, change(of_lot("S-1", &lot)))
        .await
        .expect(403);
    assert_eq!(refused.problem(), "not-permitted");
    let after = analyst.get(&path).await.expect(200);
    assert_eq!(after.body["version"], 3);
    let found = analyst.get("/samples?barcode=B-2").await.expect(200);
    assert_eq!(codes(&found.body), ["S-1"]);
    crate::rebuild::is_told_by_records(&app).await;
}
