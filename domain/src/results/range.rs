//! A reading against the measuring range: not detected, below quantification, a number, or over.

use std::cmp::Ordering;

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use crate::decisions::Finding;
use crate::dilution::{DilutionError, Factor};
use crate::kit_lots::KitLotRange;
use crate::procedures::AnalyteRange;
use crate::quantity::{Concentration, computed};
use crate::runs::{Reading, ReadingKind};

/// Limit of detection, limit of quantification and upper end, in µg/kg.
///
/// ```
/// use domain::dilution::Factor;
/// use domain::results::MeasuringRange;
/// let range = MeasuringRange::of(
///     Some(&serde_json::from_str(
///         r#"{"analyte":"aflatoxin-total","lod":"1","loq":"2","upper":"50"}"#)?),
///     Some(&serde_json::from_str(r#"{"analyte":"aflatoxin-total","loq":"2.5","upper":"60"}"#)?),
/// ).unwrap();
/// assert_eq!((range.loq.to_string(), range.upper.to_string()), ("2.5".into(), "50".into()));
/// let diluted = range.scaled(Factor::new(6, 1).unwrap()).unwrap();
/// assert_eq!(diluted.upper.to_string(), "300.000000");
/// assert!(MeasuringRange::of(None, None).is_none(), "no papers, no range");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct MeasuringRange {
    /// Below it nothing is claimed to be there.
    pub lod: Concentration,
    /// Below it there is no number.
    pub loq: Concentration,
    /// Above it there is a lower bound and no number.
    pub upper: Concentration,
}

impl MeasuringRange {
    /// The narrower of the procedure's range and the kit lot's, end by end; none where neither
    /// gives one, or where nothing is left between the ends.
    #[must_use]
    pub fn of(procedure: Option<&AnalyteRange>, kit_lot: Option<&KitLotRange>) -> Option<Self> {
        let loq = procedure
            .map(|range| range.loq)
            .max(kit_lot.and_then(|lot| lot.loq));
        let lod = procedure
            .map(|range| range.lod)
            .max(kit_lot.and_then(|lot| lot.lod));
        let upper = match (procedure, kit_lot) {
            (Some(range), Some(lot)) => range.upper.min(lot.upper),
            (Some(range), None) => range.upper,
            (None, Some(lot)) => lot.upper,
            (None, None) => return None,
        };
        // Papers that give one lower end alone give it for detection and quantification alike.
        let lod = lod.or(loq)?;
        let loq = loq.or(Some(lod))?.max(lod);
        (loq < upper).then_some(Self { lod, loq, upper })
    }

    /// The range of a diluted extract.
    ///
    /// # Errors
    /// [`DilutionError::ValueTooLarge`].
    pub fn scaled(self, factor: Factor) -> Result<Self, DilutionError> {
        Ok(Self {
            lod: scaled(self.lod, factor)?,
            loq: scaled(self.loq, factor)?,
            upper: scaled(self.upper, factor)?,
        })
    }
}

/// A concentration times a factor, with the places of a computed one.
fn scaled(end: Concentration, factor: Factor) -> Result<Concentration, DilutionError> {
    Ok(kept(factor.apply(end.ug_per_kg())?))
}

/// A computed value as it is kept.
pub(super) fn kept(value: Decimal) -> Concentration {
    Concentration::from_ug_per_kg(computed(value))
}

/// What a reading says of the sample.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Seen {
    /// What it says, scaled by the factor, with the places of computed values.
    pub finding: Finding,
    /// The number it gave times the factor, unrounded, also outside the range: there it is good
    /// for planning, and for nothing else.
    pub value: Option<Decimal>,
}

/// A value of a reading, and how it stands to the factor.
#[derive(Clone, Copy)]
struct Read {
    value: Concentration,
    factor: Factor,
    includes_factor: bool,
}

impl Read {
    /// The value times the factor, which is applied exactly once.
    fn multiplied(self) -> Result<Decimal, DilutionError> {
        if self.includes_factor {
            Ok(self.value.ug_per_kg())
        } else {
            self.factor.apply(self.value.ug_per_kg())
        }
    }

    /// The value against an end of the range that is not scaled, by cross multiplication where
    /// the value is: nothing is divided, nothing rounded.
    fn against(self, end: Concentration) -> Result<Ordering, DilutionError> {
        if !self.includes_factor {
            return Ok(self.value.cmp(&end));
        }
        let times = |one: Concentration, whole: u64| {
            one.ug_per_kg()
                .checked_mul(Decimal::from(whole))
                .ok_or(DilutionError::ValueTooLarge)
        };
        let value = times(self.value, self.factor.denominator())?;
        Ok(value.cmp(&times(end, self.factor.numerator())?))
    }

    fn number(self, range: MeasuringRange) -> Result<Finding, DilutionError> {
        Ok(if self.against(range.upper)?.is_gt() {
            Finding::Above {
                bound: scaled(range.upper, self.factor)?,
            }
        } else if self.against(range.loq)?.is_ge() {
            Finding::Quantified {
                value: kept(self.multiplied()?),
            }
        } else if self.against(range.lod)?.is_ge() {
            Finding::DetectedBelow {
                lod: scaled(range.lod, self.factor)?,
                loq: scaled(range.loq, self.factor)?,
            }
        } else {
            not_detected(range, self.factor)?
        })
    }
}

fn not_detected(range: MeasuringRange, factor: Factor) -> Result<Finding, DilutionError> {
    Ok(Finding::NotDetected {
        below: scaled(range.lod, factor)?,
    })
}

/// Classifies a reading by a range that is not scaled yet; nothing for an invalid reading.
///
/// A number at an end of the range is within it. A reader's own bound is kept, except that no
/// upper bound below the limit of detection is believed.
///
/// # Errors
/// [`DilutionError::ValueTooLarge`].
///
/// ```
/// use domain::decisions::Finding;
/// use domain::dilution::Factor;
/// use domain::results::{MeasuringRange, see};
/// let range = MeasuringRange::of(Some(&serde_json::from_str(
///     r#"{"analyte":"aflatoxin-total","lod":"1","loq":"2","upper":"50"}"#)?), None).unwrap();
/// let reading = |kind: &str, value: &str| serde_json::from_str(&format!(
///     r#"{{"analyte":"aflatoxin-total","kind":"{kind}","value":"{value}","unit":"ug/kg"}}"#));
/// let six = Factor::new(6, 1).unwrap();
/// let seen = see(&reading("number", "12.5")?, range, six, false).unwrap().unwrap();
/// assert_eq!(seen.finding.to_string(), "75.000000 µg/kg");
/// let seen = see(&reading("number", "51")?, range, six, false).unwrap().unwrap();
/// assert_eq!(seen.finding.to_string(), "> 300.000000 µg/kg");
/// let seen = see(&reading("above", "50")?, range, Factor::ONE, false).unwrap().unwrap();
/// assert!(matches!(seen.finding, Finding::Above { .. }));
/// let absurd = reading("number", "79228162514264337593543950335")?;
/// assert!(see(&absurd, range, six, false).is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
pub fn see(
    reading: &Reading,
    range: MeasuringRange,
    factor: Factor,
    value_includes_factor: bool,
) -> Result<Option<Seen>, DilutionError> {
    let read = || {
        let value = reading.concentration();
        Ok::<_, DilutionError>(Read {
            value: value.ok_or(DilutionError::ValueTooLarge)?,
            factor,
            includes_factor: value_includes_factor,
        })
    };
    let (finding, value) = match reading.kind {
        ReadingKind::Invalid => return Ok(None),
        ReadingKind::NotDetected => (not_detected(range, factor)?, None),
        ReadingKind::Number => (read()?.number(range)?, Some(read()?.multiplied()?)),
        ReadingKind::Above => {
            let bound = kept(read()?.multiplied()?);
            (Finding::Above { bound }, None)
        }
        ReadingKind::Below if read()?.against(range.lod)?.is_gt() => {
            let bound = kept(read()?.multiplied()?);
            (Finding::Below { bound }, None)
        }
        ReadingKind::Below => (not_detected(range, factor)?, None),
    };
    Ok(Some(Seen { finding, value }))
}

/// The highest true value that a finding leaves open; none for a lower bound.
pub(super) const fn most(finding: Finding) -> Option<Concentration> {
    match finding {
        Finding::NotDetected { below: bound }
        | Finding::DetectedBelow { loq: bound, .. }
        | Finding::Below { bound }
        | Finding::Quantified { value: bound } => Some(bound),
        Finding::Above { .. } => None,
    }
}

/// The lower bound of a finding that is over range.
pub(super) const fn over_range(finding: Finding) -> Option<Concentration> {
    match finding {
        Finding::Above { bound } => Some(bound),
        Finding::NotDetected { .. }
        | Finding::DetectedBelow { .. }
        | Finding::Below { .. }
        | Finding::Quantified { .. } => None,
    }
}
