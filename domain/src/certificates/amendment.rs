//! What a replacing certificate changed against the one before (ISO/IEC 17025:2017 7.8.8).
//!
//! Promises that the list equals the difference of the two payloads, member by member, and that a
//! changed name or free text stands only in members that are disclosed.

use super::{Certificate, disclosed_members};
use serde::{Deserialize, Serialize};
use serde_json::Value;

/// Members that differ between any two certificates, and so say nothing of a change.
const OF_THE_DOCUMENT: [&str; 6] = [
    "/amendment",
    "/check_address",
    "/iat",
    "/jti",
    "/number",
    "/replaces",
];

/// Why a certificate was replaced, and by what it differs.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Amendment {
    /// The reason's code.
    pub reason_code: String,
    /// The reason in words (disclosed).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
    /// Every member that differs.
    pub changes: Vec<Change>,
}

/// One member that differs; a side that is absent had no such member.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Change {
    /// JSON pointer into the payload.
    pub pointer: String,
    /// Before, as JSON text without quotes.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub before: Option<String>,
    /// After.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub after: Option<String>,
    /// Before, of a member that is disclosed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub text_before: Option<String>,
    /// After, of a member that is disclosed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub text_after: Option<String>,
}

/// Every member in which `new` differs from `old`, in the order of their pointers.
///
/// # Errors
/// Where a payload cannot be written as JSON.
pub fn changes_between(
    old: &Certificate,
    new: &Certificate,
) -> Result<Vec<Change>, serde_json::Error> {
    let mut changes = Vec::new();
    compare(
        "",
        Some(&serde_json::to_value(old)?),
        Some(&serde_json::to_value(new)?),
        &mut changes,
    );
    changes.sort_by(|a: &Change, b| a.pointer.cmp(&b.pointer));
    Ok(changes)
}

fn compare(pointer: &str, old: Option<&Value>, new: Option<&Value>, changes: &mut Vec<Change>) {
    if old == new || OF_THE_DOCUMENT.contains(&pointer) {
        return;
    }
    let mut names: Vec<String> = [old, new]
        .into_iter()
        .flatten()
        .flat_map(|side| match side {
            Value::Object(members) => members.keys().cloned().collect::<Vec<_>>(),
            Value::Array(items) => (0..items.len()).map(|index| index.to_string()).collect(),
            Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_) => Vec::new(),
        })
        .collect();
    if names.is_empty() {
        changes.push(leaf(pointer, old, new));
        return;
    }
    names.sort();
    names.dedup();
    for name in names {
        let inner = |side: Option<&Value>| -> Option<Value> {
            side.and_then(|value| match value {
                Value::Object(members) => members.get(&name).cloned(),
                Value::Array(items) => name
                    .parse::<usize>()
                    .ok()
                    .and_then(|at| items.get(at))
                    .cloned(),
                Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_) => None,
            })
        };
        let escaped = name.replace('~', "~0").replace('/', "~1");
        let (old, new) = (inner(old), inner(new));
        compare(
            &format!("{pointer}/{escaped}"),
            old.as_ref(),
            new.as_ref(),
            changes,
        );
    }
}

fn leaf(pointer: &str, old: Option<&Value>, new: Option<&Value>) -> Change {
    let text = |side: Option<&Value>| {
        side.map(|value| match value {
            Value::String(text) => text.clone(),
            Value::Null
            | Value::Bool(_)
            | Value::Number(_)
            | Value::Array(_)
            | Value::Object(_) => value.to_string(),
        })
    };
    let (before, after) = (text(old), text(new));
    if disclosed_members()
        .iter()
        .any(|path| matches(path, pointer))
    {
        Change {
            pointer: pointer.to_owned(),
            before: None,
            after: None,
            text_before: before,
            text_after: after,
        }
    } else {
        Change {
            pointer: pointer.to_owned(),
            before,
            after,
            text_before: None,
            text_after: None,
        }
    }
}

/// Whether a pointer is one that the path, with `*` for any element, names.
fn matches(path: &str, pointer: &str) -> bool {
    let (mut path, mut pointer) = (path.split('/'), pointer.split('/'));
    loop {
        match (path.next(), pointer.next()) {
            (None, None) => return true,
            (Some(pattern), Some(name)) if pattern == "*" || pattern == name => {}
            (Some(_) | None, Some(_) | None) => return false,
        }
    }
}
