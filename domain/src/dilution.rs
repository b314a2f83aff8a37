//! Dilution steps to one factor, and a factor to a value, applied exactly once.
//!
//! Promises a factor that is a fraction of whole numbers in lowest terms, computed from the
//! volumes alone. Refuses volumes that are not above zero and factors too large to be kept.
//! Where volumes, a stated factor and a value disagree it says so, and repairs nothing.
//!
//! The procedure's own scheme, which the reader's curve contains already, is no dilution here:
//! only steps beyond it are.

mod agreement;
mod factor;
#[cfg(test)]
mod tests;

pub use agreement::{Disagreement, agrees_at_its_places, check_stated_factor, check_values};
pub use factor::{DilutionError, Factor, factor_of};

use serde::{Deserialize, Serialize};

use crate::entries;
use crate::faults::Faults;
use crate::id::EquipmentId;
use crate::quantity::Number;

/// One step: a volume of extract (or of the step before) and what it was diluted with.
///
/// ```
/// use domain::dilution::DilutionStep;
/// let step: DilutionStep = serde_json::from_str(
///     r#"{"sample_volume_ul":"100","diluent_volume_ul":"500","diluent":"water"}"#)?;
/// assert!(step.check().is_ok());
/// let nothing: DilutionStep = serde_json::from_str(
///     r#"{"sample_volume_ul":"0","diluent_volume_ul":"500","diluent":"water"}"#)?;
/// assert!(nothing.check().is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct DilutionStep {
    /// Volume taken of the extract or of the step before, in µL, above zero.
    pub sample_volume_ul: Number,
    /// Volume added to it, in µL, above zero.
    pub diluent_volume_ul: Number,
    /// What was added, such as water.
    pub diluent: String,
    /// The pipette that delivered the sample volume; none in a procedure's own scheme.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pipette: Option<EquipmentId>,
    /// The pipette that delivered the diluent, where it was another one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub diluent_pipette: Option<EquipmentId>,
}

impl DilutionStep {
    /// What is wrong with the step by itself.
    ///
    /// # Errors
    /// A volume that is not above zero, a diluent without a name.
    pub fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        for (volume, pointer) in [
            (self.sample_volume_ul, "/sample_volume_ul"),
            (self.diluent_volume_ul, "/diluent_volume_ul"),
        ] {
            faults.require(volume.0 > rust_decimal::Decimal::ZERO, pointer, || {
                format!("{volume} µL is no volume that can be delivered: give one above zero")
            });
        }
        entries::text(&mut faults, "/diluent", &self.diluent, entries::NAME_LENGTH);
        faults.into_result()
    }
}

/// Checks the steps one by one, and that their factor can be kept; pointers start at `/0`.
///
/// # Errors
/// The faults of each step; at the root, a factor that is too large.
///
/// ```
/// use domain::dilution::check_steps;
/// assert!(check_steps(&[]).is_ok(), "no step beyond the procedure's own scheme");
/// ```
pub fn check_steps(steps: &[DilutionStep]) -> Result<(), Faults> {
    let mut faults = Faults::default();
    for (place, step) in steps.iter().enumerate() {
        faults.nest(&format!("/{place}"), step.check());
    }
    if faults == Faults::default()
        && let Err(error) = factor_of(steps)
    {
        faults.add("", error.to_string());
    }
    faults.into_result()
}
