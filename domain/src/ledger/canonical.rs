//! Canonical JSON (RFC 8785): the one sequence of bytes that a JSON value has.
//!
//! Promises names sorted by UTF-16 code units, the shortest escapes, numbers as ECMAScript prints
//! them, no white space. What is to be recorded is held to more: see [`write_recorded`].

use super::strict_json::{self, StrictJsonError};
use serde_json::{Map, Number, Value};

/// The largest whole number that is written as a JSON number: 2^53 - 1 (RFC 7493 2.2).
pub const LARGEST_WHOLE_NUMBER: u64 = 9_007_199_254_740_991;

/// Why a value has no canonical bytes.
#[derive(Debug, thiserror::Error)]
pub enum CanonicalError {
    /// A number that cannot be written.
    #[error("a number cannot be written in canonical form")]
    Number(#[source] serde_json::Error),
    /// A number that is to be recorded is not whole, below 0 or above 2^53 - 1.
    #[error("{0} is not a whole number from 0 to 2^53 - 1; write a decimal as text")]
    NotWhole(String),
    /// A text that is to be recorded has a control character.
    #[error("a text has a control character")]
    ControlCharacter,
    /// An element of a list that is to be recorded says nothing.
    #[error("a list has an empty element (null)")]
    NullElement,
    /// The bytes are no I-JSON.
    #[error("the bytes are no strict JSON")]
    NotStrict(#[source] StrictJsonError),
    /// The bytes are JSON, but not in canonical form.
    #[error("the JSON is not in canonical form (RFC 8785)")]
    NotCanonical,
}

/// The canonical bytes of any JSON value (RFC 8785).
///
/// # Errors
/// [`CanonicalError::Number`], for a number that is no finite one.
///
/// ```
/// use domain::ledger::canonical;
/// let value = serde_json::json!({"b": [], "a": 12.50});
/// assert_eq!(canonical::to_bytes(&value)?, br#"{"a":12.5,"b":[]}"#);
/// # Ok::<(), canonical::CanonicalError>(())
/// ```
pub fn to_bytes(value: &Value) -> Result<Vec<u8>, CanonicalError> {
    let mut out = Vec::with_capacity(256);
    write_value(value, Rules::Any, &mut out)?;
    Ok(out)
}

/// Appends the canonical bytes of what is to be recorded.
///
/// A member that is null has nothing to say and is left out. Refused are numbers that are not whole
/// or outside 0 to 2^53 - 1 (decimals are texts), control characters and empty list elements.
///
/// # Errors
/// [`CanonicalError`]; what was appended until then is of no use.
///
/// ```
/// use domain::ledger::canonical;
/// let mut out = Vec::new();
/// canonical::write_recorded(&serde_json::json!({"value": "12.50", "lot": null}), &mut out)?;
/// assert_eq!(out, br#"{"value":"12.50"}"#);
/// assert!(canonical::write_recorded(&serde_json::json!({"value": 12.5}), &mut out).is_err());
/// # Ok::<(), canonical::CanonicalError>(())
/// ```
pub fn write_recorded(value: &Value, out: &mut Vec<u8>) -> Result<(), CanonicalError> {
    write_value(value, Rules::Recorded, out)
}

/// Reads bytes that must be strict JSON in canonical form.
///
/// # Errors
/// [`CanonicalError::NotStrict`] or [`CanonicalError::NotCanonical`].
///
/// ```
/// use domain::ledger::canonical;
/// assert_eq!(canonical::read(br#"{"a":1}"#)?["a"], 1);
/// assert!(canonical::read(br#"{"a": 1}"#).is_err());
/// # Ok::<(), canonical::CanonicalError>(())
/// ```
pub fn read(bytes: &[u8]) -> Result<Value, CanonicalError> {
    let value = strict_json::read(bytes).map_err(CanonicalError::NotStrict)?;
    let mut again = Vec::with_capacity(bytes.len());
    write_value(&value, Rules::Any, &mut again)?;
    if again == bytes {
        Ok(value)
    } else {
        Err(CanonicalError::NotCanonical)
    }
}

/// Whether the bytes are strict JSON in canonical form.
///
/// ```
/// use domain::ledger::canonical::is_canonical;
/// assert!(is_canonical(br#"["a",1]"#));
/// assert!(!is_canonical(br#"["a",1.0]"#));
/// ```
#[must_use]
pub fn is_canonical(bytes: &[u8]) -> bool {
    read(bytes).is_ok()
}

/// Whether any name or text of the value has a control character.
///
/// ```
/// use domain::ledger::canonical::has_control_characters;
/// assert!(has_control_characters(&serde_json::json!({"remark": "a\u{1b}[2Kb"})));
/// assert!(!has_control_characters(&serde_json::json!({"remark": "Ærø"})));
/// ```
#[must_use]
pub fn has_control_characters(value: &Value) -> bool {
    match value {
        Value::Null | Value::Bool(_) | Value::Number(_) => false,
        Value::String(text) => is_controlled(text),
        Value::Array(elements) => elements.iter().any(has_control_characters),
        Value::Object(members) => members
            .iter()
            .any(|(name, member)| is_controlled(name) || has_control_characters(member)),
    }
}

fn is_controlled(text: &str) -> bool {
    if text.is_ascii() {
        text.bytes().any(|byte| byte < 0x20 || byte == 0x7f)
    } else {
        text.chars().any(char::is_control)
    }
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Rules {
    Any,
    Recorded,
}

fn write_value(value: &Value, rules: Rules, out: &mut Vec<u8>) -> Result<(), CanonicalError> {
    match value {
        Value::Null => out.extend_from_slice(b"null"),
        Value::Bool(true) => out.extend_from_slice(b"true"),
        Value::Bool(false) => out.extend_from_slice(b"false"),
        Value::Number(number) => write_number(number, rules, out)?,
        Value::String(text) => write_checked_text(text, rules, out)?,
        Value::Array(elements) => {
            out.push(b'[');
            for (index, element) in elements.iter().enumerate() {
                if index > 0 {
                    out.push(b',');
                }
                if rules == Rules::Recorded && element.is_null() {
                    return Err(CanonicalError::NullElement);
                }
                write_value(element, rules, out)?;
            }
            out.push(b']');
        }
        Value::Object(members) => write_object(members, rules, out)?,
    }
    Ok(())
}

fn write_object(
    members: &Map<String, Value>,
    rules: Rules,
    out: &mut Vec<u8>,
) -> Result<(), CanonicalError> {
    out.push(b'{');
    let mut first = true;
    if in_canonical_order(members) {
        for member in members {
            write_member(member, rules, &mut first, out)?;
        }
    } else {
        let mut sorted: Vec<(&String, &Value)> = members.iter().collect();
        sorted.sort_by(|(a, _), (b, _)| a.encode_utf16().cmp(b.encode_utf16()));
        for member in sorted {
            write_member(member, rules, &mut first, out)?;
        }
    }
    out.push(b'}');
    Ok(())
}

/// Byte order is UTF-16 order as long as no name has a character above U+FFFF (first byte 0xf0).
fn in_canonical_order(members: &Map<String, Value>) -> bool {
    let mut before = "";
    members.keys().all(|name| {
        let ordered = before <= name.as_str() && !name.bytes().any(|byte| byte >= 0xf0);
        before = name;
        ordered
    })
}

fn write_member(
    (name, value): (&String, &Value),
    rules: Rules,
    first: &mut bool,
    out: &mut Vec<u8>,
) -> Result<(), CanonicalError> {
    if rules == Rules::Recorded && value.is_null() {
        return Ok(());
    }
    if !*first {
        out.push(b',');
    }
    *first = false;
    write_checked_text(name, rules, out)?;
    out.push(b':');
    write_value(value, rules, out)
}

fn write_number(number: &Number, rules: Rules, out: &mut Vec<u8>) -> Result<(), CanonicalError> {
    match number.as_u64() {
        Some(whole) if whole <= LARGEST_WHOLE_NUMBER => write_whole(whole, out),
        _ if rules == Rules::Recorded => return Err(CanonicalError::NotWhole(number.to_string())),
        _ => serde_json_canonicalizer::to_writer(number, out).map_err(CanonicalError::Number)?,
    }
    Ok(())
}

fn write_checked_text(text: &str, rules: Rules, out: &mut Vec<u8>) -> Result<(), CanonicalError> {
    if rules == Rules::Recorded && is_controlled(text) {
        return Err(CanonicalError::ControlCharacter);
    }
    write_text(text, out);
    Ok(())
}

/// Appends a whole number in decimal digits.
pub(crate) fn write_whole(mut number: u64, out: &mut Vec<u8>) {
    let start = out.len();
    loop {
        out.push(b'0' + u8::try_from(number % 10).unwrap_or_default());
        number /= 10;
        if number == 0 {
            break;
        }
    }
    if let Some(digits) = out.get_mut(start..) {
        digits.reverse();
    }
}

/// Appends a text with quotation marks and the escapes of RFC 8785 3.2.2.2.
pub(crate) fn write_text(text: &str, out: &mut Vec<u8>) {
    out.push(b'"');
    let mut rest = text.as_bytes();
    while let Some(at) = rest
        .iter()
        .position(|b| *b < 0x20 || matches!(b, b'"' | b'\\'))
    {
        let (plain, tail) = rest.split_at(at);
        out.extend_from_slice(plain);
        let Some((special, after)) = tail.split_first() else {
            break;
        };
        write_escape(*special, out);
        rest = after;
    }
    out.extend_from_slice(rest);
    out.push(b'"');
}

fn write_escape(byte: u8, out: &mut Vec<u8>) {
    let letter = match byte {
        b'"' => b'"',
        b'\\' => b'\\',
        0x08 => b'b',
        0x09 => b't',
        0x0a => b'n',
        0x0c => b'f',
        0x0d => b'r',
        _ => {
            out.extend_from_slice(format!("\\u{byte:04x}").as_bytes());
            return;
        }
    };
    out.extend_from_slice(&[b'\\', letter]);
}

#[cfg(test)]
mod tests {
    #![expect(clippy::unwrap_used, reason = "a test may unwrap")]
    use super::*;
    use proptest::prelude::*;

    fn any_json() -> impl Strategy<Value = Value> {
        let leaf = prop_oneof![
            Just(Value::Null),
            any::<bool>().prop_map(Value::Bool),
            any::<u64>().prop_map(Value::from),
            any::<i64>().prop_map(Value::from),
            (any::<i64>(), 0..400_i32).prop_filter_map("finite", |(digits, exponent)| {
                serde_json::from_str(&format!("{digits}e{}", exponent - 300)).ok()
            }),
            any::<String>().prop_map(Value::String),
        ];
        leaf.prop_recursive(4, 40, 6, |inner| {
            prop_oneof![
                prop::collection::vec(inner.clone(), 0..6).prop_map(Value::Array),
                prop::collection::hash_map(any::<String>(), inner, 0..6)
                    .prop_map(|members| Value::Object(members.into_iter().collect())),
            ]
        })
    }

    proptest! {
        #[test]
        fn the_bytes_are_those_of_an_independent_writer(value in any_json()) {
            let expected = serde_json_canonicalizer::to_vec(&value).unwrap();
            prop_assert_eq!(to_bytes(&value).unwrap(), expected);
        }

        #[test]
        fn canonical_bytes_are_read_back_as_canonical(value in any_json()) {
            let bytes = to_bytes(&value).unwrap();
            // A generated text may hold a noncharacter, which the reader must refuse.
            if strict_json::read(&bytes).is_ok() {
                prop_assert!(is_canonical(&bytes));
            }
        }
    }

    #[test]
    fn names_above_the_basic_plane_sort_by_utf_16() {
        // RFC 8785 3.2.3: U+1F600 is D83D DE00 in UTF-16 and so stands before U+FB33.
        let value: Value = serde_json::from_str("{\"\u{fb33}\":1,\"\u{1f600}\":2}").unwrap();
        assert_eq!(
            to_bytes(&value).unwrap(),
            "{\"\u{1f600}\":2,\"\u{fb33}\":1}".as_bytes()
        );
    }

    #[test]
    fn what_is_recorded_has_no_fraction_control_character_or_empty_element() {
        for refused in [
            "[1.5]",
            "[-1]",
            "[9007199254740992]",
            "[\"\\u0007\"]",
            "[null]",
        ] {
            let value: Value = serde_json::from_str(refused).unwrap();
            assert!(
                write_recorded(&value, &mut Vec::new()).is_err(),
                "{refused}"
            );
        }
    }
}
