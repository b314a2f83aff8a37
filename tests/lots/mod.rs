//! Lots over HTTP.

mod list_lots;
mod register_lot;
mod revise_lot;
mod show_sampling_plan;

use crate::harness::callers::{Caller, PASSWORD, TestApp};
use serde_json::{Value, json};

/// A lot of maize with this code.
pub(crate) fn maize(code: &str) -> Value {
    json!({"code": code, "commodity": "maize-grain", "mass_kg": "24800", "arrived_on": "2026-03-01"})
}

/// The body with these members set.
pub(crate) fn with(mut body: Value, members: Value) -> Value {
    for (name, value) in members.as_object().unwrap() {
        body[name] = value.clone();
    }
    body
}

/// Id of a customer of this code, registered by somebody who may.
pub(crate) async fn customer(by: &Caller, code: &str) -> String {
    by.post(
        "/customers",
        json!({"code": code, "name": format!("{code} Ltd")}),
    )
    .await
    .expect(201)
    .id()
}

/// Somebody of a customer, signed in.
pub(crate) async fn of_customer(app: &TestApp, login: &str, customer: &str) -> Caller {
    app.administrator()
        .post(
            "/accounts",
            json!({
                "account": {"login": login, "printed_name": format!("Person {login}"),
                            "roles": ["customer"], "customer": customer},
                "password": PASSWORD,
            }),
        )
        .await
        .expect(201);
    app.sign_in(login).await
}

/// Codes of what a list answered with.
pub(crate) fn codes(body: &Value) -> Vec<&str> {
    body["items"]
        .as_array()
        .unwrap()
        .iter()
        .map(|item| item["code"].as_str().unwrap())
        .collect()
}

/// Pointers of the faults that a problem names.
pub(crate) fn pointers(body: &Value) -> Vec<&str> {
    body["errors"]
        .as_array()
        .unwrap()
        .iter()
        .map(|fault| fault["pointer"].as_str().unwrap())
        .collect()
}
