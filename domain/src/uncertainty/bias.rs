//! The bias of a procedure, by what was found of control material.
//!
//! Promises the uncertainty of the bias, and the bias itself as a line where it is significant and
//! not corrected for (QUAM:2012.P1, 7.7; JCGM 100:2008, F.2.4.5). Refuses material without a value.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use super::budget::Part;
use super::of_result::line;
use crate::quantity::Number;
use crate::quantity::exact::{
    Answer, at_least, figures, minus, not_negative, over, positive, root_of_squares, square_root,
    times,
};

/// What control material showed of the procedure's bias.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct BiasEvidence {
    /// Mean of what was found, above zero, in the unit of the assigned value.
    pub mean_found: Number,
    /// Standard deviation of single findings, zero or more.
    pub standard_deviation: Number,
    /// How many, 1 or more.
    pub determinations: u32,
    /// The material's assigned value, above zero.
    pub assigned_value: Number,
    /// Its standard uncertainty, zero or more.
    pub assigned_standard_uncertainty: Number,
    /// Whether results are corrected for the bias already.
    #[serde(default)]
    pub corrected: bool,
}

/// What control material says of the bias.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct ComputedBias {
    /// mean found / assigned - 1.
    pub relative_bias: Number,
    /// Its standard uncertainty, as a fraction.
    pub relative_standard_uncertainty: Number,
    /// Whether it is more than twice that, and so differs from none (GUM F.2.4.5).
    pub significant: bool,
}

/// The bias that control material shows, alone.
///
/// # Errors
/// [`StatisticsError::OutOfRange`](crate::statistics::StatisticsError) for a mean or an assigned
/// value that is not above zero, and negative scatter; `TooFew` without a determination.
///
/// ```
/// use domain::uncertainty::bias::{BiasEvidence, shown_by_control};
/// let evidence = |assigned: &str| serde_json::from_str::<BiasEvidence>(&format!(
///     r#"{{"mean_found":"19","standard_deviation":"1","determinations":4,
///         "assigned_value":"{assigned}","assigned_standard_uncertainty":"0"}}"#));
/// let shown = shown_by_control(&evidence("20")?).unwrap();
/// assert_eq!(shown.relative_bias.to_string(), "-0.05");
/// assert!(shown_by_control(&evidence("0")?).is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
pub fn shown_by_control(evidence: &BiasEvidence) -> Answer<ComputedBias> {
    bias_lines(evidence, Decimal::ONE, &mut Vec::new())
}

/// The lines of a bias in a value, which are added to the others.
pub(super) fn bias_lines(
    evidence: &BiasEvidence,
    value: Decimal,
    lines: &mut Vec<Part>,
) -> Answer<ComputedBias> {
    let name = "bias";
    let found = positive("mean found of the control material", evidence.mean_found)?;
    let assigned = positive("assigned value", evidence.assigned_value)?;
    let scatter = not_negative(
        "standard deviation of the control material",
        evidence.standard_deviation,
    )?;
    let reference = not_negative(
        "standard uncertainty of the assigned value",
        evidence.assigned_standard_uncertainty,
    )?;
    let count = usize::try_from(evidence.determinations).unwrap_or(usize::MAX);
    at_least("determinations of the control material", count, 1)?;
    let root = square_root(name, evidence.determinations.into())?;
    let of_mean = over(name, over(name, scatter, root)?, found)?;
    let of_reference = over(name, reference, assigned)?;
    let bias = minus(name, over(name, found, assigned)?, Decimal::ONE)?;
    let standard = root_of_squares(name, &[of_mean, of_reference])?;
    let significant = bias.abs() > times(name, Decimal::TWO, standard)?;
    lines.push(line(
        "bias, mean of the control material",
        format!(
            "standard deviation {}, mean of {}",
            evidence.standard_deviation, evidence.determinations
        ),
        of_mean,
        value,
    ));
    lines.push(line(
        "bias, assigned value",
        format!(
            "{} with standard uncertainty {}",
            evidence.assigned_value, evidence.assigned_standard_uncertainty
        ),
        of_reference,
        value,
    ));
    if significant && !evidence.corrected {
        let stated = "differs from none and is not corrected".to_owned();
        lines.push(line("bias, not corrected", stated, bias.abs(), value));
    }
    Ok(ComputedBias {
        relative_bias: figures(bias),
        relative_standard_uncertainty: figures(standard),
        significant,
    })
}
