//! The next dilution of an extract that is over range.
//!
//! Promises a dilution that the procedure validates and the laboratory's pipettes can deliver,
//! the smallest that brings what is expected inside the range. Refuses to scale validated volumes.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use crate::dilution::{DilutionStep, Factor, factor_of};
use crate::equipment::Equipment;
use crate::id::EquipmentId;
use crate::procedures::DilutionScheme;
use crate::quantity::{Concentration, Number};

use super::range::{MeasuringRange, kept};

/// A dilution to make, as volumes.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct NextDilution {
    /// The volumes, with the pipettes that deliver them where the laboratory recorded any.
    pub steps: Vec<DilutionStep>,
    /// Their factor.
    pub factor: Factor,
    /// What is expected of the sample, in µg/kg; absent where the reader gave a bound alone.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub expected: Option<Concentration>,
}

/// Why there is no dilution to make.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, thiserror::Error)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum NoDilution {
    /// The procedure validates none beyond what was run.
    #[error("the procedure validates no dilution beyond a factor of {beyond}")]
    NoneValidated {
        /// The factor that was over range.
        beyond: Factor,
    },
    /// None brings what is expected inside the range.
    #[error("no validated dilution brings {expected} µg/kg inside the measuring range")]
    NoneFits {
        /// What is expected, in µg/kg.
        expected: Concentration,
    },
    /// The pipettes recorded cannot deliver a volume.
    #[error("no pipette of the laboratory delivers {volume_ul} µL")]
    NotDeliverable {
        /// The first volume that none delivers, in µL.
        volume_ul: Number,
    },
    /// No procedure is known, so nothing is validated.
    #[error("no procedure is known that would validate a dilution")]
    NoProcedure,
}

/// A pipette of the laboratory.
#[derive(Debug, Clone, Copy)]
pub struct Pipette<'a> {
    /// Its id.
    pub id: EquipmentId,
    /// The version of it that is used.
    pub version: u32,
    /// What it can deliver.
    pub equipment: &'a Equipment,
}

/// What a dilution is planned from.
#[derive(Debug, Clone, Copy)]
pub struct PlanInputs<'a> {
    /// The dilutions that the procedure validates.
    pub dilutions: &'a [DilutionScheme],
    /// The measuring range, not scaled.
    pub range: MeasuringRange,
    /// The highest factor that was over range.
    pub over_range_at: Factor,
    /// What is expected of the sample, in µg/kg, where the reader gave a number.
    pub expected: Option<Decimal>,
    /// The laboratory's pipettes; where none is recorded the volumes are planned as validated.
    pub pipettes: &'a [Pipette<'a>],
}

/// The dilution to make next.
///
/// # Errors
/// Why there is none.
///
/// ```
/// use domain::dilution::Factor;
/// use domain::procedures::ProcedureEntry;
/// use domain::results::{MeasuringRange, NoDilution, PlanInputs, plan};
/// let procedure: ProcedureEntry =
///     serde_json::from_str(include_str!("../procedures/example.json"))?;
/// let range = MeasuringRange::of(procedure.analytes.first(), None).unwrap();
/// let mut inputs = PlanInputs {
///     dilutions: &procedure.dilutions,
///     range,
///     over_range_at: Factor::ONE,
///     expected: None,
///     pipettes: &[],
/// };
/// assert_eq!(plan(&inputs).unwrap().factor.to_string(), "6", "nothing expected: the next one");
/// inputs.expected = Some("400".parse().unwrap());
/// assert_eq!(plan(&inputs).unwrap().factor.to_string(), "20", "6 reaches 300 only");
/// inputs.expected = Some("5000".parse().unwrap());
/// assert!(matches!(plan(&inputs), Err(NoDilution::NoneFits { .. })));
/// # Ok::<(), serde_json::Error>(())
/// ```
pub fn plan(inputs: &PlanInputs<'_>) -> Result<NextDilution, NoDilution> {
    let mut candidates: Vec<(Factor, &DilutionScheme)> = inputs
        .dilutions
        .iter()
        .filter_map(|scheme| Some((factor_of(&scheme.steps).ok()?, scheme)))
        .filter(|(factor, _)| *factor > inputs.over_range_at)
        .collect();
    // The fewer steps, the less can go wrong; otherwise in the procedure's own order.
    candidates.sort_by_key(|(factor, scheme)| (*factor, scheme.steps.len()));
    let mut refusal = NoDilution::NoneValidated {
        beyond: inputs.over_range_at,
    };
    if candidates.is_empty() {
        return Err(refusal);
    }
    if let Some(expected) = inputs.expected {
        candidates.retain(|(factor, _)| fits(expected, inputs.range, *factor));
        refusal = NoDilution::NoneFits {
            expected: kept(expected),
        };
    }
    for (place, (factor, scheme)) in candidates.into_iter().enumerate() {
        match delivered(&scheme.steps, inputs.pipettes) {
            Ok(steps) => {
                return Ok(NextDilution {
                    steps,
                    factor,
                    expected: inputs.expected.map(kept),
                });
            }
            Err(volume_ul) if place == 0 => refusal = NoDilution::NotDeliverable { volume_ul },
            Err(_) => {}
        }
    }
    Err(refusal)
}

/// Whether a value lies in the window from LOQ times factor to upper end times factor.
fn fits(value: Decimal, range: MeasuringRange, factor: Factor) -> bool {
    let times = |number: Decimal, whole: u64| number.checked_mul(Decimal::from(whole));
    let within = || {
        let value = times(value, factor.denominator())?;
        let low = times(range.loq.ug_per_kg(), factor.numerator())?;
        let high = times(range.upper.ug_per_kg(), factor.numerator())?;
        Some(low <= value && value <= high)
    };
    within().unwrap_or(false)
}

/// The steps with the pipettes that deliver them, or the first volume that none delivers.
fn delivered(
    steps: &[DilutionStep],
    pipettes: &[Pipette<'_>],
) -> Result<Vec<DilutionStep>, Number> {
    if pipettes.is_empty() {
        return Ok(steps.to_vec());
    }
    steps
        .iter()
        .map(|step| {
            let sample = pipette_for(step.sample_volume_ul, pipettes)?;
            let diluent = pipette_for(step.diluent_volume_ul, pipettes)?;
            Ok(DilutionStep {
                pipette: Some(sample),
                diluent_pipette: (diluent != sample).then_some(diluent),
                ..step.clone()
            })
        })
        .collect()
}

/// The smallest pipette that delivers a volume: permissible errors belong to a pipette's largest
/// volume (ISO 8655-2, from memory), so that they weigh least there.
fn pipette_for(volume_ul: Number, pipettes: &[Pipette<'_>]) -> Result<EquipmentId, Number> {
    pipettes
        .iter()
        .filter(|pipette| pipette.equipment.delivers(volume_ul))
        .min_by_key(|pipette| (largest(pipette.equipment), pipette.id))
        .map(|pipette| pipette.id)
        .ok_or(volume_ul)
}

fn largest(equipment: &Equipment) -> Option<Number> {
    let fixed = equipment.nominal_volumes_ul.iter().copied();
    fixed.chain(equipment.maximum_volume_ul).max()
}
