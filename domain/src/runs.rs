//! One strip developed on one port: what was entered, what the reader gave, and its states.
//!
//! Promises that whatever can be read as a run is recorded, also late, without a sample, with a
//! clock that is ahead or on equipment past its date (those are held elsewhere). Refuses what
//! cannot be true: negative or absurd numbers, a run read before it began, an analyte read twice.
//! *Beginning* a run on equipment past its date is refused; recording one never is.

#![expect(
    clippy::disallowed_types,
    reason = "what serde derives here names every primitive type; none is kept"
)]

mod begin;
mod check;
mod origins;
mod readings;
mod states;
#[cfg(test)]
mod tests;

pub use begin::{Due, DueDate, Overdue};
pub use check::RunContext;
pub use origins::{BenchOrigin, ImportOrigin, Origin};
pub use readings::{InvalidReason, Reading, ReadingKind};
pub use states::{RunError, RunState};

use serde::{Deserialize, Serialize};

use crate::dilution::{DilutionStep, Disagreement, Factor, check_stated_factor, check_values};
use crate::holds::OriginDifference;
use crate::id::{
    AccountId, EquipmentId, KitLotId, PreparationId, ProcedureId, ReaderId, SampleId, SeriesId,
};
use crate::quantity::Number;
use crate::time::Moment;

/// JSON pointers of what is personal or free text.
pub const DISCLOSED: &[&str] = &["/operator", "/comment"];

/// What is entered of a run, by a person at the bench or by a reader's export.
///
/// ```
/// use domain::runs::{RunContext, RunEntry};
/// let entry: RunEntry = serde_json::from_str(include_str!("runs/example.json"))?;
/// assert!(entry.check(&RunContext { ports: Some(3) }).is_ok());
/// let faults = entry.check(&RunContext { ports: Some(1) }).unwrap_err();
/// assert_eq!(faults.0[0].pointer, "/port", "the reader has no second port");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct RunEntry {
    /// The sample; a run without one is assigned later.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sample: Option<SampleId>,
    /// What the export calls the sample, as long as nobody has said which sample that is.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sample_code: Option<String>,
    /// What the export calls the lot, as long as the sample is not known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lot_code: Option<String>,
    /// The extract that was put on the strip.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub extract: Option<PreparationId>,
    /// The series whose control runs it shares.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub series: Option<SeriesId>,
    /// The procedure worked by.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub procedure: Option<ProcedureId>,
    /// The kit lot, where it is known here.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub kit_lot: Option<KitLotId>,
    /// The kit lot's number as it was read.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub kit_lot_code: Option<String>,
    /// The reader, where it is known here.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reader: Option<ReaderId>,
    /// The reader's serial number as it was exported.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reader_serial: Option<String>,
    /// The reader's port, from 1.
    pub port: u8,
    /// Who worked, where they have an account.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub analyst: Option<AccountId>,
    /// Who worked, as it was exported; personal data.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub operator: Option<String>,
    /// When the strip began to develop.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub begun_at: Option<Moment>,
    /// When the strip was read; absent only while the run is under way.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub read_at: Option<Moment>,
    /// The time read as it was exported, before it was understood.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub read_at_source: Option<String>,
    /// The lot of the curve that the reader used.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub curve_lot: Option<String>,
    /// The matrix that the reader used.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub matrix: Option<String>,
    /// The barcode on the strip.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub strip_barcode: Option<String>,
    /// Dilution steps beyond the curve's own scheme.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub dilution: Vec<DilutionStep>,
    /// The factor that was stated beside the volumes, as it was written.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stated_factor: Option<Number>,
    /// Whether the values are multiplied by the dilution factor already.
    #[serde(default)]
    pub value_includes_factor: bool,
    /// One reading an analyte; none only while the run is under way.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub readings: Vec<Reading>,
    /// Anything worth noting; free text.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub comment: Option<String>,
}

/// A run as it is recorded.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Run {
    /// Begun, recorded, unassigned or withdrawn.
    pub state: RunState,
    /// Where it came from: the bench, exports, or both.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub origins: Vec<Origin>,
    /// The dilution factor of the volumes recorded.
    pub factor: Factor,
    /// The pipettes that stood there when it was recorded, where a dilution step names none: its
    /// volumes are taken to be of the smallest of them that delivers them, whatever stands there
    /// later.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub pipettes_at_hand: Vec<EquipmentId>,
    /// Members that the bench and an export give differently; they hold the run.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub differences: Vec<OriginDifference>,
    /// What was entered.
    #[serde(flatten)]
    pub entry: RunEntry,
}

impl RunEntry {
    /// What the volumes, the stated factor and the values say against each other.
    ///
    /// ```
    /// use domain::dilution::Factor;
    /// use domain::runs::RunEntry;
    /// let mut entry: RunEntry = serde_json::from_str(include_str!("runs/example.json"))?;
    /// let six = Factor::new(6, 1).unwrap();
    /// assert!(entry.disagreements(six).is_empty());
    /// entry.stated_factor = Some("5".parse().unwrap());
    /// assert_eq!(entry.disagreements(six).len(), 1);
    /// # Ok::<(), serde_json::Error>(())
    /// ```
    #[must_use]
    pub fn disagreements(&self, computed: Factor) -> Vec<Disagreement> {
        let stated = self
            .stated_factor
            .and_then(|stated| check_stated_factor(computed, stated));
        let values = self.readings.iter().filter_map(|reading| {
            check_values(computed, reading.value?, reading.multiplied_value?)
        });
        stated.into_iter().chain(values).collect()
    }
}

impl Run {
    /// Keeps which pipettes stand there, where a dilution step names none and none are kept yet.
    ///
    /// ```
    /// use domain::runs::{Run, RunContext, RunEntry};
    /// let entry: RunEntry = serde_json::from_str(include_str!("runs/example.json"))?;
    /// let pipette = "019ca869-5003-7d46-b59c-6cf85cca5e01".parse()?;
    /// let run = Run::record(entry.clone(), &RunContext::default(), vec![])?;
    /// let named = run.entry.dilution.iter().all(|step| step.pipette.is_some());
    /// assert_eq!(run.with_pipettes(&[pipette]).pipettes_at_hand.is_empty(), named);
    /// let undiluted = RunEntry { dilution: vec![], ..entry };
    /// let run = Run::record(undiluted, &RunContext::default(), vec![])?;
    /// assert!(run.with_pipettes(&[pipette]).pipettes_at_hand.is_empty());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn with_pipettes(mut self, pipettes: &[EquipmentId]) -> Self {
        let unnamed = self
            .entry
            .dilution
            .iter()
            .any(|step| step.pipette.is_none());
        if unnamed && self.pipettes_at_hand.is_empty() {
            self.pipettes_at_hand = pipettes.to_vec();
        }
        self
    }

    /// The reading for an analyte.
    #[must_use]
    pub fn reading_of(&self, analyte: crate::analytes::Analyte) -> Option<&Reading> {
        self.entry
            .readings
            .iter()
            .find(|reading| reading.analyte == analyte)
    }

    /// What the volumes, the stated factor and the values say against each other; it holds the run.
    #[must_use]
    pub fn disagreements(&self) -> Vec<Disagreement> {
        self.entry.disagreements(self.factor)
    }
}
