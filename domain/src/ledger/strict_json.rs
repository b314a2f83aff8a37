//! Reading JSON so that no two readers can understand it differently (I-JSON, RFC 7493).
//!
//! Promises that what is read has one meaning; refuses a name given twice in an object, a lone
//! surrogate, a noncharacter, a number out of range, bytes that are not UTF-8, and anything behind
//! the value.

use serde::de::{DeserializeSeed, Error as _, MapAccess, SeqAccess, Visitor};
use serde_json::{Map, Number, Value};

/// Why bytes are no I-JSON.
#[derive(Debug, thiserror::Error)]
pub enum StrictJsonError {
    /// Not UTF-8.
    #[error("the text is not UTF-8")]
    NotUtf8(#[source] std::str::Utf8Error),
    /// Not JSON, or JSON that RFC 7493 refuses.
    #[error("the text is not JSON of the strict kind (RFC 7493)")]
    NotStrict(#[source] serde_json::Error),
}

/// Reads one JSON value from UTF-8 bytes.
///
/// # Errors
/// [`StrictJsonError`], whose source says where and what.
///
/// ```
/// use domain::ledger::strict_json;
/// assert_eq!(strict_json::read(br#"{"a":[1,"x"]}"#)?["a"][0], 1);
/// assert!(strict_json::read(br#"{"a":1,"a":2}"#).is_err());
/// assert!(strict_json::read(br#"["\ud83d"]"#).is_err());
/// # Ok::<(), domain::ledger::strict_json::StrictJsonError>(())
/// ```
pub fn read(bytes: &[u8]) -> Result<Value, StrictJsonError> {
    let text = std::str::from_utf8(bytes).map_err(StrictJsonError::NotUtf8)?;
    let mut deserializer = serde_json::Deserializer::from_str(text);
    let value = AnyValue
        .deserialize(&mut deserializer)
        .map_err(StrictJsonError::NotStrict)?;
    deserializer.end().map_err(StrictJsonError::NotStrict)?;
    Ok(value)
}

/// A noncharacter of Unicode (RFC 7493 2.1 forbids them in strings and names).
fn is_noncharacter(character: char) -> bool {
    let code = u32::from(character);
    code & 0xfffe == 0xfffe || (0xfdd0..=0xfdef).contains(&code)
}

fn check_text<E: serde::de::Error>(text: &str) -> Result<(), E> {
    if !text.is_ascii() && text.chars().any(is_noncharacter) {
        return Err(E::custom("noncharacter in a string"));
    }
    Ok(())
}

struct AnyValue;

impl<'de> DeserializeSeed<'de> for AnyValue {
    type Value = Value;

    fn deserialize<D: serde::Deserializer<'de>>(self, from: D) -> Result<Value, D::Error> {
        from.deserialize_any(self)
    }
}

impl<'de> Visitor<'de> for AnyValue {
    type Value = Value;

    fn expecting(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("a JSON value")
    }

    fn visit_bool<E>(self, value: bool) -> Result<Value, E> {
        Ok(Value::Bool(value))
    }

    fn visit_i64<E>(self, value: i64) -> Result<Value, E> {
        Ok(Value::Number(value.into()))
    }

    fn visit_u64<E>(self, value: u64) -> Result<Value, E> {
        Ok(Value::Number(value.into()))
    }

    #[expect(
        clippy::disallowed_types,
        reason = "the parser hands fractions over in this type; it is passed on, not computed with"
    )]
    fn visit_f64<E: serde::de::Error>(self, value: f64) -> Result<Value, E> {
        Number::from_f64(value)
            .map(Value::Number)
            .ok_or_else(|| E::custom("number out of range"))
    }

    fn visit_str<E: serde::de::Error>(self, value: &str) -> Result<Value, E> {
        check_text(value)?;
        Ok(Value::String(value.to_owned()))
    }

    fn visit_string<E: serde::de::Error>(self, value: String) -> Result<Value, E> {
        check_text(&value)?;
        Ok(Value::String(value))
    }

    fn visit_unit<E>(self) -> Result<Value, E> {
        Ok(Value::Null)
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut from: A) -> Result<Value, A::Error> {
        let mut elements = Vec::new();
        while let Some(element) = from.next_element_seed(AnyValue)? {
            elements.push(element);
        }
        Ok(Value::Array(elements))
    }

    fn visit_map<A: MapAccess<'de>>(self, mut from: A) -> Result<Value, A::Error> {
        let mut members = Map::new();
        while let Some(name) = from.next_key::<String>()? {
            check_text(&name)?;
            if members.contains_key(&name) {
                return Err(A::Error::custom("a name stands twice in an object"));
            }
            let value = from.next_value_seed(AnyValue)?;
            members.insert(name, value);
        }
        Ok(Value::Object(members))
    }
}
