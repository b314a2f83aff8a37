//! Listing and showing lots, to the laboratory and to customers.

use super::{codes, customer, maize, of_customer, with};
use crate::harness::callers::serve;
use serde_json::{Value, json};

#[actix_web::test]
async fn filters_find_lots_by_customer_commodity_arrival_code_and_whole() {
    let app = serve().await;
    let analyst = app.analyst().await;
    let mill = customer(&analyst, "MILL").await;
    let farm = customer(&analyst, "FARM").await;
    let whole = analyst
        .post("/lots", with(maize("L-1"), json!({"customer": mill})))
        .await
        .expect(201);
    for body in [
        with(
            maize("L-1/1"),
            json!({"parent": whole.id(), "arrived_on": "2026-03-02"}),
        ),
        with(
            maize("L-2"),
            json!({"commodity": "wheat-grain", "arrived_on": "2026-03-03",
                   "parties": [{"customer": mill, "role": "seller", "sees": "nothing"},
                               {"customer": farm, "role": "buyer", "sees": "results"}]}),
        ),
    ] {
        analyst.post("/lots", body).await.expect(201);
    }
    for (query, expected) in [
        (String::new(), vec!["L-2", "L-1/1", "L-1"]),
        (format!("customer={mill}"), vec!["L-2", "L-1"]),
        (format!("customer={farm}"), vec!["L-2"]),
        (format!("parent={}", whole.id()), vec!["L-1/1"]),
        ("commodity=maize-grain".into(), vec!["L-1/1", "L-1"]),
        ("commodity=cereal-grain".into(), vec!["L-2", "L-1/1", "L-1"]),
        (
            "arrived_from=2026-03-02&arrived_to=2026-03-02".into(),
            vec!["L-1/1"],
        ),
        ("code=L-1".into(), vec!["L-1"]),
        ("code=L-1%2F1".into(), vec!["L-1/1"]),
    ] {
        let found = analyst.get(&format!("/lots?{query}")).await.expect(200);
        assert_eq!(codes(&found.body), expected, "{query}");
    }
    let first = analyst.get("/lots?limit=2&customer=").await;
    assert_eq!(first.status.as_u16(), 400, "an empty id is no id");
    let first = analyst.get("/lots?limit=2").await.expect(200);
    assert_eq!(codes(&first.body), ["L-2", "L-1/1"]);
    let next = first.link.unwrap();
    let next = next.split(['<', '>']).nth(1).unwrap();
    let second = analyst.get(next).await.expect(200);
    assert_eq!(codes(&second.body), ["L-1"]);
    assert_eq!(second.link, None);
}

#[actix_web::test]
async fn a_customer_sees_its_own_lots_and_what_its_part_in_others_grants() {
    let app = serve().await;
    let analyst = app.analyst().await;
    let mill = customer(&analyst, "MILL").await;
    let farm = customer(&analyst, "FARM").await;
    let agent = customer(&analyst, "AGENT").await;
    let comment = json!({"customer": farm, "comment": "between us", "parties": [
        {"customer": mill, "role": "buyer", "sees": "certificates"},
        {"customer": agent, "role": "agent", "sees": "nothing"}]});
    let sold = analyst
        .post("/lots", with(maize("L-1"), comment))
        .await
        .expect(201);
    let own = analyst
        .post("/lots", with(maize("L-2"), json!({"customer": mill})))
        .await
        .expect(201);
    let foreign = analyst.post("/lots", maize("L-3")).await.expect(201);

    let miller = of_customer(&app, "miller", &mill).await;
    let found = miller.get("/lots").await.expect(200);
    assert_eq!(codes(&found.body), ["L-2", "L-1"]);
    let bought = &found.body["items"][1];
    assert_eq!(bought["parties"].as_array().unwrap().len(), 1);
    assert_eq!(bought["customer"], Value::Null);
    assert_eq!(bought["comment"], Value::Null);
    miller.get(&format!("/lots/{}", own.id())).await.expect(200);
    miller
        .get(&format!("/lots/{}", foreign.id()))
        .await
        .expect(404);
    let probing = miller
        .get(&format!("/lots?customer={farm}"))
        .await
        .expect(200);
    assert_eq!(codes(&probing.body), Vec::<&str>::new());

    let broker = of_customer(&app, "broker", &agent).await;
    let found = broker.get("/lots").await.expect(200);
    assert_eq!(codes(&found.body), Vec::<&str>::new());
    broker
        .get(&format!("/lots/{}", sold.id()))
        .await
        .expect(404);
    let grower = of_customer(&app, "grower", &farm).await;
    let whole = grower
        .get(&format!("/lots/{}", sold.id()))
        .await
        .expect(200);
    assert_eq!(whole.body["parties"].as_array().unwrap().len(), 2);

    // The grant changes with the lot, in the list as well.
    let mut lot = with(maize("L-1"), json!({"customer": farm}));
    lot["parties"] = json!([{"customer": agent, "role": "agent", "sees": "results"}]);
    analyst
        .put(
            &format!("/lots/{}", sold.id()),
            1,
            json!({"lot": lot, "reason": {"code": "late-information", "text": "Sold on."}}),
        )
        .await
        .expect(200);
    let found = broker.get("/lots").await.expect(200);
    assert_eq!(codes(&found.body), ["L-1"]);
    let found = miller.get("/lots").await.expect(200);
    assert_eq!(codes(&found.body), ["L-2"]);
}
