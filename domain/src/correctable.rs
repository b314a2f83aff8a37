//! Which kinds of record may be corrected, and which of their members never change.
//!
//! Promises that what was derived or signed is not corrected but made anew from corrected facts;
//! refuses a change of where a run came from, of a custody event, of what a check was made on, and
//! of what the runs of a series share. Adding to a list is no change of what stands there.

use serde_json::Value;

/// Why a correction is not recorded.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum CorrectableError {
    /// Records of the kind are derived or signed.
    #[error("a {kind} is not corrected: correct what it was made from")]
    NotCorrected {
        /// The kind of record.
        kind: String,
    },
    /// Members that never change.
    #[error("these members never change: {}", .pointers.join(", "))]
    Fixed {
        /// JSON pointers of the members, sorted.
        pointers: Vec<String>,
    },
}

/// Kinds of record that may be corrected, each with the members that never change once they are
/// there; `*` stands for every element of an array.
const CORRECTABLE: &[(&str, &[&str])] = &[
    ("account", &[]),
    ("client", &[]),
    ("column-map", &[]),
    ("control-material", &[]),
    ("customer", &[]),
    ("equipment", &[]),
    ("equipment-check", &["of"]),
    ("kit-lot", &["acceptance_runs/*"]),
    ("laboratory", &["slug"]),
    ("limit", &[]),
    ("lot", &[]),
    ("order", &[]),
    ("preparation", &["kind"]),
    ("procedure", &[]),
    ("reader", &[]),
    ("run", &["origins/*"]),
    ("sample", &["custody/*"]),
    ("sampling", &[]),
    ("screening-validation", &[]),
    ("series", &["procedure", "kit_lot"]),
    ("site", &[]),
];

/// Asks whether a record of a kind may be corrected from one content to another.
///
/// # Errors
/// [`CorrectableError`], with every member that may not change.
///
/// ```
/// use domain::correctable::check;
/// use serde_json::json;
/// let one = json!({"custody": [{"action": "received"}]});
/// let two = json!({"custody": [{"action": "received"}, {"action": "moved"}]});
/// assert!(check("sample", &one, &two).is_ok(), "an event was added");
/// assert!(check("sample", &two, &one).is_err(), "an event was taken away");
/// assert!(check("result", &one, &two).is_err(), "it is computed: correct the run");
/// ```
pub fn check(kind: &str, before: &Value, after: &Value) -> Result<(), CorrectableError> {
    let Some((_, fixed)) = CORRECTABLE.iter().find(|(known, _)| *known == kind) else {
        let kind = kind.to_owned();
        return Err(CorrectableError::NotCorrected { kind });
    };
    let mut pointers: Vec<String> = fixed
        .iter()
        .flat_map(|path| changed(path, before, after))
        .collect();
    pointers.sort_unstable();
    if pointers.is_empty() {
        Ok(())
    } else {
        Err(CorrectableError::Fixed { pointers })
    }
}

/// The places that a path names in `before` whose value is another one, or absent, in `after`.
fn changed(path: &str, before: &Value, after: &Value) -> Vec<String> {
    let pointers = match path.strip_suffix("/*") {
        Some(list) => {
            let count = before
                .get(list)
                .and_then(Value::as_array)
                .map_or(0, Vec::len);
            (0..count)
                .map(|position| format!("/{list}/{position}"))
                .collect()
        }
        None => vec![format!("/{path}")],
    };
    pointers
        .into_iter()
        .filter(|pointer| {
            let stands = before.pointer(pointer);
            stands.is_some() && stands != after.pointer(pointer)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    fn fixed(pointers: &[&str]) -> Result<(), CorrectableError> {
        let pointers = pointers.iter().map(|one| (*one).to_owned()).collect();
        Err(CorrectableError::Fixed { pointers })
    }

    #[test]
    fn a_run_may_move_to_another_sample_but_not_change_where_it_came_from() {
        let run = |sample: &str, line: u64| json!({"sample": sample, "origins": [{"line": line}]});
        assert_eq!(check("run", &run("a", 7), &run("b", 7)), Ok(()));
        assert_eq!(
            check("run", &run("a", 7), &run("b", 8)),
            fixed(&["/origins/0"])
        );
        let both = json!({"sample": "a", "origins": [{"line": 7}, {"bench": true}]});
        assert_eq!(
            check("run", &run("a", 7), &both),
            Ok(()),
            "it was met again"
        );
    }

    #[test]
    fn a_custody_event_is_added_and_never_changed_or_taken_away() {
        let received = json!({"custody": [{"action": "received"}]});
        let sealed = json!({"custody": [{"action": "received", "seal": "7"}]});
        assert_eq!(check("sample", &received, &sealed), fixed(&["/custody/0"]));
        assert_eq!(
            check("sample", &received, &json!({})),
            fixed(&["/custody/0"])
        );
        assert_eq!(check("sample", &json!({}), &received), Ok(()));
    }

    #[test]
    fn the_runs_of_a_series_share_its_procedure_and_kit_lot() {
        let series = |kit_lot: &str, code: &str| json!({"kit_lot": kit_lot, "code": code});
        assert_eq!(
            check("series", &series("a", "1"), &series("a", "2")),
            Ok(())
        );
        assert_eq!(
            check("series", &series("a", "1"), &series("b", "1")),
            fixed(&["/kit_lot"])
        );
    }

    #[test]
    fn what_is_derived_or_signed_is_not_corrected() {
        let (one, two) = (json!({"a": 1}), json!({"a": 2}));
        for kind in [
            "result",
            "hold",
            "review",
            "correction",
            "certificate",
            "import",
            "key",
        ] {
            let refused = check(kind, &one, &two);
            assert!(
                matches!(refused, Err(CorrectableError::NotCorrected { .. })),
                "{kind}"
            );
        }
    }
}
