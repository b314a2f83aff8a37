//! Faults of single ports, and their mending.

use super::registered;
use crate::harness::callers::serve;
use serde_json::json;

#[actix_web::test]
async fn a_port_is_reported_faulty_once_and_mended_once() {
    let app = serve().await;
    let quality = app.quality_manager().await;
    let analyst = app.analyst().await;
    let id = registered(&quality, "R-1").await;
    let faults = format!("/readers/{id}/port-faults");
    let mending = format!("{faults}/mending");
    let fault = |port: u8| json!({"port": port, "since": "2026-03-01T07:00:00Z", "observation": "The lamp flickers."});
    let absent = analyst.post(&faults, fault(4)).await.expect(422);
    assert_eq!(absent.body["errors"][0]["pointer"], "#/port");
    let reported = analyst.post(&faults, fault(2)).await.expect(200);
    assert_eq!(reported.body["port_faults"][0]["port"], 2);
    let twice = analyst.post(&faults, fault(2)).await.expect(409);
    assert_eq!(twice.problem(), "port-unchanged");
    let mend = |port: u8| json!({"port": port, "at": "2026-03-02T07:00:00Z"});
    analyst.post(&mending, mend(2)).await.expect(403);
    let whole = quality.post(&mending, mend(1)).await.expect(409);
    assert_eq!(whole.problem(), "port-unchanged");
    let mended = quality.post(&mending, mend(2)).await.expect(200);
    let until = mended.body["port_faults"][0]["until"].as_str().unwrap();
    assert!(until.starts_with("2026-03-02T07:00:00"), "{until}");
    assert_eq!(mended.body["version"], 3);
    let trail = analyst
        .get(&format!("/records?subject={id}"))
        .await
        .expect(200);
    assert!(
        !trail.body["items"][0]["record"]
            .as_str()
            .unwrap()
            .contains("flickers"),
        "free text stands in a record only as a digest"
    );
    crate::rebuild::is_told_by_records(&app).await;
}
