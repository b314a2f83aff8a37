//! A lot of test kits: ranges, curve, dates, receipts and how many tests are left.
//!
//! Promises that only an accepted lot is worked with, that its curves can be read from, and that
//! tests left are what was received less what was run. Refuses receipts of a rejected or recalled
//! lot. What was run on such a lot is recorded all the same, and held.

#![expect(
    clippy::disallowed_types,
    reason = "what serde derives here names every primitive type; none is kept"
)]

mod acceptance;
mod check;
mod comparison;
mod curves;
mod states;
#[cfg(test)]
mod tests;

pub use comparison::{
    AnalyteComparison, KitLotComparison, KitLotComparisonInput, KitLotDifference, KitLotPair,
    KitLotVerdict, UnpairedReason, UnpairedRun, compare,
};
pub use curves::{CurveCalibrator, CurveResponse, CurveTolerance, KitLotCurve};
pub use states::{KitLotError, KitLotState};

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use crate::analytes::Analyte;
use crate::id::{ProcedureId, RunId};
use crate::quantity::{Concentration, Number};

/// JSON pointers of what is personal or free text: none.
pub const DISCLOSED: &[&str] = &[];

/// What a person enters of a kit lot.
///
/// ```
/// use domain::kit_lots::KitLotEntry;
/// let entry: KitLotEntry = serde_json::from_str(include_str!("kit_lots/example.json"))?;
/// assert!(entry.check().is_ok());
/// let mut nothing = entry;
/// nothing.code = " ".into();
/// assert_eq!(nothing.check().unwrap_err().0[0].pointer, "/code");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct KitLotEntry {
    /// The lot number on the box.
    pub code: String,
    /// What the kit is for, in general words.
    pub name: String,
    /// The analytes with the lot's own ranges, where its papers give them.
    pub analytes: Vec<KitLotRange>,
    /// The curve that the reader must have loaded for it.
    pub curve_lot: String,
    /// The matrices that its curve knows.
    pub matrices: Vec<String>,
    /// The curves themselves, where they are known: a reader's number is then computed again from
    /// the signals that it exports.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub curves: Vec<KitLotCurve>,
    /// The last day on which it may be used.
    pub expires_on: NaiveDate,
    /// At which temperatures it must be kept.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub storage: Option<Storage>,
    /// What is in the kit that has a lot number of its own.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub packets: Vec<Packet>,
    /// The procedure that it is used by.
    pub procedure: ProcedureId,
    /// What was received of it, and when.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub receipts: Vec<KitLotReceipt>,
}

/// The lot's own range for one analyte, in µg/kg; an absent member leaves the procedure's.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct KitLotRange {
    /// Of what.
    pub analyte: Analyte,
    /// Limit of detection.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lod: Option<Concentration>,
    /// Limit of quantification.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub loq: Option<Concentration>,
    /// Upper end.
    pub upper: Concentration,
}

/// Temperatures between which a kit is kept, in °C.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Storage {
    /// The lowest.
    pub minimum_c: Number,
    /// The highest.
    pub maximum_c: Number,
}

/// A packet of the kit with a lot number of its own, such as its diluent.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Packet {
    /// What it is.
    pub what: String,
    /// Its own lot number.
    pub lot: String,
    /// The last day on which it may be used.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub expires_on: Option<NaiveDate>,
}

/// One delivery of the lot.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct KitLotReceipt {
    /// When it arrived.
    pub received_on: NaiveDate,
    /// How many tests, 1 or more.
    pub tests: u32,
    /// Whether it was kept within its storage on the way and since.
    pub storage_kept: bool,
}

/// A kit lot as it is recorded. How many tests were used is counted from the runs, not kept here.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct KitLot {
    /// Quarantined, accepted, rejected, exhausted or recalled.
    pub state: KitLotState,
    /// The runs on which it was accepted or rejected, where there were any.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub acceptance_runs: Vec<RunId>,
    /// The comparison with the lot in use that it was accepted on, where there was one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub comparison: Option<KitLotComparison>,
    /// What was entered.
    #[serde(flatten)]
    pub entry: KitLotEntry,
}

impl KitLotEntry {
    /// The lot's own range for an analyte.
    #[must_use]
    pub fn range_of(&self, analyte: Analyte) -> Option<&KitLotRange> {
        self.analytes.iter().find(|range| range.analyte == analyte)
    }
}
