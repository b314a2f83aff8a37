//! Validations of screening methods over HTTP: from determinations to a cut-off that decides.

mod adopt_screening_validation;
mod pages;
mod procedures;
mod record_screening_validation;
mod review_screening_validation;

use crate::harness::fixtures::Bench;
use serde_json::{Value, json};

/// A complete study of the bench's procedure: 20 blanks and 20 positives at 20 µg/kg, over five
/// days, one of the blanks below 1; cut-off 19. Invented.
pub(crate) fn study(bench: &Bench) -> Value {
    let example = include_str!("../../domain/src/screening_validations/example.json");
    let mut study: Value = serde_json::from_str(example).unwrap();
    study["procedure"] = json!(bench.procedure);
    study["performed_by"] = json!([bench.analyst.id]);
    study
}

/// Records a study and adopts it: its id.
pub(crate) async fn adopted(bench: &Bench, study: Value) -> String {
    let made = bench.analyst.post("/screening-validations", study).await;
    let id = made.expect(201).id();
    let adoption = format!("/screening-validations/{id}/adoption");
    let adopted = bench.quality.post_seen(&adoption, 1, json!({})).await;
    adopted.expect(200);
    id
}

/// The pointers of what was refused.
fn pointers(body: &Value) -> Vec<&str> {
    let errors = body["errors"].as_array().unwrap();
    errors
        .iter()
        .map(|error| error["pointer"].as_str().unwrap())
        .collect()
}
