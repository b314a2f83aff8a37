//! The stretches of time that failed controls put in doubt.
//!
//! Promises, for each kit lot and reader by itself, every stretch between the last control run that
//! passed and the next that does; refuses nothing: a control run that says nothing (an invalid
//! reading) neither opens nor closes one.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::id::{KitLotId, ReaderId, RunId};
use crate::statistics::control::{BracketInput, ControlPoint, brackets};
use crate::time::Moment;

/// A control run that says something of the analyte.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct JudgedControl {
    /// The run.
    pub run: RunId,
    /// When it was read.
    pub read_at: Moment,
    /// Its kit lot.
    pub kit_lot: KitLotId,
    /// Its reader.
    pub reader: ReaderId,
    /// Why it failed, in a sentence each; empty where it passed.
    pub failed_by: Vec<String>,
}

/// A control run that passed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct ControlPassed {
    /// The run.
    pub run: RunId,
    /// When it was read.
    pub read_at: Moment,
}

/// A control run that failed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct FailedControl {
    /// The run.
    pub run: RunId,
    /// When it was read.
    pub read_at: Moment,
    /// Why, in a sentence each.
    pub failed_by: Vec<String>,
}

/// A stretch of time in doubt on one reader with one kit lot.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct DoubtfulStretch {
    /// The kit lot.
    pub kit_lot: KitLotId,
    /// The reader.
    pub reader: ReaderId,
    /// The control runs that failed in it.
    pub failed: Vec<FailedControl>,
    /// The last that passed before; absent where none is known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub after: Option<ControlPassed>,
    /// The next that passed; absent where none did yet.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub before: Option<ControlPassed>,
}

/// The stretches in doubt, in the order of their first failed control run.
///
/// ```
/// use domain::control_charts::{JudgedControl, stretches};
/// let thing = "019ca869-5003-7d46-b59c-6cf85cca57e4";
/// let control = |hour: u8, failed_by: &[&str]| JudgedControl {
///     run: format!("019ca869-5003-7d46-b59c-0000000000{hour:02}").parse().unwrap(),
///     read_at: format!("2026-03-01T{hour:02}:00:00Z").parse().unwrap(),
///     kit_lot: thing.parse().unwrap(),
///     reader: thing.parse().unwrap(),
///     failed_by: failed_by.iter().map(|why| why.to_string()).collect(),
/// };
/// let found = stretches(&[control(8, &[]), control(9, &["out"]), control(10, &[])]);
/// assert_eq!(found.len(), 1);
/// assert_eq!(found[0].before.unwrap().read_at.to_string(), "2026-03-01T10:00:00.000000Z");
/// assert!(stretches(&[control(8, &[])]).is_empty());
/// ```
#[must_use]
pub fn stretches(controls: &[JudgedControl]) -> Vec<DoubtfulStretch> {
    let mut groups: BTreeMap<(KitLotId, ReaderId), Vec<&JudgedControl>> = BTreeMap::new();
    for control in controls {
        let group = groups.entry((control.kit_lot, control.reader));
        group.or_default().push(control);
    }
    let mut found: Vec<DoubtfulStretch> = Vec::new();
    for ((kit_lot, reader), mut group) in groups {
        group.sort_by_key(|one| (one.read_at, one.run));
        group.dedup_by_key(|one| one.run);
        let points = (0_u64..).zip(&group).map(|(place, one)| ControlPoint {
            place,
            passed: one.failed_by.is_empty(),
        });
        let input = BracketInput {
            controls: points.collect(),
            results: Vec::new(),
        };
        // A group has a control run, and nothing else is refused.
        let bracketed = brackets(&input).unwrap_or_default();
        let at = |place: u64| group.get(usize::try_from(place).ok()?).copied();
        let passed = |place: Option<u64>| {
            at(place?).map(|one| ControlPassed {
                run: one.run,
                read_at: one.read_at,
            })
        };
        found.extend(bracketed.iter().map(|bracket| {
            DoubtfulStretch {
                kit_lot,
                reader,
                failed: bracket
                    .failed
                    .iter()
                    .filter_map(|place| at(*place))
                    .map(|one| FailedControl {
                        run: one.run,
                        read_at: one.read_at,
                        failed_by: one.failed_by.clone(),
                    })
                    .collect(),
                after: passed(bracket.after),
                before: passed(bracket.before),
            }
        }));
    }
    found.sort_by_key(|stretch| stretch.failed.first().map(|one| (one.read_at, one.run)));
    found
}
