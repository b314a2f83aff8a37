//! The cut-off of a screening method and its rate of false suspects, from validation figures.
//!
//! Promises both by Implementing Regulation (EU) 2023/2782, Annex II, 4.2, for responses that rise
//! or fall with concentration; refuses figures that do not scatter, or of fewer than two results.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use crate::quantity::Number;

use super::door::{float, number, positive, size};
use super::error::{Answer, at_least};
use super::special;

/// How the response goes with concentration.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum ResponseDirection {
    /// More toxin, more response: suspect above the cut-off.
    Rising,
    /// More toxin, less response, as a competitive strip's line: suspect below the cut-off.
    Falling,
}

/// Which quantile of Student's t.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum TableOfT {
    /// Unrounded.
    #[default]
    Exact,
    /// To three decimals, as table 3 of the regulation prints it.
    Printed,
}

/// Number, mean and standard deviation of some results.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct ResponseSummary {
    /// How many.
    pub n: usize,
    /// Their mean.
    pub mean: Number,
    /// Their standard deviation, n - 1.
    pub standard_deviation: Number,
}

/// Figures of a validation.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct CutOffInput {
    /// How the response goes with concentration.
    pub response: ResponseDirection,
    /// Samples at the screening target concentration.
    pub at_target: ResponseSummary,
    /// Blank samples.
    pub blank: ResponseSummary,
    /// Which t.
    #[serde(default)]
    pub table: TableOfT,
}

/// Cut-off and false suspects.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct CutOffFigures {
    /// One-sided t at 5 % of the samples at the target.
    pub t: Number,
    /// The cut-off, unrounded.
    pub cut_off: Number,
    /// How far the blanks' mean is from it, in their standard deviations.
    pub t_blank: Number,
    /// Share of blanks expected on the suspect side.
    pub false_suspect_rate: Number,
}

/// The cut-off that 95 % of samples at the target are on the suspect side of, and the share of
/// blanks that are there too: Implementing Regulation (EU) 2023/2782, Annex II, 4.2.
///
/// # Errors
/// [`TooFew`](super::StatisticsError::TooFew) below two results of either kind;
/// [`OutOfRange`](super::StatisticsError::OutOfRange) for a standard deviation of zero.
///
/// ```
/// use domain::statistics::screening::{CutOffInput, cut_off_figures};
/// let with = |s: &str| serde_json::from_str::<CutOffInput>(&format!(r#"{{"response":"rising",
///     "at_target":{{"n":20,"mean":"1000","standard_deviation":"{s}"}},"table":"printed",
///     "blank":{{"n":20,"mean":"650","standard_deviation":"110"}}}}"#));
/// assert_eq!(cut_off_figures(&with("80")?).unwrap().cut_off.to_string(), "861.68");
/// assert!(cut_off_figures(&with("0")?).is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
pub fn cut_off_figures(input: &CutOffInput) -> Answer<CutOffFigures> {
    at_least("results at the target", input.at_target.n, 2)?;
    at_least("blank results", input.blank.n, 2)?;
    let s_target = positive("scatter at the target", input.at_target.standard_deviation)?;
    let s_blank = positive("scatter of blanks", input.blank.standard_deviation)?;
    let exact = special::student_quantile(0.95, size(input.at_target.n) - 1.0)?;
    let t = match input.table {
        TableOfT::Exact => exact,
        TableOfT::Printed => float(Number(number("t", exact)?.0.round_dp(3))),
    };
    let sign = match input.response {
        ResponseDirection::Rising => -1.0,
        ResponseDirection::Falling => 1.0,
    };
    let cut_off = float(input.at_target.mean) + sign * t * s_target;
    let t_blank = sign * (float(input.blank.mean) - cut_off) / s_blank;
    let rate = special::student_above(t_blank, size(input.blank.n) - 1.0)?;
    Ok(CutOffFigures {
        t: number("t", t)?,
        cut_off: number("cut-off", cut_off)?,
        t_blank: number("t of blanks", t_blank)?,
        false_suspect_rate: number("false-suspect rate", rate)?,
    })
}

/// Whether a response is on the suspect side of a cut-off; equal to it is not.
///
/// ```
/// use domain::statistics::screening::{ResponseDirection, is_suspect};
/// let [low, high] = ["0.30", "0.42"].map(|text| text.parse().unwrap());
/// assert!(is_suspect(low, high, ResponseDirection::Falling));
/// assert!(!is_suspect(low, high, ResponseDirection::Rising));
/// ```
#[must_use]
pub fn is_suspect(response: Decimal, cut_off: Decimal, direction: ResponseDirection) -> bool {
    match direction {
        ResponseDirection::Rising => response > cut_off,
        ResponseDirection::Falling => response < cut_off,
    }
}
