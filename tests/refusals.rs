//! Every operation of the API document refuses whom it must: nobody's token, the wrong role's,
//! another laboratory's, and a body that cannot be read.
//!
//! Derived from the document and the table of roles, so that no operation goes without. The lists
//! of exceptions may only shrink.

use crate::harness::callers::{LAB, TestApp, serve};
use crate::openapi::{Operation, document, operations};
use api::identity::tokens::Subject;
use domain::{
    id::CustomerId,
    identity::{ACTIONS, Action, ROLES, Role, permits},
};
use serde_json::{Value, json};
use uuid::Uuid;

/// Operations that need no token.
const OPEN: &[&str] = &[
    "sign_in",
    "trust_file",
    "show_public_bundle",
    "show_public_pdf",
    // Whether they do, their laboratory decides: tests/laboratories/revise_laboratory.rs.
    "show_checkpoint",
    "show_entries",
    "show_tile",
];

/// Operations that any token may call.
const ANY_ROLE: &[&str] = &["list_commodities", "list_uses"];

/// Tag of the operations that any token may call, too: they compute, and store nothing.
const COMPUTES: &str = "calculator";

/// Operations named otherwise than the action that permits them.
const PERMITTED_BY: &[(&str, &str)] = &[
    ("list_clients", "read-accounts"),
    ("show_client", "read-accounts"),
    ("list_import_rows", "read-imports"),
    ("show_upload", "read-imports"),
    ("list_checks", "read-equipment"),
    ("show_kit_lot_comparison", "read-kit-lots"),
    ("show_bundle", "read-certificates"),
    ("show_consistency", "read-log"),
    ("show_pdf", "read-certificates"),
    ("show_proof", "read-records"),
    ("show_proof_file", "read-records"),
    ("investigate_certificate", "amend-certificate"),
    ("withdraw_certificate", "amend-certificate"),
    ("show_check", "read-equipment"),
    ("list_applicable_limits", "read-limits"),
    ("retire_limit", "adopt-limit"),
    ("revise_column_map", "draft-column-map"),
    ("show_permitted_uses", "read-results"),
    ("show_sampling_plan", "read-lots"),
    ("put_forward_result", "compute-result"),
    ("review_results", "release-results"),
    ("complete_run", "record-run"),
    ("withdraw_run", "correct-run"),
    ("accept_kit_lot", "decide-kit-lot"),
    ("reject_kit_lot", "decide-kit-lot"),
    ("recall_kit_lot", "decide-kit-lot"),
    ("exhaust_kit_lot", "receive-kit-lot"),
    ("revise_procedure", "draft-procedure"),
    ("retire_procedure", "adopt-procedure"),
    ("show_screening_report", "read-screening-validations"),
];

const SOME_ID: &str = "019ca869-5003-7d46-b59c-6cf85cca57e4";

fn action(name: &str) -> Option<Action> {
    ACTIONS.iter().copied().find(|action| action.name() == name)
}

/// The action of the operation's own name; for what only reads, `read-` and the things in plural.
fn derived(operation: &str) -> Option<Action> {
    let kebab = operation.replace('_', "-");
    let things = kebab
        .strip_prefix("list-")
        .or_else(|| kebab.strip_prefix("show-"));
    action(&kebab).or_else(|| {
        let things = things?;
        ["", "s", "ies"]
            .iter()
            .map(|ending| match *ending {
                "ies" => format!("read-{}ies", things.trim_end_matches('y')),
                ending => format!("read-{things}{ending}"),
            })
            .find_map(|name| action(&name))
    })
}

fn permitting(operation: &str) -> Option<Action> {
    let listed = PERMITTED_BY.iter().find(|(id, _)| *id == operation);
    match listed {
        Some((_, name)) => action(name),
        None => derived(operation),
    }
}

async fn token(app: &TestApp, role: Role) -> String {
    let laboratory = app.state.laboratory(LAB).await.unwrap().unwrap();
    let id = Uuid::parse_str(SOME_ID).unwrap();
    let subject = Subject {
        id,
        laboratory: laboratory.id.0,
        slug: LAB.into(),
        client: role == Role::Integrator,
        customer: (role == Role::Customer).then_some(CustomerId(id).0),
        roles: vec![role],
    };
    app.state
        .tokens
        .issue(subject, app.state.clock.now())
        .unwrap()
}

/// What is sent: the example of the document unless another body is given.
async fn send(
    app: &TestApp,
    operation: &Operation,
    lab: &str,
    token: Option<&str>,
    body: Option<Vec<u8>>,
) -> (u16, String, Value) {
    let mut path = operation.path.replace("{lab}", lab);
    let mut query = Vec::new();
    let parameters = operation.body["parameters"].as_array();
    for parameter in parameters.into_iter().flatten() {
        let name = parameter["name"].as_str().unwrap();
        if parameter["in"] == "path" {
            path = path.replace(&format!("{{{name}}}"), &sample(parameter));
        }
        if parameter["in"] == "query" && parameter["required"] == json!(true) {
            query.push(format!("{name}={}", sample(parameter)));
        }
    }
    let url = format!("{}{path}?{}", app.base, query.join("&"));
    let method = reqwest::Method::from_bytes(operation.method.as_bytes()).unwrap();
    let mut request = reqwest::Client::new()
        .request(method, url)
        .header("Idempotency-Key", crate::harness::callers::fresh_key())
        .header("If-Match", "\"1\"");
    if let Some(token) = token {
        request = request.bearer_auth(token);
    }
    let content = operation.body["requestBody"]["content"].as_object();
    if let Some((media, taken)) = content.and_then(|content| content.iter().next()) {
        let example = match &taken["example"] {
            Value::String(text) if media != "application/json" => text.clone().into_bytes(),
            Value::Null => taken["examples"]
                .as_object()
                .and_then(|all| all.values().next())
                .map(|one| serde_json::to_vec(&one["value"]).unwrap())
                .unwrap_or_default(),
            example @ (Value::Bool(_)
            | Value::Number(_)
            | Value::String(_)
            | Value::Array(_)
            | Value::Object(_)) => serde_json::to_vec(example).unwrap(),
        };
        request = request
            .header("Content-Type", media)
            .body(body.unwrap_or(example));
    }
    let answer = request.send().await.unwrap();
    let status = answer.status().as_u16();
    let media = answer
        .headers()
        .get("content-type")
        .and_then(|value| value.to_str().ok())
        .unwrap_or_default()
        .to_owned();
    let body = serde_json::from_slice(&answer.bytes().await.unwrap()).unwrap_or(Value::Null);
    (status, media, body)
}

/// A value that a parameter takes.
fn sample(parameter: &Value) -> String {
    let schema = &parameter["schema"];
    [
        &parameter["example"],
        &schema["example"],
        &schema["enum"][0],
    ]
    .into_iter()
    .find_map(Value::as_str)
    .map_or_else(
        || match schema["format"].as_str() {
            Some("int32" | "int64") => "1".to_owned(),
            Some("date") => "2026-03-01".to_owned(),
            Some("date-time") => "2026-03-01T08:15:30Z".to_owned(),
            _ => SOME_ID.to_owned(),
        },
        str::to_owned,
    )
}

/// Bodies that cannot be read, and are not refused as such.
async fn bad_bodies_taken(app: &TestApp, operation: &Operation, token: &str) -> Vec<String> {
    let mut wrong = Vec::new();
    if operation.body["requestBody"]["content"]["application/json"].is_null() {
        return wrong;
    }
    for body in [
        "{\"a\":",
        "{\"a\":1,\"a\":2}",
        "{\"nobody-knows-this\":true}",
    ] {
        let bytes = Some(body.as_bytes().to_vec());
        let (status, media, _) = send(app, operation, LAB, Some(token), bytes).await;
        if !matches!(status, 400 | 422) || media != "application/problem+json" {
            wrong.push(format!(
                "{}: to the body {body} it answers {status} ({media}), not a problem 400 or 422: \
                 take the body as `Valid<…>`, with deny_unknown_fields",
                operation.id
            ));
        }
    }
    wrong
}

#[actix_web::test]
async fn every_operation_refuses_whom_it_must() {
    let app = serve().await;
    let mut wrong = Vec::new();
    let mut tokens = Vec::new();
    for role in ROLES {
        tokens.push((role, token(&app, role).await));
    }
    for operation in &operations(&document()) {
        let id = operation.id.as_str();
        if OPEN.contains(&id) {
            continue;
        }
        let (status, media, _) = send(&app, operation, LAB, None, None).await;
        if status != 401 || media != "application/problem+json" {
            wrong.push(format!(
                "{id}: without a token it answers {status} ({media}), not a problem 401: let \
                 `actor: Actor` be its first argument"
            ));
        }
        if ANY_ROLE.contains(&id) || operation.body["tags"][0] == COMPUTES {
            for (role, token) in &tokens {
                let (status, _, body) = send(&app, operation, LAB, Some(token), None).await;
                if status != 200 {
                    wrong.push(format!(
                        "{id}: to a {} it answers {status}: {body}",
                        role.name()
                    ));
                }
            }
            let (_, token) = tokens.first().unwrap();
            wrong.extend(bad_bodies_taken(&app, operation, token).await);
            continue;
        }
        let Some(action) = permitting(id) else {
            wrong.push(format!(
                "{id}: no action has its name: add one to domain/src/identity.rs, or name the \
                 operation after its action"
            ));
            continue;
        };
        for (role, token) in &tokens {
            let allowed = permits(*role, action);
            if allowed {
                continue;
            }
            let (status, _, body) = send(&app, operation, LAB, Some(token), None).await;
            if status != 403 || body["type"] != "/problems/not-permitted" {
                wrong.push(format!(
                    "{id}: to a {} it answers {status}, not 403 ({}): ask `actor.permit(…)` \
                     first, and let the example of its body be a good one",
                    role.name(),
                    body["errors"]
                ));
            }
        }
        let allowed = tokens.iter().find(|(role, _)| permits(*role, action));
        let (_, token) = allowed.unwrap();
        if operation.path.contains("{lab}") {
            let (status, _, _) = send(&app, operation, "elsewhere", Some(token), None).await;
            if status != 403 {
                wrong.push(format!(
                    "{id}: in another laboratory it answers {status}, not 403: give its own `lab` \
                     to `actor.permit(…)`"
                ));
            }
        }
        wrong.extend(bad_bodies_taken(&app, operation, token).await);
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn the_exceptions_of_the_refusals_are_all_needed() {
    let ids: Vec<String> = operations(&document())
        .into_iter()
        .map(|operation| operation.id)
        .collect();
    let named = OPEN
        .iter()
        .chain(ANY_ROLE)
        .chain(PERMITTED_BY.iter().map(|(id, _)| id));
    let gone: Vec<_> = named
        .filter(|id| !ids.contains(&(**id).to_owned()))
        .collect();
    assert!(
        gone.is_empty(),
        "take them out of tests/refusals.rs: {gone:?}"
    );
    let derivable: Vec<_> = PERMITTED_BY
        .iter()
        .filter(|(id, _)| derived(id).is_some())
        .collect();
    assert!(
        derivable.is_empty(),
        "their names say it already; take them out of tests/refusals.rs: {derivable:?}"
    );
}
