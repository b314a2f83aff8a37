//! Probability of conformity, and the guard bands that keep a risk.
//!
//! Promises p = Φ((T_U - y)/u) - Φ((T_L - y)/u) (JCGM 106:2012, 7.3 and 7.4), both sides computed
//! as tails so that small risks keep their figures. Refuses limits upside down, no limit at all
//! and uncertainties that are not above zero.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use crate::quantity::Number;
use crate::quantity::exact::{
    Answer, at_least, at_most, figures, minus, out_of_range, over, plus, pole, positive, times,
};
use crate::statistics::distributions::{normal_probability, normal_quantile, student_t_quantile};

/// Most values that are asked about at once.
pub const MOST_VALUES: usize = 1_000;

/// Beyond so many standard uncertainties a normal tail is zero to every figure that is kept.
const FAR: Decimal = Decimal::from_parts(30, 0, 0, false, 0);

/// Measured values, their standard uncertainty, and limits.
///
/// ```
/// use domain::decisions::conformity::{ConformityInputs, conformity};
/// // JCGM 106:2012, 7.3.3, example 1: p = 0.92 (from memory).
/// let inputs: ConformityInputs = serde_json::from_str(
///     r#"{"values":["-5.47"],"standard_uncertainty":"0.05","upper_limit":"-5.4"}"#)?;
/// let found = &conformity(&inputs).unwrap()[0];
/// assert_eq!(found.probability_of_conformity.0.round_dp(2).to_string(), "0.92");
/// let open = ConformityInputs { upper_limit: None, ..inputs };
/// assert_eq!(conformity(&open).unwrap_err().quantity(), "limits");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct ConformityInputs {
    /// Measured values y, one or more.
    pub values: Vec<Number>,
    /// u, above zero.
    pub standard_uncertainty: Number,
    /// T_L: conforming values are not below it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lower_limit: Option<Number>,
    /// T_U: conforming values are not above it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub upper_limit: Option<Number>,
}

/// How likely one value conforms.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Conformity {
    /// The value.
    pub value: Number,
    /// (T_U - y)/u.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub upper_z: Option<Number>,
    /// Φ((T_U - y)/u).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub below_upper: Option<Number>,
    /// (T_L - y)/u.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lower_z: Option<Number>,
    /// Φ((T_L - y)/u).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub below_lower: Option<Number>,
    /// How likely the true value lies within the limits.
    pub probability_of_conformity: Number,
    /// How likely it does not.
    pub probability_of_nonconformity: Number,
}

/// The probability of conformity of each value, by the normal distribution.
///
/// # Errors
/// No value or too many, no limit, limits upside down, u that is not above zero.
pub fn conformity(inputs: &ConformityInputs) -> Answer<Vec<Conformity>> {
    at_least("values", inputs.values.len(), 1)?;
    at_most("values", inputs.values.len(), MOST_VALUES)?;
    let standard = positive("standard uncertainty", inputs.standard_uncertainty)?;
    at_least(
        "limits",
        inputs.lower_limit.iter().chain(&inputs.upper_limit).count(),
        1,
    )?;
    if let (Some(lower), Some(upper)) = (inputs.lower_limit, inputs.upper_limit)
        && lower >= upper
    {
        return Err(out_of_range(
            "lower limit",
            lower,
            format!("below the upper limit, {upper}"),
        ));
    }
    inputs
        .values
        .iter()
        .map(|value| of_one(*value, standard, inputs))
        .collect()
}

fn of_one(value: Number, standard: Decimal, inputs: &ConformityInputs) -> Answer<Conformity> {
    let name = "probability of conformity";
    let z = |limit: Option<Number>| match limit {
        Some(limit) => over(name, minus(name, limit.0, value.0)?, standard).map(Some),
        None => Ok(None),
    };
    let (upper, lower) = (z(inputs.upper_limit)?, z(inputs.lower_limit)?);
    let above = upper.map(|z| below(-z)).transpose()?;
    let under = lower.map(below).transpose()?;
    let outside = plus(name, above.unwrap_or_default(), under.unwrap_or_default())?;
    // Φ(upper) - Φ(lower), on the side where the figures are.
    let within = match (upper, lower) {
        (Some(upper), Some(lower)) if lower > Decimal::ZERO => {
            minus(name, below(-lower)?, below(-upper)?)?
        }
        (Some(upper), Some(lower)) => minus(name, below(upper)?, below(lower)?)?,
        (Some(upper), None) => below(upper)?,
        (None, Some(lower)) => below(-lower)?,
        (None, None) => Decimal::ONE,
    };
    Ok(Conformity {
        value,
        upper_z: upper.map(figures),
        below_upper: upper.map(below).transpose()?.map(figures),
        lower_z: lower.map(figures),
        below_lower: under.map(figures),
        probability_of_conformity: figures(within.max(Decimal::ZERO)),
        probability_of_nonconformity: figures(outside.min(Decimal::ONE)),
    })
}

/// Φ(z), whose tails beyond [`FAR`] are zero and one.
pub(crate) fn below(z: Decimal) -> Answer<Decimal> {
    if z > FAR {
        Ok(Decimal::ONE)
    } else if z < -FAR {
        Ok(Decimal::ZERO)
    } else {
        normal_probability(z)
    }
}

/// On which side of its limit a guard band lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Guarded {
    /// Stringent acceptance: below an upper limit.
    Acceptance,
    /// Stringent rejection: above an upper limit.
    Rejection,
}

/// How wide a guard band is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(tag = "by", rename_all = "kebab-case", deny_unknown_fields)]
pub enum BandWidth {
    /// w = r · U = r · k · u (ILAC-G8:09/2019).
    OfExpanded {
        /// r, zero or more.
        guard_factor: Number,
        /// k, above zero; 2 where nothing is said.
        #[serde(default = "two")]
        coverage_factor: Number,
    },
    /// g = k · u with the one-sided quantile of a confidence (EURACHEM/CITAC compliance guide,
    /// annex A): normal, or Student's where degrees of freedom are given.
    Confidence {
        /// Above 50 and below 100 %.
        percent: Number,
        /// Degrees of freedom of u; absent: many.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        degrees_of_freedom: Option<Number>,
    },
}

const fn two() -> Number {
    Number(Decimal::TWO)
}

/// An upper limit and the guard band it is to have.
///
/// ```
/// use domain::decisions::conformity::{GuardBandInputs, guard_band};
/// let inputs: GuardBandInputs = serde_json::from_str(r#"{"upper_limit":"20",
///     "standard_uncertainty":"1.5","guarded":"acceptance",
///     "width":{"by":"of-expanded","guard_factor":"1"}}"#)?;
/// let band = guard_band(&inputs).unwrap();
/// assert_eq!(band.acceptance_limit.to_string(), "17");
/// assert_eq!(band.risk_at_limit.0.round_dp(5).to_string(), "0.02275");
/// let wide = GuardBandInputs { standard_uncertainty: "0".parse().unwrap(), ..inputs };
/// assert_eq!(guard_band(&wide).unwrap_err().quantity(), "standard uncertainty");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct GuardBandInputs {
    /// T_U.
    pub upper_limit: Number,
    /// u, above zero; a fraction of the measured value where `relative`.
    pub standard_uncertainty: Number,
    /// Whether u grows with the value: the band is then that of the value at its end, not at the
    /// limit.
    #[serde(default)]
    pub relative: bool,
    /// On which side it lies.
    pub guarded: Guarded,
    /// How wide it is.
    pub width: BandWidth,
}

/// A guard band.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct GuardBand {
    /// How many standard uncertainties it is wide.
    pub factor: Number,
    /// Its width.
    pub width: Number,
    /// Where it ends: the largest value accepted, or above which values are rejected.
    pub acceptance_limit: Number,
    /// The risk of a wrong statement for a value at that end, by the normal distribution, or by
    /// Student's where degrees of freedom are given.
    pub risk_at_limit: Number,
}

/// The guard band at an upper limit.
///
/// # Errors
/// u that is not above zero, a factor or confidence that is none, a relative band that is wider
/// than the value.
pub fn guard_band(inputs: &GuardBandInputs) -> Answer<GuardBand> {
    let name = "guard band";
    let standard = positive("standard uncertainty", inputs.standard_uncertainty)?;
    let (factor, risk) = match inputs.width {
        BandWidth::OfExpanded {
            guard_factor,
            coverage_factor,
        } => {
            let r = crate::quantity::exact::not_negative("guard factor", guard_factor)?;
            let factor = times(name, r, positive("coverage factor", coverage_factor)?)?;
            (factor, below(-factor)?)
        }
        BandWidth::Confidence {
            percent,
            degrees_of_freedom,
        } => confidence(percent, degrees_of_freedom)?,
    };
    let reach = times(name, factor, standard)?;
    let limit = inputs.upper_limit.0;
    let end = match (inputs.guarded, inputs.relative) {
        (Guarded::Acceptance, false) => minus(name, limit, reach)?,
        (Guarded::Rejection, false) => plus(name, limit, reach)?,
        // y + k·r·y = T, and y - k·r·y = T.
        (Guarded::Acceptance, true) => over(name, limit, plus(name, Decimal::ONE, reach)?)?,
        (Guarded::Rejection, true) => {
            let rest = minus(name, Decimal::ONE, reach)?;
            if rest <= Decimal::ZERO {
                let why = "the relative uncertainty is so large that no value is beyond doubt";
                return Err(pole(name, why));
            }
            over(name, limit, rest)?
        }
    };
    Ok(GuardBand {
        factor: figures(factor),
        width: figures(minus(name, end, limit)?.abs()),
        acceptance_limit: figures(end),
        risk_at_limit: figures(risk),
    })
}

fn confidence(percent: Number, degrees_of_freedom: Option<Number>) -> Answer<(Decimal, Decimal)> {
    let name = "confidence";
    if percent.0 <= Decimal::from(50) || percent.0 >= Decimal::ONE_HUNDRED {
        return Err(out_of_range(name, percent, "above 50 and below 100 %"));
    }
    let level = over(name, percent.0, Decimal::ONE_HUNDRED)?;
    let factor = match degrees_of_freedom {
        Some(freedom) => student_t_quantile(level, freedom.0)?,
        None => normal_quantile(level)?,
    };
    Ok((factor, minus(name, Decimal::ONE, level)?))
}
