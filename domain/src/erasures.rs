//! Erasure: what goes when the law asks for it, what stands in its place, and what has to stay.
//!
//! Promises that a record of an erasure names digests and members and never a value, so that it
//! needs no erasure itself. Refuses, within its retention time, the name of whoever signed: without
//! it a signature is nobody's.

mod texts;

pub use texts::{
    SHORTEST_SOUGHT, blank, bytes_hold, holds, spellings, texts_of, value_holds, written_in_json,
};

use crate::{id::ActId, time::Moment};
use chrono::{DateTime, Datelike as _, Utc};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use uuid::Uuid;

/// What stands where a text was erased.
pub const ERASED: &str = "[erased]";

/// How many years the name beside a signature is kept after it was last signed with, where the
/// laboratory says nothing else. ISO/IEC 17025:2017 asks that records name the personnel
/// responsible (7.5.1) and be retained for a period that the laboratory sets (8.4.2); ten years
/// are *common practice, no source*.
pub const SIGNER_RETENTION_YEARS: u16 = 10;

/// Why something is erased.
///
/// ```
/// use domain::erasures::ErasureCode;
/// assert_eq!(ErasureCode::ErasureRequest.name(), "erasure-request");
/// assert!(serde_json::from_str::<ErasureCode>("\"tidying-up\"").is_err());
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum ErasureCode {
    /// Whoever it speaks of asked for it, and the law grants it.
    ErasureRequest,
    /// An authority or a court ordered it.
    Order,
    /// The time for which it had to be kept is over.
    RetentionEnded,
    /// It should never have been entered.
    EnteredByMistake,
}

impl ErasureCode {
    /// Its name in acts.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::ErasureRequest => "erasure-request",
            Self::Order => "order",
            Self::RetentionEnded => "retention-ended",
            Self::EnteredByMistake => "entered-by-mistake",
        }
    }
}

/// Where a digest stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum HeldIn {
    /// In the content of a record.
    Record,
    /// In the reason of an act.
    Act,
    /// In the signed part of a certificate.
    Certificate,
}

/// One disclosure that was erased: its digest, and the member that it filled.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct ErasedMember {
    /// The digest, which stays in what was signed.
    pub digest: String,
    /// Where the digest stands.
    pub held_in: HeldIn,
    /// JSON pointer of the member, in the record's content, the act or the certificate.
    #[cfg_attr(feature = "openapi", schema(example = "/name"))]
    pub member: String,
    /// The act that recorded it.
    pub act: ActId,
    /// Kind of the subject; absent in the reason of an act.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "openapi", schema(example = "customer"))]
    pub kind: Option<String>,
    /// The subject; absent in the reason of an act.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub subject: Option<Uuid>,
    /// Version of the subject; absent in the reason of an act.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub version: Option<u32>,
    /// What stands in its place wherever the member is shown: a text says that it was erased, a
    /// list or an object is empty.
    #[cfg_attr(feature = "openapi", schema(value_type = Object))]
    pub stands_in: Value,
}

/// An erasure, as it is recorded.
///
/// ```
/// use domain::erasures::{Erasure, stands_in};
/// assert_eq!(stands_in("/name", &"Hollow Mill Ltd".into(), uuid::Uuid::nil()), "[erased]");
/// let empty: Erasure = serde_json::from_str(r#"{"erased":[]}"#)?;
/// assert!(empty.uploads.is_empty());
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Erasure {
    /// What was erased, in the order of act and member.
    pub erased: Vec<ErasedMember>,
    /// SHA-256 of the uploads that held it and were deleted.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub uploads: Vec<String>,
}

/// What stands in the place of an erased value. A login stays unlike every other.
///
/// ```
/// use domain::erasures::stands_in;
/// use serde_json::json;
/// let id = uuid::Uuid::nil();
/// assert_eq!(stands_in("/operators", &json!({"jo": 1}), id), json!({}));
/// assert_eq!(stands_in("/contradiction/differences", &json!(["a"]), id), json!([]));
/// assert_ne!(stands_in("/login", &json!("jo"), id), json!("[erased]"));
/// ```
#[must_use]
pub fn stands_in(member: &str, value: &Value, subject: Uuid) -> Value {
    match value {
        Value::Array(_) => Value::Array(Vec::new()),
        Value::Object(_) => Value::Object(serde_json::Map::new()),
        Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_)
            if member == "/login" =>
        {
            Value::from(format!("{ERASED} {subject}"))
        }
        Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_) => Value::from(ERASED),
    }
}

/// Puts what stands in for an erased member in its place: over the value, or where it is missing.
/// Where the object around it is missing too, there is nothing to do, and the answer is `false`.
///
/// ```
/// use domain::erasures::put_in_place;
/// let mut content = serde_json::json!({"carrier": {"kind": "truck"}});
/// assert!(put_in_place(&mut content, "/carrier/registration", &"[erased]".into()));
/// assert_eq!(content["carrier"]["registration"], "[erased]");
/// assert!(!put_in_place(&mut content, "/sampling/place", &"[erased]".into()));
/// ```
pub fn put_in_place(content: &mut Value, member: &str, stands_in: &Value) -> bool {
    let Some((parent, name)) = member.rsplit_once('/') else {
        return false;
    };
    let name = name.replace("~1", "/").replace("~0", "~");
    content
        .pointer_mut(parent)
        .and_then(Value::as_object_mut)
        .map(|members| members.insert(name, stands_in.clone()))
        .is_some()
}

/// Every digest in what is recorded or signed, with the JSON pointer of the object it stands in.
///
/// ```
/// use domain::erasures::digests_in;
/// let content = serde_json::json!({"parties": [{"_sd": ["abc"]}], "_sd": ["xyz"]});
/// let found = digests_in(&content);
/// assert_eq!(found[0], ("xyz".to_owned(), String::new()));
/// assert_eq!(found[1], ("abc".to_owned(), "/parties/0".to_owned()));
/// ```
#[must_use]
pub fn digests_in(value: &Value) -> Vec<(String, String)> {
    let mut found = Vec::new();
    walk(value, String::new(), &mut found);
    found
}

fn walk(value: &Value, pointer: String, found: &mut Vec<(String, String)>) {
    match value {
        Value::Object(members) => {
            let own = members.get("_sd").and_then(Value::as_array);
            let own = own.into_iter().flatten().filter_map(Value::as_str);
            found.extend(own.map(|digest| (digest.to_owned(), pointer.clone())));
            for (name, member) in members {
                walk(member, format!("{pointer}/{}", step(name)), found);
            }
        }
        Value::Array(elements) => {
            for (index, element) in elements.iter().enumerate() {
                walk(element, format!("{pointer}/{index}"), found);
            }
        }
        Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_) => {}
    }
}

/// A member's name as a step of a JSON pointer (RFC 6901).
///
/// ```
/// assert_eq!(domain::erasures::step("a/b"), "a~1b");
/// ```
#[must_use]
pub fn step(name: &str) -> String {
    name.replace('~', "~0").replace('/', "~1")
}

/// Whether a member is the name of whoever signed, or accepted a hold on their own judgement.
///
/// ```
/// use domain::erasures::{HeldIn, is_signers_name};
/// assert!(is_signers_name(HeldIn::Certificate, "certificate", "/signatures/0/by/name"));
/// assert!(is_signers_name(HeldIn::Record, "account", "/printed_name"));
/// assert!(!is_signers_name(HeldIn::Certificate, "certificate", "/customer/name"));
/// ```
#[must_use]
pub fn is_signers_name(held_in: HeldIn, kind: &str, member: &str) -> bool {
    match held_in {
        HeldIn::Record => kind == "account" && member == "/printed_name",
        HeldIn::Certificate => {
            (member.starts_with("/signatures/") && member.ends_with("/by/name"))
                || (member.starts_with("/holds/") && member.ends_with("/accepted_by/name"))
        }
        HeldIn::Act => false,
    }
}

/// Whether a member states who the laboratory is, which is no person's and stays.
///
/// ```
/// use domain::erasures::{HeldIn, is_of_the_laboratory};
/// assert!(is_of_the_laboratory(HeldIn::Certificate, "certificate", "/issuer/name"));
/// assert!(!is_of_the_laboratory(HeldIn::Record, "customer", "/name"));
/// ```
#[must_use]
pub fn is_of_the_laboratory(held_in: HeldIn, kind: &str, member: &str) -> bool {
    match held_in {
        HeldIn::Record => kind == "laboratory",
        HeldIn::Certificate => member.starts_with("/issuer/"),
        HeldIn::Act => false,
    }
}

/// A signer's name has to stay for now.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error(
    "the name stands beside a signature of {signed} and is kept until {until}: a signer's name is \
     kept {years} years (ISO/IEC 17025:2017, 7.5.1 and 8.4.2)"
)]
pub struct Retained {
    /// When it was last signed with.
    pub signed: chrono::NaiveDate,
    /// The first day on which it may go.
    pub until: chrono::NaiveDate,
    /// The laboratory's retention time.
    pub years: u16,
}

/// Refuses the erasure of a signer's name within its retention time.
///
/// # Errors
/// [`Retained`].
///
/// ```
/// use domain::erasures::may_go;
/// let at = |text: &str| text.parse::<domain::time::Moment>().unwrap();
/// let signed = at("2026-03-01T09:00:00.000000Z");
/// assert!(may_go(signed, 10, at("2036-03-01T00:00:00.000000Z")).is_ok());
/// let refused = may_go(signed, 10, at("2036-02-29T23:00:00.000000Z")).unwrap_err();
/// assert!(refused.to_string().contains("until 2036-03-01"));
/// ```
pub fn may_go(signed: Moment, years: u16, now: Moment) -> Result<(), Retained> {
    let day = |at: DateTime<Utc>| at.date_naive();
    let signed = day(signed.utc());
    let year = signed.year().saturating_add(i32::from(years));
    // The 29th of February of a year without one: the day after.
    let until = signed
        .with_year(year)
        .or_else(|| chrono::NaiveDate::from_ymd_opt(year, 3, 1))
        .unwrap_or(chrono::NaiveDate::MAX);
    if day(now.utc()) >= until {
        return Ok(());
    }
    Err(Retained {
        signed,
        until,
        years,
    })
}
