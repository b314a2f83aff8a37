//! Corrections: what changed between two versions of a recorded thing, and why.
//!
//! Promises that a correction names each member that changed, with its value before and after, and
//! nothing else. Refuses one that changes nothing, and one without a reason.

use crate::{entries, faults::Faults, versions::SubjectVersion};
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};

/// JSON pointers of what may be personal or free text in a [`Correction`] of a content that
/// discloses some of its members: the values before and after.
pub const DISCLOSED: &[&str] = &["/personal/*/before", "/personal/*/after"];

/// Why something is corrected.
///
/// ```
/// use domain::corrections::ReasonCode;
/// assert_eq!(ReasonCode::TranscriptionError.name(), "transcription-error");
/// assert!(serde_json::from_str::<ReasonCode>("\"because\"").is_err());
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum ReasonCode {
    /// It was typed or read off wrongly.
    TranscriptionError,
    /// It was given to the wrong sample.
    WrongSample,
    /// The kit lot was another one.
    WrongKitLot,
    /// The dilution was another one.
    WrongDilution,
    /// The time was another one.
    WrongTime,
    /// The instrument was at fault.
    InstrumentFault,
    /// It became known, or changed, after it was recorded.
    LateInformation,
    /// The work did not follow the procedure.
    ProcedureNotFollowed,
    /// Something else, which the text says.
    Other,
}

impl ReasonCode {
    /// Its name in acts.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::TranscriptionError => "transcription-error",
            Self::WrongSample => "wrong-sample",
            Self::WrongKitLot => "wrong-kit-lot",
            Self::WrongDilution => "wrong-dilution",
            Self::WrongTime => "wrong-time",
            Self::InstrumentFault => "instrument-fault",
            Self::LateInformation => "late-information",
            Self::ProcedureNotFollowed => "procedure-not-followed",
            Self::Other => "other",
        }
    }
}

/// A reason: its code, and the words.
///
/// ```
/// use domain::corrections::{Reason, ReasonCode};
/// let reason = |text: &str| Reason { code: ReasonCode::Other, text: text.into() };
/// assert!(reason("The label was on the wrong bag.").check().is_ok());
/// assert_eq!(reason(" ").check().unwrap_err().0[0].pointer, "/text");
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Reason {
    /// The kind of reason.
    pub code: ReasonCode,
    /// The reason in words.
    #[cfg_attr(
        feature = "openapi",
        schema(example = "Two digits were exchanged in typing.")
    )]
    pub text: String,
}

impl Reason {
    /// Every fault of the reason.
    ///
    /// # Errors
    /// The faults: a reason without words is none.
    pub fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        entries::text(&mut faults, "/text", &self.text, entries::TEXT_LENGTH);
        faults.into_result()
    }
}

/// One member that changed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Change {
    /// JSON pointer to the member.
    pub pointer: String,
    /// Its value before; absent where there was none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "openapi", schema(value_type = Option<Object>))]
    pub before: Option<Value>,
    /// Its value after; absent where there is none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "openapi", schema(value_type = Option<Object>))]
    pub after: Option<Value>,
}

/// A correction, as it is recorded beside the version that it made.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Correction {
    /// What was corrected.
    pub of: SubjectVersion,
    /// The members that changed, in the order of their pointers.
    pub changes: Vec<Change>,
    /// Members that changed and are personal data or free text: their values can be erased.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub personal: Vec<Change>,
}

/// The correction would change nothing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("nothing changes: give at least one member another value")]
pub struct NothingChanges;

impl Correction {
    /// What changed from one content to the next; `disclosed` names what is personal or free text.
    ///
    /// # Errors
    /// [`NothingChanges`].
    ///
    /// ```
    /// use domain::{corrections::Correction, versions::SubjectVersion};
    /// use serde_json::json;
    /// let of = SubjectVersion { subject: uuid::Uuid::nil(), version: 1 };
    /// let before = json!({"readings": [{"value": "52"}], "comment": "a"});
    /// let after = json!({"readings": [{"value": "25"}], "comment": "a"});
    /// let correction = Correction::between(of, &before, &after, &["/comment"])?;
    /// assert_eq!(correction.changes[0].pointer, "/readings/0/value");
    /// assert!(Correction::between(of, &after, &after, &[]).is_err());
    /// # Ok::<(), domain::corrections::NothingChanges>(())
    /// ```
    pub fn between(
        of: SubjectVersion,
        before: &Value,
        after: &Value,
        disclosed: &[&str],
    ) -> Result<Self, NothingChanges> {
        let mut all = Vec::new();
        compare(String::new(), Some(before), Some(after), &mut all);
        if all.is_empty() {
            return Err(NothingChanges);
        }
        let (personal, changes) = all
            .into_iter()
            .partition(|change| disclosed.iter().any(|path| covers(path, &change.pointer)));
        Ok(Self {
            of,
            changes,
            personal,
        })
    }
}

/// Whether a disclosed path (`*` for each element) names the member or something above it.
fn covers(path: &str, pointer: &str) -> bool {
    let mut steps = pointer.split('/');
    path.split('/').all(|wanted| {
        steps
            .next()
            .is_some_and(|step| wanted == "*" || wanted == step)
    })
}

fn compare(
    pointer: String,
    before: Option<&Value>,
    after: Option<&Value>,
    changes: &mut Vec<Change>,
) {
    // What appears or goes is looked into as well, so that a personal member inside it is found.
    let (no_members, no_elements) = (Map::new(), Vec::new());
    let (old_members, new_members) = (members(before), members(after));
    let (old_elements, new_elements) = (elements(before), elements(after));
    let is_empty = old_members.is_none_or(Map::is_empty)
        && new_members.is_none_or(Map::is_empty)
        && old_elements.is_none_or(Vec::is_empty)
        && new_elements.is_none_or(Vec::is_empty);
    match (before, after) {
        (Some(Value::Object(_)) | None, Some(Value::Object(_)))
        | (Some(Value::Object(_)), None)
            if !is_empty =>
        {
            let old = old_members.unwrap_or(&no_members);
            let new = new_members.unwrap_or(&no_members);
            let mut names: Vec<&String> = old.keys().chain(new.keys()).collect();
            names.sort();
            names.dedup();
            for name in names {
                let step = name.replace('~', "~0").replace('/', "~1");
                compare(
                    format!("{pointer}/{step}"),
                    old.get(name),
                    new.get(name),
                    changes,
                );
            }
        }
        (Some(Value::Array(_)) | None, Some(Value::Array(_))) | (Some(Value::Array(_)), None)
            if !is_empty =>
        {
            let old = old_elements.unwrap_or(&no_elements);
            let new = new_elements.unwrap_or(&no_elements);
            for index in 0..old.len().max(new.len()) {
                compare(
                    format!("{pointer}/{index}"),
                    old.get(index),
                    new.get(index),
                    changes,
                );
            }
        }
        (old, new) if old != new => changes.push(Change {
            pointer,
            before: old.cloned(),
            after: new.cloned(),
        }),
        _ => {}
    }
}

fn members(value: Option<&Value>) -> Option<&Map<String, Value>> {
    value.and_then(Value::as_object)
}

fn elements(value: Option<&Value>) -> Option<&Vec<Value>> {
    value.and_then(Value::as_array)
}

#[cfg(test)]
mod tests {
    #![expect(clippy::unwrap_used, clippy::indexing_slicing, reason = "tests may")]

    use super::*;
    use serde_json::json;
    use uuid::Uuid;

    #[test]
    fn a_personal_member_of_what_appears_stands_among_the_personal_ones() {
        let of = SubjectVersion {
            subject: Uuid::nil(),
            version: 1,
        };
        let after = json!({"carrier": {"kind": "truck", "registration": "AB 12"}});
        let correction =
            Correction::between(of, &json!({}), &after, &["/carrier/registration"]).unwrap();
        assert_eq!(correction.changes.len(), 1);
        assert_eq!(correction.changes[0].pointer, "/carrier/kind");
        assert_eq!(correction.personal[0].pointer, "/carrier/registration");
    }
}
