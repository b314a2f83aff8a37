//! Who sees which certificates.

use super::{bench, link};
use crate::harness::callers::{Caller, PASSWORD, TestApp, serve};
use serde_json::json;

async fn account_of(app: &TestApp, login: &str, customer: &str) -> Caller {
    app.administrator()
        .post(
            "/accounts",
            json!({"account": {"login": login, "printed_name": login, "roles": ["customer"],
                    "customer": customer},
                "password": PASSWORD}),
        )
        .await
        .expect(201);
    app.sign_in(login).await
}

#[actix_web::test]
async fn a_customer_sees_the_certificates_of_its_own_lots_and_no_others() {
    let app = serve().await;
    let bench = bench(&app).await;
    let issued = bench.issued().await;

    let own = account_of(&app, "mill", &bench.customer).await;
    let buyer = account_of(&app, "buyer", &bench.buyer).await;
    let agent = account_of(&app, "agent", &bench.agent).await;
    for (caller, seen) in [(own, true), (buyer, true), (agent, false)] {
        let list = caller.get("/certificates").await.expect(200);
        assert_eq!(
            list.body["items"].as_array().unwrap().len(),
            usize::from(seen)
        );
        for path in [
            issued.location.clone().unwrap(),
            link(&issued, "bundle"),
            link(&issued, "pdf"),
        ] {
            let status = caller.get_raw(&path).await.status().as_u16();
            assert_eq!(status, if seen { 200 } else { 404 }, "{path}");
        }
        let at = format!("/certificates/{}/withdrawal", issued.id());
        let reason = json!({"reason": {"code": "other", "text": "I do not like it."}});
        caller.post_seen(&at, 1, reason).await.expect(403);
    }
    let by_lot = bench
        .analyst
        .get(&format!("/certificates?lot={}", bench.lot))
        .await;
    assert_eq!(by_lot.body["items"][0]["id"], issued.body["id"]);
    let of = format!("/certificates?customer={}", bench.customer);
    assert_eq!(bench.analyst.get(&of).await.body, by_lot.body);
    let nobody = bench
        .analyst
        .get(&format!("/certificates?lot={}", issued.id()))
        .await;
    assert_eq!(nobody.body["items"], json!([]));
}
