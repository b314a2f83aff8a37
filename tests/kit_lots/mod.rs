//! Kit lots over HTTP.

mod compare_kit_lots;
mod decide_kit_lot;
mod register_kit_lot;

use crate::harness::callers::{Caller, TestApp};
use diesel_async::{AsyncConnection as _, AsyncPgConnection, SimpleAsyncConnection as _};
use serde_json::{Value, json};

/// A kit lot, invented.
pub(crate) fn content(code: &str, procedure: &str) -> Value {
    json!({
        "code": code,
        "name": "Aflatoxin strips, total",
        "analytes": [{"analyte": "aflatoxin-total", "upper": "50"}],
        "curve_lot": "C-2601",
        "matrices": ["maize"],
        "expires_on": "2030-12-31",
        "procedure": procedure,
        "receipts": [{"received_on": "2026-02-02", "tests": 3, "storage_kept": true}]
    })
}

/// A quarantined lot of this procedure; its id.
pub(crate) async fn quarantined(caller: &Caller, code: &str, procedure: &str) -> String {
    caller
        .post("/kit-lots", content(code, procedure))
        .await
        .expect(201)
        .id()
}

/// Puts a row into a table that other slices write, past the service.
pub(crate) async fn plant(app: &TestApp, table: &str, columns: &str, values: &str) {
    let content = if columns.contains("content") {
        ("", "")
    } else {
        (", content", ", '{}'")
    };
    let mut owner = AsyncPgConnection::establish(&app.database.owner_url)
        .await
        .unwrap();
    owner
        .batch_execute(&format!(
            "INSERT INTO {table} (laboratory_id, version, state, created_at, changed_at, \
             {columns}{}) SELECT laboratory_id, 1, 'recorded', now(), now(), {values}{} \
             FROM laboratories_laboratory",
            content.0, content.1
        ))
        .await
        .unwrap();
}
