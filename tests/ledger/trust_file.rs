//! The trust file that anybody may fetch.

use crate::harness::callers::{TestApp, serve};
use crate::ledger::log_files::checkpoint_over_all;
use domain::ledger::{act::ReadAct, trust::Trust};
use serde_json::json;

/// Where a test's laboratory serves its trust file.
pub(crate) async fn trust_file(app: &TestApp) -> Vec<u8> {
    let id = app.state.laboratory("quay").await.unwrap().unwrap().id;
    let answer = app
        .anonymous()
        .get_raw(&format!("log/{id}/trust.json"))
        .await;
    assert_eq!(answer.status().as_u16(), 200);
    answer.bytes().await.unwrap().to_vec()
}

#[actix_web::test]
async fn anybody_gets_the_keys_that_acts_verify_with_and_no_secret() {
    let app = serve().await;
    let bytes = trust_file(&app).await;
    let trust = Trust::parse(&bytes).unwrap();
    assert_eq!(trust.name, "Quay Grain Laboratory");
    assert_eq!((trust.keys.len(), trust.logs.len()), (1, 1));
    assert_eq!(trust.logs[0].end, None);
    let id = app.state.laboratory("quay").await.unwrap().unwrap().id;
    let host = app.base.strip_prefix("http://").unwrap();
    assert_eq!(trust.logs[0].origin, format!("{host}/log/{id}/1"));

    let analyst = app.analyst().await;
    let made = analyst
        .post(
            "/customers",
            json!({"code": "MILL", "name": "Hollow Mill Ltd"}),
        )
        .await
        .expect(201);
    let trail = analyst
        .get(&format!("/records?subject={}", made.id()))
        .await;
    let entry = trail.body["items"][0]["entry"].as_str().unwrap().to_owned();
    let act = ReadAct::parse(&entry).unwrap();
    let key = trust.key_in_use(&act.kid).unwrap();
    act.verify(&key.key).unwrap();

    // It says how far the log had come.
    let size = checkpoint_over_all(&app).await;
    assert_eq!(Trust::parse(&trust_file(&app).await).unwrap().size, size);

    for unknown in [
        "log/none/trust.json",
        "log/019ca869-5000-76a3-a0ec-7b3041d8cea3/trust.json",
    ] {
        let refused = app.anonymous().get(unknown).await.expect(404);
        assert_eq!(refused.problem(), "not-found");
    }
}
