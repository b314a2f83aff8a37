//! Preparations over HTTP.

mod record_preparation;
mod revise_preparation;

use crate::{
    harness::callers::{Caller, TestApp},
    samples,
};
use diesel_async::{AsyncConnection as _, AsyncPgConnection, SimpleAsyncConnection as _};
use serde_json::{Value, json};

/// A grinder, a balance and a shaker, the balance past its date; each id is `ids[n]`.
pub(crate) const EQUIPMENT: [&str; 3] = [
    "019ca869-5003-7d46-b59c-6cf85cca5701",
    "019ca869-5003-7d46-b59c-6cf85cca5702",
    "019ca869-5003-7d46-b59c-6cf85cca5703",
];

/// Puts the equipment into its table, past the service.
pub(crate) async fn plant_equipment(app: &TestApp) {
    let mut owner = AsyncPgConnection::establish(&app.database.owner_url)
        .await
        .unwrap();
    for (id, kind) in EQUIPMENT.iter().zip(["grinder", "balance", "shaker"]) {
        let content = json!({"code": kind, "kind": kind, "name": kind,
                             "calibration_due_on": "2020-01-31"});
        owner
            .batch_execute(&format!(
                "INSERT INTO equipment_item (laboratory_id, equipment_id, version, state, \
                 content, code, kind, created_at, changed_at) SELECT laboratory_id, '{id}', 1, \
                 'recorded', '{content}', '{kind}', '{kind}', now(), now() \
                 FROM laboratories_laboratory"
            ))
            .await
            .unwrap();
    }
}

/// A sample without a site; its id.
pub(crate) async fn sample(by: &Caller, code: &str) -> String {
    let lot = samples::lot(by, &format!("L-{code}")).await;
    by.post("/samples", samples::of_lot(code, &lot))
        .await
        .expect(201)
        .id()
}

/// A step, made from another where one is given.
pub(crate) fn step(kind: &str, sample: &str, at: &str, parent: Option<&str>) -> Value {
    let mut body = json!({"kind": kind, "sample": sample, "at": at});
    if let Some(parent) = parent {
        body["parent"] = parent.into();
    }
    body
}
