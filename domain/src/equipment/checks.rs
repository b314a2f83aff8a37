//! Checks and calibrations of equipment and readers, and how far back a failed one reaches.
//!
//! Promises that a failed check reaches back to the last good one: [`suspect_windows`] says which
//! times are in doubt. Refuses a check without a reading or a criterion.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use crate::entries;
use crate::faults::Faults;
use crate::id::{AccountId, EquipmentId, ReaderId};
use crate::quantity::Number;
use crate::time::Moment;
use crate::versions::SubjectVersion;
use uuid::Uuid;

/// A check or calibration of one piece of equipment.
///
/// ```
/// use domain::equipment::EquipmentCheck;
/// let check: EquipmentCheck = serde_json::from_str(
///     r#"{"of":{"equipment":"019ca869-5003-7d46-b59c-6cf85cca57e4"},"kind":"intermediate",
///         "at":"2026-03-01T07:00:00Z","readings":[{"nominal":"10","found":"10.02","unit":"g"}],
///         "criterion":"within 0.1 g","as_found":"pass","as_left":"pass","adjusted":false}"#)?;
/// assert!(check.check().is_ok());
/// assert!(EquipmentCheck { readings: vec![], ..check }.check().is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct EquipmentCheck {
    /// What was checked.
    pub of: Checked,
    /// Which kind of check.
    pub kind: CheckKind,
    /// When.
    pub at: Moment,
    /// Who did it, where they have an account.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<AccountId>,
    /// What was read.
    pub readings: Vec<CheckReading>,
    /// What the readings had to meet.
    pub criterion: String,
    /// Verdict on the equipment as it was found.
    pub as_found: CheckVerdict,
    /// Verdict on it as it was left.
    pub as_left: CheckVerdict,
    /// Last day until the next one of this kind.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub next_due_on: Option<NaiveDate>,
    /// Whether it was adjusted.
    #[serde(default)]
    pub adjusted: bool,
    /// Free text (disclosed).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub comment: Option<String>,
}

/// What was checked.
///
/// ```
/// use domain::equipment::Checked;
/// let of: Checked = serde_json::from_str(r#"{"reader":"019ca869-5003-7d46-b59c-6cf85cca57e4"}"#)?;
/// assert!(matches!(of, Checked::Reader(_)));
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Checked {
    /// A reader.
    Reader(ReaderId),
    /// Other equipment.
    Equipment(EquipmentId),
}

/// Which kind of check.
///
/// ```
/// use domain::equipment::CheckKind;
/// assert_eq!(serde_json::to_string(&CheckKind::Sieve)?, "\"sieve\"");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum CheckKind {
    /// Calibration.
    Calibration,
    /// Intermediate check between calibrations.
    Intermediate,
    /// Sieve test of a grinder.
    Sieve,
}

/// One reading of a check.
///
/// ```
/// use domain::equipment::CheckReading;
/// let reading: CheckReading = serde_json::from_str(r#"{"found":"95.8","unit":"%"}"#)?;
/// assert_eq!(reading.found.to_string(), "95.8");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct CheckReading {
    /// What should have been read; absent where there is only a criterion.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub nominal: Option<Number>,
    /// What was read.
    pub found: Number,
    /// In which unit.
    pub unit: String,
}

/// Verdict of a check.
///
/// ```
/// use domain::equipment::CheckVerdict;
/// assert_eq!(serde_json::to_string(&CheckVerdict::Fail)?, "\"fail\"");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum CheckVerdict {
    /// Meets the criterion.
    Pass,
    /// Does not.
    Fail,
}

/// Times at which a piece of equipment is in doubt.
///
/// ```
/// use domain::equipment::SuspectWindow;
/// let window = SuspectWindow { after: None, until: "2026-03-01T07:00:00Z".parse().ok() };
/// assert!(window.covers("2020-01-01T00:00:00Z".parse()?), "no good check was ever made");
/// assert!(!window.covers("2026-03-02T00:00:00Z".parse()?));
/// # Ok::<(), domain::time::MomentError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct SuspectWindow {
    /// The last good check before; absent where there was none. Work after it is in doubt.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub after: Option<Moment>,
    /// The check that left it good again; absent while there is none. Work until it is in doubt.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub until: Option<Moment>,
}

impl SuspectWindow {
    /// Whether work at a moment is in doubt.
    #[must_use]
    pub fn covers(&self, at: Moment) -> bool {
        self.after.is_none_or(|after| after < at) && self.until.is_none_or(|until| at <= until)
    }
}

/// The times in doubt that the checks of one piece of equipment leave, in the order of time.
///
/// A check that found it failing throws doubt on everything after the last check that left it
/// good. The doubt ends with the check that leaves it good again: that may be the same one, after
/// an adjustment. The order of `checks` does not matter.
///
/// ```
/// use domain::equipment::{suspect_windows, EquipmentCheck};
/// let check = |at: &str, found: &str, left: &str| serde_json::from_str::<EquipmentCheck>(&format!(
///     r#"{{"of":{{"equipment":"019ca869-5003-7d46-b59c-6cf85cca57e4"}},"kind":"intermediate",
///         "at":"{at}","readings":[{{"found":"1","unit":"g"}}],"criterion":"within 0.1 g",
///         "as_found":"{found}","as_left":"{left}"}}"#));
/// let checks = [check("2026-03-01T07:00:00Z", "pass", "pass")?,
///     check("2026-03-05T07:00:00Z", "fail", "pass")?];
/// let windows = suspect_windows(&checks);
/// assert_eq!(windows.len(), 1);
/// assert!(windows[0].covers("2026-03-03T00:00:00Z".parse()?));
/// assert!(!windows[0].covers("2026-03-06T00:00:00Z".parse()?), "it was adjusted");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[must_use]
pub fn suspect_windows(checks: &[EquipmentCheck]) -> Vec<SuspectWindow> {
    // Where only the times matter, no check needs a name.
    let unnamed = SubjectVersion {
        subject: Uuid::nil(),
        version: 1,
    };
    Doubts::of(checks.iter().map(|check| (unnamed, check))).windows
}

/// The times in doubt of one piece of equipment, each with the checks that make it.
///
/// ```
/// use domain::equipment::{Doubts, EquipmentCheck};
/// use domain::versions::SubjectVersion;
/// let failed: EquipmentCheck = serde_json::from_str(
///     r#"{"of":{"equipment":"019ca869-5003-7d46-b59c-6cf85cca57e4"},"kind":"intermediate",
///         "at":"2026-03-05T07:00:00Z","readings":[{"found":"1","unit":"g"}],
///         "criterion":"within 0.1 g","as_found":"fail","as_left":"fail"}"#)?;
/// let source = SubjectVersion { subject: "019ca869-5003-7d46-b59c-6cf85cca57e5".parse()?, version: 1 };
/// let doubts = Doubts::of([(source, &failed)].into_iter());
/// assert_eq!(doubts.bearing("2026-03-06T07:00:00Z".parse()?), [source]);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Doubts {
    /// The times in doubt, in order.
    pub windows: Vec<SuspectWindow>,
    /// For each, the checks from the last good one before to the one that ends it.
    from: Vec<Vec<SubjectVersion>>,
}

impl Doubts {
    /// From all checks of one piece of equipment, in any order.
    #[must_use]
    pub fn of<'a>(checks: impl Iterator<Item = (SubjectVersion, &'a EquipmentCheck)>) -> Self {
        let mut ordered: Vec<(SubjectVersion, &EquipmentCheck)> = checks.collect();
        // Two checks of one moment: the failing one first, so that the good one can end its window.
        ordered.sort_by_key(|(_, check)| (check.at, check.as_left == CheckVerdict::Pass));
        let mut doubts = Self::default();
        let mut good: Option<(SubjectVersion, Moment)> = None;
        let mut open: Option<(SuspectWindow, Vec<SubjectVersion>)> = None;
        for (source, check) in ordered {
            let found_failing = check.as_found == CheckVerdict::Fail;
            let failed = found_failing || check.as_left == CheckVerdict::Fail;
            if failed && open.is_none() {
                let before = good.filter(|_| found_failing);
                let after = if found_failing {
                    before.map(|(_, at)| at)
                } else {
                    Some(check.at)
                };
                let from = before.iter().map(|(source, _)| *source).collect();
                open = Some((SuspectWindow { after, until: None }, from));
            }
            if let Some((_, from)) = &mut open {
                from.push(source);
            }
            if check.as_left == CheckVerdict::Pass {
                good = Some((source, check.at));
                if let Some((window, from)) = open.take() {
                    let until = Some(check.at);
                    doubts.windows.push(SuspectWindow { until, ..window });
                    doubts.from.push(from);
                }
            }
        }
        if let Some((window, from)) = open {
            doubts.windows.push(window);
            doubts.from.push(from);
        }
        doubts
    }

    /// The checks that throw doubt on work at a moment.
    #[must_use]
    pub fn bearing(&self, at: Moment) -> Vec<SubjectVersion> {
        let windows = self.windows.iter().zip(&self.from);
        windows
            .filter(|(window, _)| window.covers(at))
            .flat_map(|(_, from)| from.iter().copied())
            .collect()
    }
}

/// Since when a piece of equipment is out of use by its checks: set until one leaves it good.
///
/// ```
/// use domain::equipment::failed_since;
/// assert_eq!(failed_since(&[]), None);
/// ```
#[must_use]
pub fn failed_since(checks: &[EquipmentCheck]) -> Option<Moment> {
    let mut ordered: Vec<&EquipmentCheck> = checks.iter().collect();
    ordered.sort_by_key(|check| (check.at, check.as_left == CheckVerdict::Pass));
    let mut since = None;
    for check in ordered {
        since = match check.as_left {
            CheckVerdict::Pass => None,
            CheckVerdict::Fail => since.or(Some(check.at)),
        };
    }
    since
}

/// The day on which the next check of a kind is due: as the newest one that left the equipment
/// good says, whichever of intermediate check and sieve test it was; calibrations count apart.
///
/// ```
/// use domain::equipment::{next_due_on, CheckKind, EquipmentCheck};
/// let check = |at: &str, left: &str, due: &str| serde_json::from_str::<EquipmentCheck>(&format!(
///     r#"{{"of":{{"equipment":"019ca869-5003-7d46-b59c-6cf85cca57e4"}},"kind":"intermediate",
///         "at":"{at}","readings":[{{"found":"1","unit":"g"}}],"criterion":"within 0.1 g",
///         "as_found":"pass","as_left":"{left}","next_due_on":"{due}"}}"#));
/// let checks = [check("2026-03-01T07:00:00Z", "pass", "2026-04-01")?,
///     check("2026-03-05T07:00:00Z", "fail", "2026-04-05")?];
/// assert_eq!(next_due_on(&checks, CheckKind::Sieve), "2026-04-01".parse().ok());
/// assert_eq!(next_due_on(&checks, CheckKind::Calibration), None);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[must_use]
pub fn next_due_on(checks: &[EquipmentCheck], kind: CheckKind) -> Option<NaiveDate> {
    let calibration = kind == CheckKind::Calibration;
    checks
        .iter()
        .filter(|check| (check.kind == CheckKind::Calibration) == calibration)
        .filter(|check| check.as_left == CheckVerdict::Pass)
        .max_by_key(|check| check.at)
        .and_then(|check| check.next_due_on)
}

impl EquipmentCheck {
    /// Gathers what is wrong with the check.
    ///
    /// # Errors
    /// Every fault, with its pointer.
    pub fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        faults.require(!self.readings.is_empty(), "/readings", || {
            "a check has at least one reading".into()
        });
        for (position, reading) in self.readings.iter().enumerate() {
            let pointer = format!("/readings/{position}/unit");
            entries::text(&mut faults, &pointer, &reading.unit, 20);
        }
        entries::text(
            &mut faults,
            "/criterion",
            &self.criterion,
            entries::NAME_LENGTH,
        );
        let mended = self.as_found == CheckVerdict::Fail && self.as_left == CheckVerdict::Pass;
        faults.require(!mended || self.adjusted, "/adjusted", || {
            "found failing and left good: it was adjusted, or the verdicts are wrong".into()
        });
        let after = self
            .next_due_on
            .is_none_or(|due| due >= self.at.utc().date_naive());
        faults.require(after, "/next_due_on", || "lies before the check".into());
        let comment = self.comment.as_deref();
        entries::optional_text(&mut faults, "/comment", comment, entries::TEXT_LENGTH);
        faults.into_result()
    }
}

#[cfg(test)]
mod tests {
    #![expect(clippy::unwrap_used, reason = "tests may unwrap")]
    use super::*;

    fn check(day: u32, found: &str, left: &str) -> EquipmentCheck {
        serde_json::from_str(&format!(
            r#"{{"of":{{"equipment":"019ca869-5003-7d46-b59c-6cf85cca57e4"}},
            "kind":"intermediate","at":"2026-03-{day:02}T07:00:00Z",
            "readings":[{{"found":"1","unit":"g"}}],"criterion":"within 0.1 g",
            "as_found":"{found}","as_left":"{left}","adjusted":true}}"#
        ))
        .unwrap()
    }

    fn days(windows: &[SuspectWindow]) -> Vec<u32> {
        (1..=20)
            .filter(|day| {
                let noon = format!("2026-03-{day:02}T12:00:00Z").parse().unwrap();
                windows.iter().any(|window| window.covers(noon))
            })
            .collect()
    }

    #[test]
    fn a_failure_reaches_back_to_the_last_good_check_and_on_to_the_next() {
        let checks = [
            check(3, "pass", "pass"),
            check(6, "fail", "fail"),
            check(8, "fail", "pass"),
            check(12, "pass", "pass"),
        ];
        assert_eq!(days(&suspect_windows(&checks)), [3, 4, 5, 6, 7]);
        let mut turned = checks.to_vec();
        turned.reverse();
        assert_eq!(suspect_windows(&turned), suspect_windows(&checks));
        assert_eq!(failed_since(&checks), None);
    }

    #[test]
    fn a_failure_without_a_check_before_reaches_back_to_the_beginning() {
        let windows = suspect_windows(&[check(4, "fail", "pass")]);
        assert_eq!(days(&windows), [1, 2, 3]);
    }

    #[test]
    fn found_good_and_left_failing_is_in_doubt_from_then_on() {
        let checks = [check(4, "pass", "fail")];
        assert_eq!(
            days(&suspect_windows(&checks)),
            (4..=20).collect::<Vec<_>>()
        );
        assert!(failed_since(&checks).is_some());
    }

    #[test]
    fn a_repeat_on_the_same_moment_ends_the_doubt() {
        let checks = [check(4, "pass", "pass"), check(4, "pass", "fail")];
        assert_eq!(failed_since(&checks), None);
    }
}
