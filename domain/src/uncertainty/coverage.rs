//! Effective degrees of freedom, and how far an uncertainty is expanded.
//!
//! Promises the formula of Welch and Satterthwaite, cut to a whole number, and k as stated or as
//! the two-sided quantile of a level (JCGM 100:2008, 6.2, G.4 and G.6.4). Refuses degrees of
//! freedom of zero, and factors and levels that are none.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use super::budget::MOST_LINES;
use super::doubt::upper_probability;
use crate::quantity::Number;
use crate::quantity::exact::{
    Answer, at_least, at_most, figures, over, plus, pole, positive, power, root_of_squares, times,
    too_large,
};
use crate::statistics::StatisticsError;
use crate::statistics::distributions::{
    MOST_DEGREES_OF_FREEDOM, normal_quantile, student_t_quantile,
};

/// How an expanded uncertainty is asked for.
///
/// ```
/// use domain::uncertainty::Coverage;
/// let stated: Coverage = serde_json::from_str(r#"{"by":"factor","factor":"2"}"#)?;
/// assert!(matches!(stated, Coverage::Factor { .. }));
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(tag = "by", rename_all = "kebab-case", deny_unknown_fields)]
pub enum Coverage {
    /// A stated factor k.
    Factor {
        /// Above zero; 2 for about 95 %.
        factor: Number,
    },
    /// The two-sided quantile of a level: Student's with the effective degrees of freedom, the
    /// normal one where they are infinite (GUM G.6.4).
    Level {
        /// In percent, above 0 and below 100.
        percent: Number,
    },
}

impl Default for Coverage {
    fn default() -> Self {
        Self::Factor {
            factor: Number(Decimal::TWO),
        }
    }
}

/// What an uncertainty was expanded by, and to.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct CoverageUsed {
    /// k.
    pub coverage_factor: Number,
    /// The whole degrees of freedom that k was taken for; absent where it was stated or normal.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub degrees_of_freedom: Option<u32>,
    /// U = k · u.
    pub expanded: Number,
}

/// The formula of Welch and Satterthwaite, in units of u: 1 / Σ ((cᵢuᵢ/u)⁴ / νᵢ) (GUM G.4.1).
/// None where no line limits it.
pub(super) fn effective_degrees_of_freedom(
    combined: Decimal,
    parts: &[(Decimal, Option<Number>)],
) -> Answer<Option<Decimal>> {
    let name = "effective degrees of freedom";
    if combined.is_zero() {
        return Ok(None);
    }
    let mut total = Decimal::ZERO;
    for (contribution, freedom) in parts {
        let Some(freedom) = freedom else { continue };
        let freedom = positive("degrees of freedom", *freedom)?;
        let part = power(name, over(name, *contribution, combined)?, 4)?;
        total = plus(name, total, over(name, part, freedom)?)?;
    }
    if total.is_zero() {
        return Ok(None);
    }
    over(name, Decimal::ONE, total).map(Some)
}

pub(super) fn whole(freedom: Decimal) -> Option<u32> {
    u32::try_from(freedom.trunc()).ok()
}

/// U = k · u, and where k comes from.
pub(super) fn expand(
    combined: Decimal,
    effective: Option<Decimal>,
    coverage: Coverage,
) -> Answer<CoverageUsed> {
    let (factor, degrees_of_freedom) = match coverage {
        Coverage::Factor { factor } => (positive("coverage factor", factor)?, None),
        Coverage::Level { percent } => level_factor(percent, effective)?,
    };
    Ok(CoverageUsed {
        coverage_factor: figures(factor),
        degrees_of_freedom,
        expanded: figures(times("expanded uncertainty", factor, combined)?),
    })
}

fn level_factor(
    percent: Number,
    effective: Option<Decimal>,
) -> Result<(Decimal, Option<u32>), StatisticsError> {
    let upper = upper_probability("coverage", percent)?;
    let Some(freedom) = effective.filter(|freedom| *freedom < MOST_DEGREES_OF_FREEDOM.into())
    else {
        return Ok((normal_quantile(upper)?, None));
    };
    let cut = whole(freedom).ok_or_else(|| too_large("effective degrees of freedom"))?;
    if cut == 0 {
        let why = "cut to a whole number there are none, so that no factor is known";
        return Err(pole("coverage factor", why));
    }
    Ok((student_t_quantile(upper, cut.into())?, Some(cut)))
}

/// The formula of Welch and Satterthwaite by itself.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct EffectiveFreedomInputs {
    /// The combined standard uncertainty, where it is to be another than that of the parts, such
    /// as a rounded one; absent: the root of the sum of their squares.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub combined: Option<Number>,
    /// The parts, in the unit of the result.
    pub parts: Vec<FreedomOfPart>,
    /// How it is expanded.
    #[serde(default)]
    pub coverage: Coverage,
}

/// A contribution and how well it is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct FreedomOfPart {
    /// |c| · u.
    pub contribution: Number,
    /// Its degrees of freedom; absent: infinite.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub degrees_of_freedom: Option<Number>,
}

/// What the formula gives.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct EffectiveFreedom {
    /// The combined standard uncertainty that was used.
    pub combined: Number,
    /// Effective degrees of freedom; absent: infinite.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub effective_degrees_of_freedom: Option<Number>,
    /// Cut to a whole number.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub whole_degrees_of_freedom: Option<u32>,
    /// What it was expanded to.
    pub coverage: CoverageUsed,
}

/// Effective degrees of freedom of given contributions.
///
/// # Errors
/// No part or too many, degrees of freedom or a combined uncertainty that are not above zero.
///
/// ```
/// use domain::uncertainty::coverage::{EffectiveFreedomInputs, effective_freedom};
/// let inputs: EffectiveFreedomInputs = serde_json::from_str(r#"{"parts":[
///     {"contribution":"3","degrees_of_freedom":"9"},{"contribution":"4"}],
///     "coverage":{"by":"level","percent":"95"}}"#)?;
/// let found = effective_freedom(&inputs).unwrap();
/// // 5⁴ / (3⁴ / 9) = 69.4
/// assert_eq!(found.whole_degrees_of_freedom, Some(69));
/// let none = EffectiveFreedomInputs { combined: "0".parse().ok(), ..inputs };
/// assert!(effective_freedom(&none).is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
pub fn effective_freedom(inputs: &EffectiveFreedomInputs) -> Answer<EffectiveFreedom> {
    at_least("parts", inputs.parts.len(), 1)?;
    at_most("parts", inputs.parts.len(), MOST_LINES)?;
    let parts: Vec<_> = inputs
        .parts
        .iter()
        .map(|part| (part.contribution.0, part.degrees_of_freedom))
        .collect();
    let combined = match inputs.combined {
        Some(combined) => positive("combined uncertainty", combined)?,
        None => {
            let own: Vec<Decimal> = parts.iter().map(|(part, _)| *part).collect();
            root_of_squares("combined uncertainty", &own)?
        }
    };
    let effective = effective_degrees_of_freedom(combined, &parts)?;
    Ok(EffectiveFreedom {
        combined: figures(combined),
        effective_degrees_of_freedom: effective.map(figures),
        whole_degrees_of_freedom: effective.and_then(whole),
        coverage: expand(combined, effective, inputs.coverage)?,
    })
}
