//! The API document: checked in, complete, and without two schemas of one name.

use crate::permissions::{checked_in, project};
use crate::tidy::sources;
use serde_json::Value;
use std::collections::BTreeMap;

/// The document that the service serves.
pub(crate) fn document() -> Value {
    serde_json::to_value(api::app::document()).unwrap()
}

/// An operation of the document.
pub(crate) struct Operation {
    pub(crate) id: String,
    pub(crate) method: String,
    pub(crate) path: String,
    pub(crate) body: Value,
}

/// Every operation of the document.
pub(crate) fn operations(document: &Value) -> Vec<Operation> {
    let mut found = Vec::new();
    for (path, item) in document["paths"].as_object().unwrap() {
        for (method, operation) in item.as_object().unwrap() {
            if matches!(method.as_str(), "get" | "put" | "post" | "delete" | "patch") {
                found.push(Operation {
                    id: operation["operationId"].as_str().unwrap().to_owned(),
                    method: method.to_uppercase(),
                    path: path.clone(),
                    body: operation.clone(),
                });
            }
        }
    }
    found
}

#[test]
fn the_openapi_document_is_the_one_that_is_checked_in() {
    let mut text = serde_json::to_string_pretty(&document()).unwrap();
    text.push('\n');
    checked_in(
        "openapi/openapi.json",
        &text,
        "UPDATE_OPENAPI",
        "The API changed. Write the document again and look at the difference",
    );
}

#[test]
fn every_operation_of_the_openapi_document_says_what_its_callers_need() {
    let mut wanting = Vec::new();
    let document = document();
    let mut seen = BTreeMap::new();
    for operation in operations(&document) {
        let Operation {
            id,
            method,
            path,
            body,
        } = &operation;
        if let Some(other) = seen.insert(id.clone(), path.clone()) {
            wanting.push(format!(
                "{id}: {other} and {path} share it; rename a handler"
            ));
        }
        if body["tags"].as_array().is_none_or(Vec::is_empty) {
            wanting.push(format!("{id}: no tag; add `tag = \"<slice>\"`"));
        }
        if body["summary"].as_str().is_none_or(str::is_empty) {
            wanting.push(format!("{id}: no summary; add a doc comment"));
        }
        if body["responses"]["4XX"].is_null() {
            wanting.push(format!(
                "{id}: no refusal; add `(status = \"4XX\", body = Problem)`"
            ));
        }
        let taken = body["requestBody"]["content"].as_object();
        for (media, content) in taken.into_iter().flatten() {
            // Bytes as they are have no example in words.
            let in_words = media != "application/octet-stream";
            if in_words && content["example"].is_null() && content["examples"].is_null() {
                wanting.push(format!(
                    "{id}: its {media} body has no example; add `example =`"
                ));
            }
        }
        let header = |name: &str| {
            let given = body["parameters"].as_array().cloned().unwrap_or_default();
            given.iter().any(|one| one["name"] == name)
        };
        if method == "PUT" && path.contains("{id}") && !header("If-Match") {
            wanting.push(format!(
                "{id}: revises without If-Match; take `Seen` and say so"
            ));
        }
        let creates = !body["responses"]["201"].is_null();
        if method == "POST" && creates && !header("Idempotency-Key") {
            wanting.push(format!(
                "{id}: creates without Idempotency-Key; take `Once`, say so"
            ));
        }
    }
    assert_eq!(wanting, Vec::<String>::new());
}

/// utoipa overwrites a schema by another of the same name without a word.
#[test]
fn no_two_types_of_the_openapi_document_have_one_name() {
    let mut places: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for (file, text) in sources(&["api/src", "domain/src"]) {
        let mut is_schema = false;
        for line in text.lines() {
            let line = line.trim();
            if line.starts_with("#[") && line.contains("ToSchema") {
                is_schema = true;
            }
            let name = line
                .trim_start_matches("pub(crate) ")
                .trim_start_matches("pub(super) ")
                .trim_start_matches("pub ")
                .strip_prefix("struct ")
                .or_else(|| line.split_once("enum ").map(|(_, rest)| rest))
                .filter(|_| !line.starts_with("//"));
            if let (true, Some(name)) = (is_schema, name) {
                let end = name
                    .find(|c: char| !c.is_alphanumeric() && c != '_')
                    .unwrap_or(name.len());
                let (name, _) = name.split_at(end);
                places
                    .entry(name.to_owned())
                    .or_default()
                    .push(file.clone());
                is_schema = false;
            }
        }
    }
    assert!(
        places.len() > 20,
        "the sources were not read: {}",
        project().display()
    );
    let twice: Vec<_> = places.iter().filter(|(_, files)| files.len() > 1).collect();
    assert!(
        twice.is_empty(),
        "Rename one of each, or the one overwrites the other in the document: {twice:#?}"
    );
}
