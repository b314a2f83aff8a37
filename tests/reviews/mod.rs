//! Reviews over HTTP: the second person's signature.

mod review_results;

use crate::harness::callers::{Answered, Caller, PASSWORD};
use serde_json::{Value, json};

/// The results of a sample, as a reviewer is shown them.
pub(crate) async fn shown(caller: &Caller, sample: &str) -> Vec<Value> {
    let list = caller
        .get(&format!("/results?sample={sample}"))
        .await
        .expect(200);
    list.body["items"].as_array().unwrap().clone()
}

/// These results in these versions, for a signature or a certificate.
pub(crate) fn versions(results: &[Value]) -> Value {
    results
        .iter()
        .map(|result| json!({"result": result["id"], "version": result["version"]}))
        .collect()
}

/// Releases whatever results a sample has.
pub(crate) async fn release(reviewer: &Caller, sample: &str) -> Answered {
    let results = shown(reviewer, sample).await;
    reviewer
        .post(
            "/reviews",
            json!({"meaning": "release", "results": versions(&results), "password": PASSWORD}),
        )
        .await
}
