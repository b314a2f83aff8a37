//! The curve of a kit lot for one analyte: from a strip's signals to a concentration.
//!
//! Promises a curve that can be read from, and that says which response it is of, for which
//! matrices, and how far a reader's own number may be from it. Refuses asymptotes in the wrong
//! order, a slope of zero, a midpoint that is not above zero, and two curves for one matrix.
//! Parameters are entered, never fitted here: the calculator fits calibrators to a curve.

use std::collections::BTreeSet;

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use super::KitLotEntry;
use crate::analytes::Analyte;
use crate::entries;
use crate::faults::Faults;
use crate::quantity::{Concentration, Number};
use crate::statistics::logistic::LogisticCurve;

/// Most calibrators that are kept with a curve.
const MOST_CALIBRATORS: usize = 200;

/// The response that a curve is of.
///
/// ```
/// use domain::kit_lots::CurveResponse;
/// let word = serde_json::to_string(&CurveResponse::TestOverControl)?;
/// assert_eq!(word, "\"test-over-control\"");
/// assert!(serde_json::from_str::<CurveResponse>("\"control-line\"").is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum CurveResponse {
    /// The signal of the test line.
    TestLine,
    /// The signal of the test line over that of the control line.
    TestOverControl,
}

/// The curve of one analyte, of concentrations in µg/kg without dilution beyond the procedure's
/// own scheme, which the curve contains.
///
/// ```
/// use domain::kit_lots::KitLotCurve;
/// let curve: KitLotCurve = serde_json::from_str(r#"{"analyte":"aflatoxin-total",
///     "response":"test-over-control","curve":
///     {"lower":"0.05","upper":"1.6","slope":"1.1","midpoint":"9"}}"#)?;
/// assert!(curve.check().is_ok());
/// let mut flat = curve;
/// flat.curve.slope = "0".parse().unwrap();
/// assert_eq!(flat.check().unwrap_err().0[0].pointer, "/curve/slope");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct KitLotCurve {
    /// Of what.
    pub analyte: Analyte,
    /// The matrices that it is for, of those that the lot knows; none: all of them.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub matrices: Vec<String>,
    /// The response that it is of.
    pub response: CurveResponse,
    /// The four parameters; concentrations in µg/kg, the midpoint above zero.
    pub curve: LogisticCurve,
    /// How far a reader's own number may be from it. Without, signals and number have to agree at
    /// the places that they are written with.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tolerance: Option<CurveTolerance>,
    /// The calibrators that it was fitted from, where they are known; nothing is computed of them.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub calibrators: Vec<CurveCalibrator>,
}

/// How far a reader's own number may be from the one of its signals, as the laboratory states it:
/// constant + proportional × that number. It comes on top of what the places leave open.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct CurveTolerance {
    /// The constant part in µg/kg, zero or more.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub constant: Option<Concentration>,
    /// The proportional part, a fraction of the recomputed number: 0.05 is 5 %; below 1.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub proportional: Option<Number>,
}

/// A calibrator, and the response that it gave.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct CurveCalibrator {
    /// Its concentration in µg/kg, zero or more.
    pub concentration: Concentration,
    /// The response, of the kind that the curve is of; zero or more.
    pub response: Number,
}

impl KitLotCurve {
    /// What is wrong with the curve by itself.
    ///
    /// # Errors
    /// The faults, with JSON pointers into it.
    pub fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        let curve = &self.curve;
        faults.require(curve.upper > curve.lower, "/curve/upper", || {
            format!(
                "{} is not above the lower asymptote, {}",
                curve.upper, curve.lower
            )
        });
        faults.require(!curve.slope.0.is_zero(), "/curve/slope", || {
            "a curve of slope 0 is level: no response tells a concentration".to_owned()
        });
        faults.require(curve.midpoint.0 > Decimal::ZERO, "/curve/midpoint", || {
            format!(
                "{} µg/kg is no concentration at half height: it is above zero",
                curve.midpoint
            )
        });
        if let Some(tolerance) = &self.tolerance {
            faults.nest("/tolerance", tolerance.check());
        }
        faults.require(
            self.calibrators.len() <= MOST_CALIBRATORS,
            "/calibrators",
            || format!("at most {MOST_CALIBRATORS} calibrators are kept"),
        );
        for (place, one) in self.calibrators.iter().enumerate() {
            for (value, member) in [
                (one.concentration.ug_per_kg(), "concentration"),
                (one.response.0, "response"),
            ] {
                let pointer = format!("/calibrators/{place}/{member}");
                faults.require(value >= Decimal::ZERO, pointer, || {
                    format!("{value} is negative")
                });
            }
        }
        faults.into_result()
    }

    /// Whether it is for a matrix.
    #[must_use]
    pub fn knows(&self, matrix: &str) -> bool {
        self.matrices.is_empty() || self.matrices.iter().any(|one| one == matrix)
    }
}

impl CurveTolerance {
    fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        faults.require(
            self.constant.is_some() || self.proportional.is_some(),
            "",
            || "states nothing: give a constant part, a proportional one, or leave it out".into(),
        );
        if let Some(constant) = self.constant {
            faults.require(constant.ug_per_kg() >= Decimal::ZERO, "/constant", || {
                format!("{constant} µg/kg is negative")
            });
        }
        if let Some(fraction) = self.proportional {
            let is_fraction = fraction.0 >= Decimal::ZERO && fraction.0 < Decimal::ONE;
            faults.require(is_fraction, "/proportional", || {
                format!("{fraction} is no fraction from 0 to below 1: 0.05 is 5 %")
            });
        }
        faults.into_result()
    }
}

impl KitLotEntry {
    /// The curve for an analyte and the matrix that the reader used. Where the matrix is not known,
    /// the only curve of the analyte; of several none can be chosen.
    ///
    /// ```
    /// use domain::{analytes::Analyte, kit_lots::KitLotEntry};
    /// let mut lot: KitLotEntry = serde_json::from_str(include_str!("example.json"))?;
    /// assert!(lot.curve_of(Analyte::AflatoxinTotal, Some("maize")).is_none(), "it records none");
    /// lot.curves = serde_json::from_str(r#"[{"analyte":"aflatoxin-total",
    ///     "response":"test-line","matrices":["maize"],"curve":
    ///     {"lower":"0","upper":"2000","slope":"1","midpoint":"9"}}]"#)?;
    /// assert!(lot.curve_of(Analyte::AflatoxinTotal, None).is_some());
    /// assert!(lot.curve_of(Analyte::AflatoxinTotal, Some("wheat")).is_none());
    /// # Ok::<(), serde_json::Error>(())
    /// ```
    #[must_use]
    pub fn curve_of(&self, analyte: Analyte, matrix: Option<&str>) -> Option<&KitLotCurve> {
        let mut fitting = self
            .curves
            .iter()
            .filter(|one| one.analyte == analyte && matrix.is_none_or(|used| one.knows(used)));
        let first = fitting.next()?;
        fitting.next().is_none().then_some(first)
    }

    /// Each curve by itself; of the lot's analytes and matrices, and one alone for each pair.
    pub(super) fn check_curves(&self, faults: &mut Faults) {
        let mut taken = BTreeSet::new();
        for (place, one) in self.curves.iter().enumerate() {
            let pointer = format!("/curves/{place}");
            faults.nest(&pointer, one.check());
            let analyte = one.analyte;
            faults.require(
                self.range_of(analyte).is_some(),
                format!("{pointer}/analyte"),
                || format!("{analyte} is not among the kit's analytes"),
            );
            let matrices = format!("{pointer}/matrices");
            entries::distinct(faults, &matrices, &one.matrices);
            for (at, matrix) in one.matrices.iter().enumerate() {
                faults.require(
                    self.matrices.contains(matrix),
                    format!("{matrices}/{at}"),
                    || "is not among the lot's matrices".to_owned(),
                );
            }
            let its = match one.matrices.as_slice() {
                [] => self.matrices.as_slice(),
                some => some,
            };
            let mut twice = its
                .iter()
                .filter(|matrix| taken.contains(&(analyte, matrix.as_str())));
            if let Some(matrix) = twice.next() {
                faults.add(
                    matrices,
                    format!("{analyte} in {matrix} has a curve already"),
                );
            }
            taken.extend(its.iter().map(|matrix| (analyte, matrix.as_str())));
        }
    }
}
