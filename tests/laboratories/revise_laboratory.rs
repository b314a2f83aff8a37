//! Revising the laboratory's particulars, and who may read its log.

use crate::harness::callers::{LAB, PASSWORD, TestApp, serve};
use crate::ledger::log_files::{checkpoint_over_all, prefix};
use serde_json::{Value, json};

const PATH: &str = "/v1/laboratories/quay";

fn revised(change: impl FnOnce(&mut Value)) -> Value {
    let mut laboratory = json!({"slug": LAB, "name": "Quay Grain Laboratory",
        "address": "3 Quay Street", "time_zone": "Europe/Lisbon", "certificate_prefix": "Q",
        "log_readers": "granted-accounts"});
    change(&mut laboratory);
    json!({"laboratory": laboratory,
        "reason": {"code": "other", "text": "The grain board follows our log."}})
}

#[actix_web::test]
async fn a_revision_leaves_the_old_version_readable_and_the_name_in_addresses_as_it_is() {
    let app = serve().await;
    let quality = app.quality_manager().await;
    let shown = quality.get(PATH).await.expect(200);
    assert_eq!(shown.body["log_readers"], "granted-accounts");
    let moved = revised(|it| it["address"] = json!("5 Quay Street"));
    app.analyst()
        .await
        .put(PATH, 1, moved.clone())
        .await
        .expect(403);
    quality.put(PATH, 2, moved.clone()).await.expect(412);
    let done = quality.put(PATH, 1, moved).await.expect(200);
    assert_eq!(
        (&done.body["version"], &done.body["address"]),
        (&json!(2), &json!("5 Quay Street"))
    );
    let id = done.id();
    let trail = quality.get(&format!("/records?subject={id}")).await;
    let items = trail.body["items"].as_array().unwrap();
    assert_eq!(items.len(), 2);
    assert_eq!(items[0]["action"], "revise-laboratory");
    assert_eq!(
        items[0]["reason"]["text"],
        "The grain board follows our log."
    );
    assert_eq!(items[1]["content"]["address"], "3 Quay Street");
    assert!(
        !items[0]["record"].as_str().unwrap().contains("Quay Street"),
        "an address is a disclosure"
    );

    let renamed = revised(|it| it["slug"] = json!("pier"));
    let refused = quality.put(PATH, 2, renamed).await.expect(409);
    assert_eq!(refused.problem(), "not-correctable");
    let nowhere = revised(|it| it["time_zone"] = json!("Europe/Nowhere"));
    let refused = quality.put(PATH, 2, nowhere).await.expect(422);
    assert_eq!(
        refused.body["errors"][0]["pointer"],
        "#/laboratory/time_zone"
    );
    let nobody = revised(|it| it["log_readers"] = json!("nobody"));
    quality.put(PATH, 2, nobody).await.expect(422);
    let after = quality.get(PATH).await.expect(200);
    assert_eq!(after.body, done.body, "a refusal leaves nothing behind");
}

async fn customer(app: &TestApp) -> crate::harness::callers::Caller {
    let analyst = app.analyst().await;
    let mill = json!({"code": "MILL", "name": "Hollow Mill"});
    let mill = analyst.post("/customers", mill).await.expect(201).id();
    app.administrator()
        .post(
            "/accounts",
            json!({"account": {"login": "mill", "printed_name": "Mill", "roles": ["customer"],
                "customer": mill}, "password": PASSWORD}),
        )
        .await
        .expect(201);
    app.sign_in("mill").await
}

#[actix_web::test]
async fn a_log_is_read_by_granted_accounts_alone_until_the_laboratory_opens_it() {
    let app = serve().await;
    let customer = customer(&app).await;
    let quality = app.quality_manager().await;
    let integrator = app.integrator().await;
    checkpoint_over_all(&app).await;
    let prefix = prefix(&app).await;
    let files = ["checkpoint", "tile/0/000.p/1", "tile/entries/000.p/1"];
    for file in files {
        let path = format!("{prefix}/{file}");
        let refused = app.anonymous().get(&path).await.expect(401);
        assert_eq!(refused.problem(), "not-signed-in");
        customer.get(&path).await.expect(403);
        for granted in [&quality, &integrator] {
            let shown = granted.get_raw(&path).await;
            assert_eq!(shown.status().as_u16(), 200, "{path}");
            let kept = shown.headers()["cache-control"].to_str().unwrap();
            assert!(kept.starts_with("private, "), "{kept}");
        }
    }

    let open = revised(|it| it["log_readers"] = json!("everybody"));
    quality.put(PATH, 1, open).await.expect(200);
    for file in files {
        let path = format!("{prefix}/{file}");
        for caller in [app.anonymous(), customer.clone()] {
            let shown = caller.get_raw(&path).await;
            assert_eq!(shown.status().as_u16(), 200, "{path}");
            let kept = shown.headers()["cache-control"].to_str().unwrap();
            assert!(kept.starts_with("public, "), "{kept}");
        }
    }
    quality.put(PATH, 2, revised(|_| ())).await.expect(200);
    let closed = format!("{prefix}/checkpoint");
    app.anonymous().get(&closed).await.expect(401);
}
