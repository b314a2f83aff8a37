//! Why a control run is on no chart and is judged by no rule.
//!
//! Promises one reason for each control run that [`super::control_values`] leaves out; refuses
//! nothing.

use serde::{Deserialize, Serialize};

use super::deviation_of;
use crate::analytes::Analyte;
use crate::control_materials::ControlMaterial;
use crate::runs::{ReadingKind, Run, RunState};

/// Why a control run does not count.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum ControlExclusion {
    /// It was withdrawn.
    Withdrawn,
    /// It is not read yet.
    NotRead,
    /// Its procedure is not known.
    UnknownProcedure,
    /// Its kit lot is not known.
    UnknownKitLot,
    /// Its reader is not known.
    UnknownReader,
    /// It was diluted: its value is not that of the material alone.
    Diluted,
    /// It gave no number: a bound, nothing detected, or an invalid reading.
    NoNumber,
    /// Nothing is assigned to the material for the analyte.
    NothingAssigned,
    /// The assigned value lies at an end of its window, as that of a blank does, and no standard
    /// deviation is stated: there is no scatter to judge it by.
    NoScatter,
}

impl ControlExclusion {
    /// The reason in a sentence's words.
    ///
    /// ```
    /// use domain::quality_control::ControlExclusion;
    /// assert_eq!(ControlExclusion::Diluted.words(), "it was diluted");
    /// ```
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Withdrawn => "it was withdrawn",
            Self::NotRead => "it is not read yet",
            Self::UnknownProcedure => "its procedure is not known",
            Self::UnknownKitLot => "its kit lot is not known",
            Self::UnknownReader => "its reader is not known",
            Self::Diluted => "it was diluted",
            Self::NoNumber => "it gave no number",
            Self::NothingAssigned => "nothing is assigned to the material for the analyte",
            Self::NoScatter => {
                "the assigned value lies at an end of its window, and no standard deviation is \
                 stated"
            }
        }
    }
}

/// What keeps a whole run out, whatever its readings say.
pub(super) fn of_run(run: &Run) -> Option<ControlExclusion> {
    let entry = &run.entry;
    let reasons = [
        (entry.read_at.is_none(), ControlExclusion::NotRead),
        (
            entry.procedure.is_none(),
            ControlExclusion::UnknownProcedure,
        ),
        (entry.kit_lot.is_none(), ControlExclusion::UnknownKitLot),
        (entry.reader.is_none(), ControlExclusion::UnknownReader),
        (!run.factor.is_one(), ControlExclusion::Diluted),
    ];
    reasons
        .into_iter()
        .find_map(|(applies, reason)| applies.then_some(reason))
}

/// Why a control run gives no value for an analyte; none where it does.
///
/// ```
/// use domain::analytes::Analyte;
/// use domain::control_materials::ControlMaterial;
/// use domain::quality_control::{ControlExclusion, why_excluded};
/// use domain::runs::{Run, RunContext, RunEntry};
/// let material: ControlMaterial = serde_json::from_str(
///     r#"{"code":"CM-1","name":"maize","commodity":"maize-grain","lot":"A","analytes":[
///         {"analyte":"zearalenone","assigned_value":"40","lower":"30","upper":"50"}],
///         "expires_on":"2027-01-31"}"#)?;
/// let entry: RunEntry = serde_json::from_str(
///     r#"{"port":1,"read_at":"2026-03-01T08:15:00Z","readings":[
///         {"analyte":"zearalenone","kind":"number","value":"41","unit":"ug/kg"}]}"#)?;
/// let run = Run::record(entry, &RunContext::default(), vec![])?;
/// let why = why_excluded(&run, Analyte::Zearalenone, &material);
/// assert_eq!(why, Some(ControlExclusion::UnknownProcedure));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[must_use]
pub fn why_excluded(
    run: &Run,
    analyte: Analyte,
    material: &ControlMaterial,
) -> Option<ControlExclusion> {
    if run.state == RunState::Withdrawn {
        return Some(ControlExclusion::Withdrawn);
    }
    if let Some(reason) = of_run(run) {
        return Some(reason);
    }
    let Some(assigned) = material.assigned(analyte) else {
        return Some(ControlExclusion::NothingAssigned);
    };
    let mut readings = run.entry.readings.iter();
    let is_number = readings.any(|reading| {
        reading.analyte == analyte
            && reading.kind == ReadingKind::Number
            && reading.concentration().is_some()
    });
    if !is_number {
        return Some(ControlExclusion::NoNumber);
    }
    deviation_of(assigned)
        .is_none()
        .then_some(ControlExclusion::NoScatter)
}
