//! A result and its uncertainty as they are reported: x +/- U, to the same place.
//!
//! Promises U at its figures and x at the last place of U (JCGM 100:2008, 7.2.6; QUAM:2012.P1,
//! 9.5.1), each rounded once; refuses an uncertainty that is not above zero.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use super::{MOST_DIGITS, RoundTo, Rounding, TieRule, magnitude};
use crate::quantity::Number;
use crate::quantity::exact::{Answer, plus, pole, positive, power};

/// How an uncertainty is rounded.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum UncertaintyRounding {
    /// To the nearest, half to even.
    #[default]
    HalfEven,
    /// To the nearest, half away from zero.
    HalfAway,
    /// Always up, so that nothing is understated.
    Up,
}

/// A result to be reported.
///
/// ```
/// use domain::rounding::reported::{ReportInputs, report};
/// let inputs: ReportInputs = serde_json::from_str(r#"{"value":"184.37","uncertainty":"23.6"}"#)?;
/// assert_eq!(report(&inputs).unwrap().text.as_deref(), Some("184 +/- 24"));
/// let sure = ReportInputs { uncertainty: "0".parse().unwrap(), ..inputs };
/// assert_eq!(report(&sure).unwrap_err().quantity(), "uncertainty");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct ReportInputs {
    /// The value; absent where only the uncertainty is to be rounded.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub value: Option<Number>,
    /// Its uncertainty, above zero.
    pub uncertainty: Number,
    /// Significant figures of the uncertainty, 1 to 28; 2 where nothing is said.
    #[serde(default = "two")]
    pub figures: u32,
    /// How the uncertainty is rounded.
    #[serde(default)]
    pub uncertainty_rounding: UncertaintyRounding,
    /// What happens to the value at a tie; half to even where nothing is said.
    #[serde(default = "even")]
    pub tie: TieRule,
}

const fn two() -> u32 {
    2
}

const fn even() -> TieRule {
    TieRule::HalfEven
}

/// A result as it is reported.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Reported {
    /// The uncertainty at its figures.
    pub uncertainty: Number,
    /// The value at the last place of the uncertainty.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub value: Option<Number>,
    /// Both, as a report prints them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub text: Option<String>,
}

/// Rounds an uncertainty to its figures, and a value to the same place.
///
/// # Errors
/// An uncertainty that is not above zero, no figures or too many, numbers too large.
pub fn report(inputs: &ReportInputs) -> Answer<Reported> {
    let name = "uncertainty";
    let given = positive(name, inputs.uncertainty)?;
    let refused = |error: super::RoundingError| pole("reported value", error.to_string());
    let nearest = |value, tie| {
        let to = RoundTo::SignificantFigures(inputs.figures);
        Rounding { to, tie }.apply(value).map_err(refused)
    };
    let uncertainty = match inputs.uncertainty_rounding {
        UncertaintyRounding::HalfEven => nearest(given, TieRule::HalfEven)?,
        UncertaintyRounding::HalfAway => nearest(given, TieRule::HalfAway)?,
        UncertaintyRounding::Up => {
            let cut = nearest(given, TieRule::HalfEven)?;
            if cut < given {
                let unit = last_place(given, inputs.figures)?;
                nearest(plus(name, cut, unit)?, TieRule::HalfEven)?
            } else {
                cut
            }
        }
    };
    let value = match inputs.value {
        None => None,
        Some(value) => {
            let unit = last_place(uncertainty, inputs.figures)?;
            let to = if unit < Decimal::ONE {
                RoundTo::Places(unit.scale())
            } else {
                RoundTo::Interval(Number(unit))
            };
            let rule = Rounding {
                to,
                tie: inputs.tie,
            };
            Some(rule.apply(value.0).map_err(refused)?)
        }
    };
    Ok(Reported {
        uncertainty: Number(uncertainty),
        text: value.map(|value| format!("{value} +/- {uncertainty}")),
        value: value.map(Number),
    })
}

/// The unit of the last of so many figures: 0.1 for 1.87 to two, 10 for 123 to two.
fn last_place(value: Decimal, figures: u32) -> Answer<Decimal> {
    let places = i64::from(figures).saturating_sub(magnitude(value));
    let away = u32::try_from(places.unsigned_abs())
        .unwrap_or(u32::MAX)
        .min(MOST_DIGITS);
    if places > 0 {
        Ok(Decimal::new(1, away))
    } else {
        power(
            "last place",
            Decimal::TEN,
            i32::try_from(away).unwrap_or(i32::MAX),
        )
    }
}
