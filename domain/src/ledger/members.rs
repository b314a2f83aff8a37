//! Reading an object whose members are fixed: these, of these types, and no others.
//!
//! Refuses a member that is missing, unknown, or of another type or form.

use super::canonical::LARGEST_WHOLE_NUMBER;
use super::hash::Hash;
use crate::time::Moment;
use serde_json::{Map, Value};
use uuid::Uuid;

/// Why an object is not the one expected.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum MemberError {
    /// The value is no object.
    #[error("not a JSON object")]
    NotAnObject,
    /// A member is missing.
    #[error("member \"{0}\" is missing")]
    Missing(String),
    /// A member that is not known.
    #[error("member \"{0}\" is not known")]
    Unknown(String),
    /// A member is of another type or form.
    #[error("member \"{name}\" is not {expected}")]
    Form {
        /// The member's name.
        name: String,
        /// What was expected.
        expected: &'static str,
    },
}

/// An object whose names were checked.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Members<'a>(&'a Map<String, Value>);

impl<'a> Members<'a> {
    /// Checks that all the required and none but the optional names are there.
    pub(crate) fn new(
        value: &'a Value,
        required: &[&str],
        optional: &[&str],
    ) -> Result<Self, MemberError> {
        let members = Self::open(value, required)?;
        match members
            .0
            .keys()
            .find(|name| !required.contains(&name.as_str()) && !optional.contains(&name.as_str()))
        {
            Some(unknown) => Err(MemberError::Unknown(unknown.chars().take(60).collect())),
            None => Ok(members),
        }
    }

    /// Checks that the required names are there; others may be.
    pub(crate) fn open(value: &'a Value, required: &[&str]) -> Result<Self, MemberError> {
        let map = value.as_object().ok_or(MemberError::NotAnObject)?;
        match required.iter().find(|name| !map.contains_key(**name)) {
            Some(missing) => Err(MemberError::Missing((*missing).to_owned())),
            None => Ok(Self(map)),
        }
    }

    pub(crate) fn get(self, name: &str) -> Option<&'a Value> {
        self.0.get(name)
    }

    pub(crate) fn text(self, name: &str) -> Result<&'a str, MemberError> {
        self.form(name, "text", Value::as_str)
    }

    pub(crate) fn whole(self, name: &str) -> Result<u64, MemberError> {
        self.form(name, "a whole number", |value| {
            value
                .as_u64()
                .filter(|number| *number <= LARGEST_WHOLE_NUMBER)
        })
    }

    pub(crate) fn id(self, name: &str) -> Result<Uuid, MemberError> {
        self.form(name, "a UUID in lower case", |value| {
            value.as_str().and_then(parse_id)
        })
    }

    pub(crate) fn hash(self, name: &str) -> Result<Hash, MemberError> {
        self.form(name, "a hash of 64 lower-case hex digits", |value| {
            value.as_str().and_then(|text| text.parse().ok())
        })
    }

    pub(crate) fn time(self, name: &str) -> Result<Moment, MemberError> {
        self.form(name, "a time like 2026-03-01T08:15:30.123456Z", |value| {
            value.as_str().and_then(parse_moment)
        })
    }

    /// Reads a member by a rule of the caller's.
    pub(crate) fn form<T>(
        self,
        name: &str,
        expected: &'static str,
        read: impl FnOnce(&'a Value) -> Option<T>,
    ) -> Result<T, MemberError> {
        let value = self
            .0
            .get(name)
            .ok_or_else(|| MemberError::Missing(name.to_owned()))?;
        read(value).ok_or_else(|| MemberError::Form {
            name: name.to_owned(),
            expected,
        })
    }

    /// Reads a member that may be absent.
    pub(crate) fn optional<T>(
        self,
        name: &str,
        read: impl FnOnce(Self, &str) -> Result<T, MemberError>,
    ) -> Result<Option<T>, MemberError> {
        if self.0.contains_key(name) {
            read(self, name).map(Some)
        } else {
            Ok(None)
        }
    }
}

/// A UUID in the one form that is written: lower case, with hyphens.
pub(crate) fn parse_id(text: &str) -> Option<Uuid> {
    let id = Uuid::try_parse(text).ok()?;
    let mut buffer = Uuid::encode_buffer();
    (id.hyphenated().encode_lower(&mut buffer) == text).then_some(id)
}

/// A moment in the one form that is written.
pub(crate) fn parse_moment(text: &str) -> Option<Moment> {
    let moment: Moment = text.parse().ok()?;
    (moment.to_string() == text).then_some(moment)
}

/// Whether the text is a name of the ledger's own: lower-case words with hyphens between them.
pub(crate) fn is_kebab_case(text: &str) -> bool {
    text.starts_with(|first: char| first.is_ascii_lowercase())
        && text.split('-').all(|word| {
            !word.is_empty()
                && word
                    .bytes()
                    .all(|byte| byte.is_ascii_lowercase() || byte.is_ascii_digit())
        })
}

/// Whether the text is a short name in ASCII, which needs no escape anywhere.
pub(crate) fn is_token(text: &str) -> bool {
    (1..=64).contains(&text.len())
        && text
            .bytes()
            .all(|byte| byte.is_ascii_alphanumeric() || matches!(byte, b'-' | b'_' | b'.' | b':'))
}
