//! Which results a failed control brackets.
//!
//! Promises every result between the last control that passed and the next that does; refuses
//! nothing: without a passing control before or after, everything on that side is in doubt.

use serde::{Deserialize, Serialize};

use super::super::error::{Answer, at_least};

/// A control in the sequence.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct ControlPoint {
    /// Its place in the sequence of all measurements.
    pub place: u64,
    /// Whether it passed.
    pub passed: bool,
}

/// Controls and results by their places in one sequence of measurements.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct BracketInput {
    /// The controls, in any order.
    pub controls: Vec<ControlPoint>,
    /// The places of the results, in any order.
    pub results: Vec<u64>,
}

/// A stretch in doubt.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Bracket {
    /// The controls that failed in it.
    pub failed: Vec<u64>,
    /// The control that passed before; absent where none did.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub after: Option<u64>,
    /// The control that passed next; absent where none did yet.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub before: Option<u64>,
    /// The results in doubt.
    pub results: Vec<u64>,
}

/// The stretches in doubt around failed controls, and the results in them (*common practice, no
/// source*).
///
/// # Errors
/// [`TooFew`](super::super::StatisticsError::TooFew) without a control.
///
/// ```
/// use domain::statistics::control::{BracketInput, brackets};
/// let input: BracketInput = serde_json::from_str(r#"{"controls":[{"place":1,"passed":true},
///     {"place":5,"passed":false},{"place":9,"passed":true}],"results":[0,2,4,6,10]}"#)?;
/// assert_eq!(brackets(&input).unwrap()[0].results, [2, 4, 6]);
/// let none: BracketInput = serde_json::from_str(r#"{"controls":[],"results":[1]}"#)?;
/// assert!(brackets(&none).is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
pub fn brackets(input: &BracketInput) -> Answer<Vec<Bracket>> {
    at_least("controls", input.controls.len(), 1)?;
    let mut controls = input.controls.clone();
    // Of two at one place a failed one counts as the later: the doubt stays.
    controls.sort_by_key(|control| (control.place, !control.passed));
    let mut results = input.results.clone();
    results.sort_unstable();
    let mut found: Vec<Bracket> = Vec::new();
    let (mut passed, mut open): (Option<u64>, Option<Bracket>) = (None, None);
    for control in controls {
        if control.passed {
            if let Some(mut bracket) = open.take() {
                bracket.before = Some(control.place);
                found.push(bracket);
            }
            passed = Some(control.place);
        } else {
            let bracket = open.get_or_insert_with(|| Bracket {
                failed: Vec::new(),
                after: passed,
                before: None,
                results: Vec::new(),
            });
            bracket.failed.push(control.place);
        }
    }
    found.extend(open);
    for bracket in &mut found {
        let inside = |place: &&u64| {
            bracket.after.is_none_or(|after| **place > after)
                && bracket.before.is_none_or(|before| **place < before)
        };
        bracket.results = results.iter().filter(inside).copied().collect();
    }
    Ok(found)
}
