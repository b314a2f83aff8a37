//! Decision, detection and quantification limits, by the conventions in use.
//!
//! Promises each limit with the figures behind it; refuses a line whose slope cannot carry one,
//! and a limit of detection above the limit that it has to serve.

mod blanks;

pub use blanks::{
    BlankScatter, DetectionLimits, MethodDetectionInput, MethodDetectionLimit, PseudoBlankInput,
    ReplicateBlankInput, method_detection_limit, pseudo_blank_limits, replicate_limits,
};

use serde::{Deserialize, Serialize};

use crate::quantity::Number;

use super::door::{floats, number, positive, probability, size};
use super::error::{Answer, StatisticsError, as_long, at_least};
use super::lines;
use super::special;

/// How the detection limit is taken from the decision limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum DetectionConvention {
    /// Twice the decision limit (DIN 32645, for equal errors of both kinds).
    #[default]
    Twice,
    /// The x whose own interval, for the error of the second kind, ends at the decision limit.
    Exact,
}

/// How the quantification limit is found, which stands on both sides of its equation.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum QuantificationConvention {
    /// The equation is solved.
    #[default]
    Solved,
    /// k times the decision limit stands for it under the root.
    FromDecisionLimit,
}

/// A calibration near the blank, and the errors allowed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct LineLimitsInput {
    /// Concentrations.
    pub x: Vec<Number>,
    /// Signals.
    pub y: Vec<Number>,
    /// Error of the first kind, such as 0.01.
    pub alpha: Number,
    /// Error of the second kind; alpha unless stated. Used where detection is exact.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub beta: Option<Number>,
    /// Replicates of a sample; 1 unless stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub replicates: Option<usize>,
    /// Inverse relative half width at the quantification limit; 3 unless stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub k: Option<Number>,
    /// How the detection limit is taken.
    #[serde(default)]
    pub detection: DetectionConvention,
    /// How the quantification limit is found.
    #[serde(default)]
    pub quantification: QuantificationConvention,
    /// The limit that the method has to serve, if it is to be checked.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub limit: Option<Number>,
}

/// Limits from a line.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct LineLimits {
    /// Intercept of the line.
    pub intercept: Number,
    /// Slope.
    pub slope: Number,
    /// Residual standard deviation, in signals.
    pub residual_s: Number,
    /// The same over the slope, in concentration.
    pub s_x0: Number,
    /// One-sided quantile of the decision limit.
    pub t_decision: Number,
    /// Two-sided quantile of the quantification limit.
    pub t_quantification: Number,
    /// Decision limit.
    pub decision_limit: Number,
    /// The signal there.
    pub decision_limit_signal: Number,
    /// Detection limit.
    pub detection_limit: Number,
    /// Quantification limit.
    pub quantification_limit: Number,
}

/// Decision, detection and quantification limit from one calibration line: DIN 32645:1994, with
/// the content of ISO 11843-2; one-sided t for decision and detection, two-sided for
/// quantification.
///
/// # Errors
/// [`StatisticsError::TooFew`] below three points; [`StatisticsError::UnequalLengths`];
/// [`StatisticsError::ZeroVariance`] of x; [`StatisticsError::OutOfRange`];
/// [`StatisticsError::Pole`] for a slope of zero, for a scatter so large that no concentration
/// can be detected or quantified, and for a detection limit above the limit to be served.
///
/// ```
/// use domain::statistics::detection::{LineLimitsInput, line_limits};
/// let input = |limit: &str| serde_json::from_str::<LineLimitsInput>(&format!(
///     r#"{{"x":["1","2","3","4"],"y":["10","21","30","41"],"alpha":"0.05","limit":"{limit}"}}"#));
/// assert!(line_limits(&input("1")?).is_ok());
/// let refusal = line_limits(&input("0.1")?).unwrap_err();
/// assert_eq!(refusal.quantity(), "detection limit");
/// # Ok::<(), serde_json::Error>(())
/// ```
pub fn line_limits(input: &LineLimitsInput) -> Answer<LineLimits> {
    let (x, y) = (floats(&input.x), floats(&input.y));
    as_long("y", y.len(), x.len())?;
    at_least("points", x.len(), 3)?;
    let line = lines::fit(&x, &y, &vec![1.0; x.len()])?;
    if line.slope.abs() <= 0.0 {
        let why = "the slope of the line is zero";
        return Err(StatisticsError::pole("decision limit", why));
    }
    let alpha = probability("alpha", input.alpha)?;
    let beta = input
        .beta
        .map_or(Ok(alpha), |beta| probability("beta", beta))?;
    let replicates = input.replicates.unwrap_or(1);
    at_least("replicates", replicates, 1)?;
    let k = input.k.map_or(Ok(3.0), |k| positive("k", k))?;
    let s_x0 = line.residual_s() / line.slope.abs();
    let t = special::student_quantile(1.0 - alpha, line.freedom())?;
    let t_beta = special::student_quantile(1.0 - beta, line.freedom())?;
    let t_two = special::student_quantile(1.0 - alpha / 2.0, line.freedom())?;
    let own = 1.0 / size(replicates) + 1.0 / size(x.len());
    let spread = |x: f64| (own + (x - line.x_mean).powi(2) / line.squares).sqrt();
    let decision = s_x0 * t * spread(0.0);
    let curve = Curve {
        own,
        mean: line.x_mean,
        squares: line.squares,
    };
    let detection = match input.detection {
        DetectionConvention::Twice => 2.0 * decision,
        DetectionConvention::Exact => curve.solve("detection limit", decision, s_x0 * t_beta)?,
    };
    let quantification = match input.quantification {
        QuantificationConvention::Solved => {
            curve.solve("quantification limit", 0.0, k * s_x0 * t_two)?
        }
        QuantificationConvention::FromDecisionLimit => k * s_x0 * t_two * spread(k * decision),
    };
    let detection_limit = number("detection limit", detection)?;
    if let Some(limit) = input.limit.filter(|limit| detection_limit > *limit) {
        let why = format!("it is {detection_limit}, above the limit of {limit} to be served");
        return Err(StatisticsError::pole("detection limit", why));
    }
    Ok(LineLimits {
        intercept: number("intercept", line.at(0.0))?,
        slope: number("slope", line.slope)?,
        residual_s: number("residual s", line.residual_s())?,
        s_x0: number("s_x0", s_x0)?,
        t_decision: number("t", t)?,
        t_quantification: number("t", t_two)?,
        decision_limit: number("decision limit", decision)?,
        decision_limit_signal: number("signal at the decision limit", line.at(decision))?,
        detection_limit,
        quantification_limit: number("quantification limit", quantification)?,
    })
}

struct Curve {
    own: f64,
    mean: f64,
    squares: f64,
}

impl Curve {
    /// The x above `from` with x - from = width root(own + (x - mean)²/squares): a quadratic
    /// equation, without an answer where the width grows faster than x.
    fn solve(&self, quantity: &str, from: f64, width: f64) -> Answer<f64> {
        let growth = width * width / self.squares;
        if growth >= 1.0 {
            let why =
                "the signals scatter so much that no concentration in the line's reach has it";
            return Err(StatisticsError::pole(quantity, why));
        }
        let leading = 1.0 - growth;
        let half = from - growth * self.mean;
        let rest = from * from - width * width * self.own - growth * self.mean * self.mean;
        Ok((half + (half * half - leading * rest).max(0.0).sqrt()) / leading)
    }
}
