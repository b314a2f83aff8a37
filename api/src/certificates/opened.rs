//! From a bundle to the certificate in it, with the disclosures that are left put back.
//!
//! Promises that a name or text that was erased or is withheld is said to be so in its place.
//! Refuses bundles that hold no readable certificate, and disclosures that don't belong to it.

use base64::Engine as _;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use domain::certificates::{Certificate, disclosed_members};
use domain::ledger::Disclosure;
use domain::ledger::disclosure::{DisclosureError, reveal};
use serde_json::Value;
use std::collections::BTreeSet;

/// What stands in the place of a name or text whose disclosure is not in the bundle.
pub const WITHHELD: &str = "[erased or withheld]";
/// The same, where it may also never have been given.
const WITHHELD_OR_ABSENT: &str = "[erased, withheld or not given]";

/// Why a bundle cannot be opened.
#[derive(Debug, thiserror::Error)]
pub enum OpenError {
    /// The bundle is no JSON object with an SD-JWT as `certificate`.
    #[error("the bundle holds no certificate")]
    NoCertificate,
    /// Not JSON, or not the members that a certificate has.
    #[error("the certificate cannot be read")]
    Json(#[from] serde_json::Error),
    /// The payload is not base64url.
    #[error("the certificate's payload is not base64url")]
    Base64(#[from] base64::DecodeError),
    /// A disclosure does not belong to the certificate.
    #[error("a disclosure does not fit the certificate")]
    Disclosure(#[from] DisclosureError),
}

/// A certificate out of its bundle.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Opened {
    /// What it says.
    pub certificate: Certificate,
    /// How many names or texts are erased or withheld.
    pub withheld: usize,
}

/// Opens a bundle.
///
/// # Errors
/// [`OpenError`].
pub fn open(bundle: &[u8]) -> Result<Opened, OpenError> {
    let bundle: Value = serde_json::from_slice(bundle)?;
    let text = bundle
        .get("certificate")
        .and_then(Value::as_str)
        .ok_or(OpenError::NoCertificate)?;
    open_certificate(text)
}

/// Opens an SD-JWT with the disclosures that are left.
///
/// # Errors
/// [`OpenError`].
pub(super) fn open_certificate(text: &str) -> Result<Opened, OpenError> {
    let mut parts = text.split('~');
    let payload = parts.next().and_then(|jws| jws.split('.').nth(1));
    let payload = URL_SAFE_NO_PAD.decode(payload.ok_or(OpenError::NoCertificate)?)?;
    let mut payload: Value = serde_json::from_slice(&payload)?;
    let disclosures = parts
        .filter(|part| !part.is_empty())
        .map(Disclosure::parse)
        .collect::<Result<Vec<_>, _>>()?;
    let known = disclosures.iter().map(Disclosure::digest).collect();
    let mut gaps = Vec::new();
    find_gaps(&payload, String::new(), &known, &mut gaps);
    let withheld = reveal(&mut payload, &disclosures)?.len();
    for (pointer, missing) in gaps {
        fill(&mut payload, &pointer, missing);
    }
    Ok(Opened {
        certificate: serde_json::from_value(payload)?,
        withheld,
    })
}

/// Objects with digests that have no disclosure, by their JSON pointer, and how many.
fn find_gaps(
    value: &Value,
    pointer: String,
    known: &BTreeSet<&str>,
    gaps: &mut Vec<(String, usize)>,
) {
    match value {
        Value::Object(members) => {
            let digests = members
                .get("_sd")
                .and_then(Value::as_array)
                .into_iter()
                .flatten();
            let missing = digests
                .filter(|digest| digest.as_str().is_none_or(|digest| !known.contains(digest)))
                .count();
            for (name, member) in members {
                find_gaps(member, format!("{pointer}/{name}"), known, gaps);
            }
            if missing > 0 {
                gaps.push((pointer, missing));
            }
        }
        Value::Array(items) => {
            for (index, item) in items.iter().enumerate() {
                find_gaps(item, format!("{pointer}/{index}"), known, gaps);
            }
        }
        Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_) => {}
    }
}

/// Says in an object that disclosed members are missing, under each name that one could have.
fn fill(payload: &mut Value, pointer: &str, missing: usize) {
    let Some(object) = payload.pointer_mut(pointer).and_then(Value::as_object_mut) else {
        return;
    };
    let absent: Vec<&str> = disclosed_members()
        .iter()
        .filter_map(|path| path.rsplit_once('/'))
        .filter(|(parent, name)| names(parent, pointer) && !object.contains_key(*name))
        .map(|(_, name)| name)
        .collect();
    let text = if absent.len() > missing {
        WITHHELD_OR_ABSENT
    } else {
        WITHHELD
    };
    for name in absent {
        object.insert(name.to_owned(), Value::from(text));
    }
}

/// Whether a path, with `*` for any element, names the pointer.
fn names(path: &str, pointer: &str) -> bool {
    path.split('/').count() == pointer.split('/').count()
        && path
            .split('/')
            .zip(pointer.split('/'))
            .all(|(part, name)| part == "*" || part == name)
}
