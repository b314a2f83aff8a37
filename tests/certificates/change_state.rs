//! Withdrawing a certificate, and saying that it is being looked into.

use super::{bench, link, page};
use crate::harness::callers::serve;
use serde_json::json;

#[actix_web::test]
async fn the_check_page_says_what_became_of_a_certificate() {
    let app = serve().await;
    let bench = bench(&app).await;
    let issued = bench.issued().await;
    let check = link(&issued, "check");
    let at = |verb: &str| format!("/certificates/{}/{verb}", issued.id());
    let reason = json!({"code": "instrument-fault", "text": "Port 2 failed its check."});
    let open = |open: bool| json!({"open": open, "reason": reason});

    bench
        .analyst
        .post_seen(&at("withdrawal"), 1, json!({"reason": reason}))
        .await
        .expect(403);
    let looked = bench
        .reviewer
        .post_seen(&at("investigation"), 1, open(true))
        .await
        .expect(200);
    assert_eq!(looked.body["state"], "under-investigation");
    let (_, text) = page(&app, &check).await;
    assert!(text.contains("being looked into"), "{text}");
    assert!(!text.contains("Port 2"), "the reason's words stay inside");
    let same = bench
        .reviewer
        .post_seen(&at("investigation"), 2, open(true))
        .await
        .expect(409);
    assert_eq!(same.problem(), "not-in-this-state");
    bench
        .reviewer
        .post_seen(&at("withdrawal"), 1, json!({"reason": reason}))
        .await
        .expect(412);
    let gone = bench
        .reviewer
        .post_seen(&at("withdrawal"), 2, json!({"reason": reason}))
        .await
        .expect(200);
    assert_eq!(
        (&gone.body["state"], &gone.body["version"]),
        (&json!("withdrawn"), &json!(3))
    );
    let (_, text) = page(&app, &check).await;
    assert!(text.contains("the laboratory withdrew it"), "{text}");
    let twice = bench
        .reviewer
        .post_seen(&at("withdrawal"), 3, json!({"reason": reason}))
        .await
        .expect(409);
    assert_eq!(twice.problem(), "not-in-this-state");
    let withdrawn = bench.reviewer.get("/certificates?state=withdrawn").await;
    assert_eq!(withdrawn.body["items"].as_array().unwrap().len(), 1);
    let standing = bench.reviewer.get("/certificates?state=issued").await;
    assert_eq!(standing.body["items"], json!([]));
    crate::rebuild::is_told_by_records(&app).await;
}
