//! Texts that are looked for wherever they may stand, and blanked there.
//!
//! Promises to find a text as words of its own, as it was written, in JSON and in the bytes of an
//! export. Refuses to look for one so short that it stands everywhere.

use super::ERASED;
use serde_json::Value;

/// Texts shorter than this, in letters, are not looked for elsewhere: they stand everywhere.
pub const SHORTEST_SOUGHT: usize = 3;

/// The texts of a value that are long enough to be looked for elsewhere, the names of members
/// inside it included.
///
/// ```
/// use domain::erasures::texts_of;
/// let texts = texts_of(&serde_json::json!({"Jo Park": ["x", " Mill Lane 2 "]}));
/// assert_eq!(texts.into_iter().collect::<Vec<_>>(), ["Jo Park", "Mill Lane 2"]);
/// ```
#[must_use]
pub fn texts_of(value: &Value) -> std::collections::BTreeSet<String> {
    let mut found = std::collections::BTreeSet::new();
    gather(value, &mut found);
    found
}

fn gather(value: &Value, found: &mut std::collections::BTreeSet<String>) {
    match value {
        Value::String(text) => note(text, found),
        Value::Array(elements) => elements.iter().for_each(|one| gather(one, found)),
        Value::Object(members) => members.iter().for_each(|(name, one)| {
            note(name, found);
            gather(one, found);
        }),
        Value::Null | Value::Bool(_) | Value::Number(_) => {}
    }
}

fn note(text: &str, found: &mut std::collections::BTreeSet<String>) {
    let text = text.trim();
    if text.chars().count() >= SHORTEST_SOUGHT && !text.starts_with(ERASED) {
        found.insert(text.to_owned());
    }
}

/// Whether a text holds another as words of its own, not as a part of a longer word.
///
/// ```
/// use domain::erasures::holds;
/// assert!(holds("Called Jo Park: no answer", "Jo Park"));
/// assert!(!holds("The parking place", "park"));
/// assert!(!holds("jo park", "Jo Park"), "letters as they were written");
/// ```
#[must_use]
pub fn holds(text: &str, sought: &str) -> bool {
    let bound = |letter: Option<char>| !letter.is_some_and(char::is_alphanumeric);
    !sought.is_empty()
        && text.match_indices(sought).any(|(at, found)| {
            let (before, rest) = text.split_at(at);
            let after = rest.strip_prefix(found).unwrap_or_default();
            let opens = !sought.starts_with(char::is_alphanumeric);
            let closes = !sought.ends_with(char::is_alphanumeric);
            (opens || bound(before.chars().next_back())) && (closes || bound(after.chars().next()))
        })
}

/// Whether a value holds a text, in a text of its own or in the name of a member.
///
/// ```
/// use domain::erasures::value_holds;
/// let value = serde_json::json!({"differences": [{"value": "Jo Park"}]});
/// assert!(value_holds(&value, "Jo Park"));
/// assert!(!value_holds(&value, "Jo Par"));
/// ```
#[must_use]
pub fn value_holds(value: &Value, sought: &str) -> bool {
    match value {
        Value::String(text) => holds(text, sought),
        Value::Array(elements) => elements.iter().any(|one| value_holds(one, sought)),
        Value::Object(members) => members
            .iter()
            .any(|(name, one)| holds(name, sought) || value_holds(one, sought)),
        Value::Null | Value::Bool(_) | Value::Number(_) => false,
    }
}

/// A text as it stands between the quotes of a JSON string.
///
/// ```
/// assert_eq!(domain::erasures::written_in_json("a \"b\""), r#"a \"b\""#);
/// ```
#[must_use]
pub fn written_in_json(text: &str) -> String {
    let quoted = Value::from(text).to_string();
    quoted
        .strip_prefix('"')
        .and_then(|rest| rest.strip_suffix('"'))
        .unwrap_or(text)
        .to_owned()
}

/// The bytes by which a text may stand in an export: UTF-8, Windows-1252, UTF-16 either way, and
/// with its quotes doubled as CSV writes them.
///
/// ```
/// use domain::erasures::{bytes_hold, spellings};
/// let export = b"R-1;Jos\xe9 Park;620"; // Windows-1252
/// assert!(spellings("José Park").iter().any(|text| bytes_hold(export, text)));
/// assert!(!bytes_hold(b"the parking place", b"park"), "part of a longer word");
/// ```
#[must_use]
pub fn spellings(text: &str) -> Vec<Vec<u8>> {
    let mut found = Vec::new();
    for text in [text.to_owned(), text.replace('"', "\"\"")] {
        found.push(text.as_bytes().to_vec());
        let (narrow, _, lossy) = encoding_rs::WINDOWS_1252.encode(&text);
        if !lossy {
            found.push(narrow.into_owned());
        }
        found.push(text.encode_utf16().flat_map(u16::to_le_bytes).collect());
        found.push(text.encode_utf16().flat_map(u16::to_be_bytes).collect());
    }
    found.sort();
    found.dedup();
    found
}

/// Whether bytes hold others that are not a part of a longer word.
///
/// ```
/// assert!(domain::erasures::bytes_hold(b"by Jo Park, twice", b"Jo Park"));
/// ```
#[must_use]
pub fn bytes_hold(bytes: &[u8], sought: &[u8]) -> bool {
    let letter = |byte: Option<&u8>| byte.is_some_and(u8::is_ascii_alphanumeric);
    let open = !letter(sought.first());
    let close = !letter(sought.last());
    (0..bytes.len()).any(|at| {
        let (before, rest) = bytes.split_at(at);
        rest.strip_prefix(sought).is_some_and(|after| {
            (open || !letter(before.last())) && (close || !letter(after.first()))
        })
    })
}

/// Puts [`ERASED`] in the place of every text that holds one of those sought; the answer is whether
/// there was one. A member whose name holds it goes with its value.
///
/// ```
/// use domain::erasures::blank;
/// let mut answer = serde_json::json!({"code": "MILL", "name": "Hollow Mill Ltd"});
/// assert!(blank(&mut answer, &["Hollow Mill Ltd".to_owned()]));
/// assert_eq!(answer, serde_json::json!({"code": "MILL", "name": "[erased]"}));
/// assert!(!blank(&mut answer, &["Hollow Mill Ltd".to_owned()]));
/// ```
pub fn blank(value: &mut Value, sought: &[String]) -> bool {
    let holds_one = |text: &str| sought.iter().any(|one| holds(text, one));
    match value {
        Value::String(text) if holds_one(text) => {
            ERASED.clone_into(text);
            true
        }
        Value::Array(elements) => {
            let mut any = false;
            for one in elements {
                any |= blank(one, sought);
            }
            any
        }
        Value::Object(members) => {
            let before = members.len();
            members.retain(|name, _| !holds_one(name));
            let mut any = members.len() != before;
            for one in members.values_mut() {
                any |= blank(one, sought);
            }
            any
        }
        Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_) => false,
    }
}
