//! Recording samplings.

use crate::{
    harness::callers::serve,
    lots::{pointers, with},
    samples::lot,
};
use serde_json::json;

const NOBODY: &str = "019ca869-5003-7d46-b59c-6cf85cca57e4";

#[actix_web::test]
async fn a_sampling_is_recorded_and_listed_with_its_lot() {
    let app = serve().await;
    let analyst = app.analyst().await;
    let (one, two) = (lot(&analyst, "L-1").await, lot(&analyst, "L-2").await);
    let body = json!({"lot": one, "taken_at": "2026-03-01T09:00:00+01:00",
                      "taken_by": "Bo Lind", "account": analyst.id, "increments": 9,
                      "increment_mass_g": "350", "aggregate_mass_kg": "3.15", "seal": "777"});
    let made = analyst.post("/samplings", body.clone()).await.expect(201);
    let other = with(body.clone(), json!({"lot": two}));
    app.integrator()
        .await
        .post("/samplings", other)
        .await
        .expect(201);
    let shown = analyst
        .get(&made.location.clone().unwrap())
        .await
        .expect(200);
    assert_eq!(shown.body["taken_at"], "2026-03-01T08:00:00.000000Z");
    let found = analyst
        .get(&format!("/samplings?lot={one}"))
        .await
        .expect(200);
    assert_eq!(found.body["items"].as_array().unwrap().len(), 1);
    assert_eq!(found.body["items"][0]["id"], made.id());
    let trail = analyst
        .get(&format!("/records?subject={}", made.id()))
        .await
        .expect(200);
    let record = trail.body["items"][0]["record"].as_str().unwrap();
    assert!(!record.contains("Bo Lind"), "a name is kept as a digest");

    let names = with(
        body.clone(),
        json!({"lot": NOBODY, "account": NOBODY, "instrument": NOBODY}),
    );
    let refused = analyst.post("/samplings", names).await.expect(422);
    let mut named = pointers(&refused.body);
    named.sort_unstable();
    assert_eq!(named, ["#/account", "#/instrument", "#/lot"]);
    let none = with(body.clone(), json!({"increments": 0}));
    let refused = analyst.post("/samplings", none).await.expect(422);
    assert_eq!(pointers(&refused.body), ["#/increments"]);
    let refused = app
        .reviewer()
        .await
        .post("/samplings", body)
        .await
        .expect(403);
    assert_eq!(refused.problem(), "not-permitted");
    let list = analyst.get("/samplings").await.expect(200);
    assert_eq!(list.body["items"].as_array().unwrap().len(), 2);
}
