//! The mean that control runs found, and its bias against the assigned value.
//!
//! Promises the bias with its interval by Student's t (control runs paired with the assigned
//! value) and its standard uncertainty with that of the assigned value (QUAM:2012.P1, 7.7), and the
//! figures in the shape in which a procedure states them. Refuses fewer than two control runs.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use crate::control_materials::AssignedValue;
use crate::id::ControlMaterialId;
use crate::procedures::ShownBias;
use crate::quantity::exact::{figures, mean, over, root_of_squares};
use crate::quantity::{Concentration, Number};
use crate::statistics::StatisticsError;
use crate::statistics::comparison::{BiasInput, BiasKind, MethodBias, method_bias};
use crate::uncertainty::bias::{BiasEvidence, ComputedBias, shown_by_control};

/// Significant figures of what is proposed for a procedure: more than a strip can tell.
const PROPOSED_FIGURES: u32 = 6;

/// What control runs found.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct ControlFound {
    /// How many.
    pub determinations: usize,
    /// Their mean, µg/kg.
    pub mean: Number,
    /// Their standard deviation, n - 1, µg/kg.
    pub standard_deviation: Number,
    /// Mean less assigned value in µg/kg, with its 95 % interval by Student's t.
    pub bias: MethodBias,
    /// Standard uncertainty of the assigned value, µg/kg; absent where the material states none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub assigned_standard_uncertainty: Option<Number>,
    /// Standard uncertainty of the bias, µg/kg: that of the mean and that of the assigned value.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub standard_uncertainty: Option<Number>,
    /// The same as fractions, and whether the bias is more than twice its uncertainty.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub relative: Option<ComputedBias>,
    /// What the next version of the procedure would state of its bias.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub for_procedure: Option<ShownBias>,
}

/// The mean of control runs of one material, and its bias.
///
/// # Errors
/// [`StatisticsError::TooFew`] below two values.
///
/// ```
/// use domain::control_charts::control_found;
/// use domain::control_materials::AssignedValue;
/// let material = "019ca869-5003-7d46-b59c-6cf85cca57e4".parse()?;
/// let assigned: AssignedValue = serde_json::from_str(
///     r#"{"analyte":"zearalenone","assigned_value":"50","expanded_uncertainty":"2",
///         "lower":"40","upper":"60"}"#)?;
/// let values = ["48", "52", "53"].map(|value| value.parse().unwrap());
/// let found = control_found(material, &assigned, &values).unwrap();
/// assert_eq!((found.mean.to_string().as_str(), found.bias.bias.to_string().as_str()), ("51", "1"));
/// assert!(control_found(material, &assigned, &values[..1]).is_err());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn control_found(
    material: ControlMaterialId,
    assigned: &AssignedValue,
    values: &[Number],
) -> Result<ControlFound, StatisticsError> {
    let reference = assigned.assigned_value.ug_per_kg();
    let bias = method_bias(&BiasInput {
        reference: vec![Number(reference); values.len()],
        test: values.to_vec(),
        kind: BiasKind::Absolute,
        confidence: None,
    })?;
    let plain: Vec<Decimal> = values.iter().map(|value| value.0).collect();
    let mean = mean("mean found", &plain)?;
    let doubt = standard_uncertainty(assigned);
    let of_bias = doubt
        .map(|doubt| root_of_squares("bias", &[bias.standard_error.0, doubt]))
        .transpose()?;
    let determinations = u32::try_from(values.len()).unwrap_or(u32::MAX);
    let relative = doubt.and_then(|doubt| {
        let evidence = BiasEvidence {
            mean_found: Number(mean),
            standard_deviation: bias.standard_deviation,
            determinations,
            assigned_value: Number(reference),
            assigned_standard_uncertainty: Number(doubt),
            corrected: false,
        };
        // Of a material without a value there is no fraction.
        shown_by_control(&evidence).ok()
    });
    Ok(ControlFound {
        determinations: values.len(),
        mean: figures(mean),
        standard_deviation: bias.standard_deviation,
        assigned_standard_uncertainty: doubt.map(figures),
        standard_uncertainty: of_bias.map(figures),
        relative,
        for_procedure: (mean > Decimal::ZERO).then(|| ShownBias {
            analyte: assigned.analyte,
            control_material: material,
            mean_found: proposed(mean),
            standard_deviation: proposed(bias.standard_deviation.0),
            determinations,
        }),
        bias,
    })
}

/// The assigned value's standard uncertainty, as the budget of a result takes it.
fn standard_uncertainty(assigned: &AssignedValue) -> Option<Decimal> {
    let factor = assigned.coverage_factor.map_or(Decimal::TWO, |one| one.0);
    let expanded = assigned.expanded_uncertainty?.ug_per_kg();
    over("assigned value", expanded, factor).ok()
}

fn proposed(value: Decimal) -> Concentration {
    let short = value.round_sf(PROPOSED_FIGURES).unwrap_or(value);
    Concentration::from_ug_per_kg(short.normalize())
}
