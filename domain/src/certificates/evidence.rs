//! What stands behind a certified number: runs with their dilution arithmetic, controls, holds.
//!
//! Promises that the arithmetic is written out from the very numbers that it is checked against:
//! [`CertifiedRun::arithmetic`] cannot say anything else than what was computed. A dilution that
//! leaves the range of exact decimals is refused, never approximated.

use super::Person;
use crate::analytes::Analyte;
use crate::id::{ControlMaterialId, HoldId, KitLotId, ReaderId, RunId, SeriesId};
use crate::quantity::computed;
use crate::time::Moment;
use chrono::NaiveDate;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

/// What the reader gave.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum RunReading {
    /// A number.
    Number {
        /// As the reader gave it.
        value: Decimal,
    },
    /// Below what the reader tells.
    Below {
        /// The bound that it gave.
        value: Decimal,
    },
    /// Above what the reader tells.
    Above {
        /// The bound that it gave.
        value: Decimal,
    },
    /// Nothing found.
    NotDetected,
    /// No valid strip: kept, never used.
    Invalid,
}

impl RunReading {
    /// The number or the bound, where there is one.
    #[must_use]
    pub const fn figure(self) -> Option<Decimal> {
        match self {
            Self::Number { value } | Self::Below { value } | Self::Above { value } => Some(value),
            Self::NotDetected | Self::Invalid => None,
        }
    }
}

impl std::fmt::Display for RunReading {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Number { value } => write!(f, "{value}"),
            Self::Below { value } => write!(f, "< {value}"),
            Self::Above { value } => write!(f, "> {value}"),
            Self::NotDetected => f.write_str("not detected"),
            Self::Invalid => f.write_str("invalid"),
        }
    }
}

/// One dilution beyond the procedure's own scheme.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct DilutionStep {
    /// Volume taken, in µL.
    pub sample_volume_ul: Decimal,
    /// Volume added, in µL.
    pub diluent_volume_ul: Decimal,
    /// What was added.
    pub diluent: String,
}

/// A dilution factor as a fraction in lowest terms.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Factor {
    /// Whole number above the line.
    pub numerator: Decimal,
    /// Whole number below the line.
    pub denominator: Decimal,
}

impl Factor {
    /// Whether it is 1, the factor of an undiluted run.
    #[must_use]
    pub fn is_one(&self) -> bool {
        self.numerator == self.denominator
    }

    /// `undiluted`, `× 6` or `× 13/3`.
    ///
    /// ```
    /// use domain::certificates::Factor;
    /// let factor = Factor { numerator: 13.into(), denominator: 3.into() };
    /// assert_eq!(factor.label(), "× 13/3");
    /// ```
    #[must_use]
    pub fn label(&self) -> String {
        if self.is_one() {
            "undiluted".to_owned()
        } else if self.denominator == Decimal::ONE {
            format!("× {}", self.numerator)
        } else {
            format!("× {}/{}", self.numerator, self.denominator)
        }
    }
}

/// What a run is to its result.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum RunUse {
    /// The value comes from it.
    Reported,
    /// It went into the value together with others.
    Replicate,
    /// Over range: the reason for a dilution.
    OverRange,
    /// Invalid or withdrawn; kept, not used.
    NotUsed,
}

impl RunUse {
    /// The printed words.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Reported => "reported",
            Self::Replicate => "in the mean",
            Self::OverRange => "over range",
            Self::NotUsed => "not used",
        }
    }
}

/// The kit lot that a strip came from.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct KitLotUsed {
    /// The lot's id.
    pub id: KitLotId,
    /// Its code.
    pub code: String,
    /// Its last day.
    pub expires_on: NaiveDate,
}

/// The reader and the port that developed it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ReaderUsed {
    /// The reader's id.
    pub id: ReaderId,
    /// Its serial number.
    pub serial: String,
    /// Which port.
    pub port: u32,
}

/// One run as evidence.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct CertifiedRun {
    /// The run's id.
    pub id: RunId,
    /// Its version.
    pub version: u64,
    /// What it is to the result.
    pub used: RunUse,
    /// The series whose controls vouch for it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub series: Option<SeriesId>,
    /// The extract that it was made from.
    pub extract: String,
    /// What the reader gave, in the result's unit.
    pub reading: RunReading,
    /// Whether the reader's figure was multiplied by the factor already.
    pub already_multiplied: bool,
    /// Dilutions beyond the procedure's own scheme, in order; empty where there was none.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub dilution: Vec<DilutionStep>,
    /// The factor that they make.
    pub factor: Factor,
    /// What the reading means for the undiluted sample: number or bound.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub concentration: Option<Decimal>,
    /// The kit lot; a run whose kit lot is not known supports no result.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub kit_lot: Option<KitLotUsed>,
    /// Reader and port; a run whose reader is not known supports no result.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reader: Option<ReaderUsed>,
    /// Who ran it; a run whose analyst is not known supports no result.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub analyst: Option<Person>,
    /// When it began, where that was recorded.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub began_at: Option<Moment>,
    /// When it was read.
    pub read_at: Moment,
}

impl CertifiedRun {
    /// The figure of the reading times its factor, divided once; none where there is no figure or
    /// the product cannot be kept exactly.
    #[must_use]
    pub fn expected_concentration(&self) -> Option<Decimal> {
        let figure = self.reading.figure()?;
        if self.already_multiplied {
            return Some(computed(figure));
        }
        figure
            .checked_mul(self.factor.numerator)?
            .checked_div(self.factor.denominator)
            .map(computed)
    }

    /// The volumes of each step: `100 µL + 500 µL water: (100 + 500) / 100 = 6/1`.
    #[must_use]
    pub fn volumes(&self) -> String {
        let steps: Vec<String> = self
            .dilution
            .iter()
            .map(|step| {
                let (sample, diluent) = (step.sample_volume_ul, step.diluent_volume_ul);
                format!(
                    "{sample} µL + {diluent} µL {}: ({sample} + {diluent}) / {sample}",
                    step.diluent
                )
            })
            .collect();
        if steps.is_empty() {
            return "none beyond the procedure's own".to_owned();
        }
        let Factor {
            numerator,
            denominator,
        } = &self.factor;
        format!("{} = {numerator}/{denominator}", steps.join("; "))
    }

    /// The arithmetic written out: `52 × 6/1 = 312.000000`.
    #[must_use]
    pub fn arithmetic(&self) -> String {
        let (Some(figure), Some(concentration)) = (self.reading.figure(), self.concentration)
        else {
            return self.reading.to_string();
        };
        let bound = match self.reading {
            RunReading::Above { .. } => " (lower bound)",
            RunReading::Below { .. } => " (upper bound)",
            RunReading::Number { .. } | RunReading::NotDetected | RunReading::Invalid => "",
        };
        if self.already_multiplied {
            return format!("{concentration}{bound}, multiplied by the reader");
        }
        let Factor {
            numerator,
            denominator,
        } = &self.factor;
        format!("{figure} × {numerator}/{denominator} = {concentration}{bound}")
    }
}

/// A control run of a series, against its assigned value.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ControlReading {
    /// The series that it vouches for.
    pub series: SeriesId,
    /// The run.
    pub run: RunId,
    /// The control material.
    pub material: ControlMaterialId,
    /// Its name and lot.
    pub material_code: String,
    /// What was measured.
    pub analyte: Analyte,
    /// The assigned value.
    pub assigned: Decimal,
    /// The lower end of its window.
    pub lower: Decimal,
    /// The upper end of its window.
    pub upper: Decimal,
    /// What the reader gave.
    pub reading: RunReading,
    /// The unit of all of them.
    pub unit: crate::quantity::Unit,
    /// Whether it was accepted.
    pub accepted: bool,
    /// When it was read.
    pub read_at: Moment,
}

/// A hold that somebody lifted by accepting it with a reason.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct LiftedHold {
    /// The hold's id.
    pub id: HoldId,
    /// Its kind, such as `extract-too-old`.
    pub kind: String,
    /// The kind in words, with the numbers that raised it.
    pub words: String,
    /// Why it was accepted (disclosed).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
    /// Who accepted it.
    pub accepted_by: Person,
    /// When.
    pub accepted_at: Moment,
}
