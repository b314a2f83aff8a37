//! A straight line through points: calibration, prediction and its inverse.
//!
//! Promises coefficients with their uncertainties and correlation, ordinary, weighted, or with
//! known uncertainties; refuses points at one x, and to turn a signal into a concentration by a
//! slope that could be zero.

mod inverse;

pub use inverse::{InversePrediction, LineReading};

use nalgebra::{DMatrix, DVector};
use serde::{Deserialize, Serialize};

use crate::quantity::Number;

use super::door::{float, floats, number, positive, probability, size};
use super::error::{Answer, StatisticsError, as_long, at_least};
use super::special;
use super::summary;

/// How much each point counts.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum PointWeights {
    /// All the same.
    #[default]
    Equal,
    /// In proportion to these weights; the scatter of the residuals tells the scale.
    Relative(Vec<Number>),
    /// By known standard uncertainties of y: weights 1/u², no scaling by the residuals, normal
    /// quantiles for intervals (ISO/TS 28037:2010, clause 6).
    KnownUncertainties(Vec<Number>),
}

/// Points, and what is asked of the line through them.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct LineInput {
    /// Known values, such as concentrations.
    pub x: Vec<Number>,
    /// What was measured at them.
    pub y: Vec<Number>,
    /// How much each counts.
    #[serde(default)]
    pub weights: PointWeights,
    /// The x at which the intercept is taken; 0 unless stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub origin: Option<Number>,
    /// Where the line's own y is wanted.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub predict_at: Vec<Number>,
    /// Signals to be turned into x.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub readings: Vec<LineReading>,
    /// Coverage of the intervals; 0.95 unless stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub confidence: Option<Number>,
}

/// The y of the line at an x.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct LinePrediction {
    /// Where.
    pub x: Number,
    /// The line's y.
    pub y: Number,
    /// Its standard uncertainty, that of the line alone.
    pub uncertainty: Number,
}

/// A line.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct LineFit {
    /// Points.
    pub points: usize,
    /// Points less two.
    pub degrees_of_freedom: usize,
    /// y at the origin.
    pub intercept: Number,
    /// y for one x.
    pub slope: Number,
    /// Standard uncertainty of the intercept.
    pub u_intercept: Number,
    /// Standard uncertainty of the slope.
    pub u_slope: Number,
    /// Covariance of the two.
    pub covariance: Number,
    /// Their correlation; absent where nothing scatters.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub correlation: Option<Number>,
    /// Weighted sum of squared residuals; chi-squared where uncertainties are known.
    pub residual_sum: Number,
    /// Root of that over the degrees of freedom; absent for two points.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub residual_s: Option<Number>,
    /// Share of the scatter of y that the line explains; absent where y does not scatter.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub r_squared: Option<Number>,
    /// Weighted mean of x.
    pub x_mean: Number,
    /// Weighted mean of y.
    pub y_mean: Number,
    /// Weighted sum of squared distances of x from its mean.
    pub x_squares: Number,
    /// Quantile that intervals are made with; absent where none were asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub quantile: Option<Number>,
    /// In the order asked.
    pub predictions: Vec<LinePrediction>,
    /// In the order asked.
    pub readings: Vec<InversePrediction>,
}

/// A fitted line, as floats.
pub(super) struct Line {
    pub(super) slope: f64,
    pub(super) x_mean: f64,
    pub(super) y_mean: f64,
    /// Weighted sum of squared distances of x.
    pub(super) squares: f64,
    /// Sum of weights.
    pub(super) weight: f64,
    pub(super) residual_sum: f64,
    pub(super) y_squares: f64,
    pub(super) points: usize,
}

impl Line {
    pub(super) fn at(&self, x: f64) -> f64 {
        self.y_mean + self.slope * (x - self.x_mean)
    }

    /// The variance of the line at an x, for a unit residual variance.
    fn spread_at(&self, x: f64) -> f64 {
        1.0 / self.weight + (x - self.x_mean).powi(2) / self.squares
    }

    pub(super) fn freedom(&self) -> f64 {
        size(self.points.saturating_sub(2))
    }

    pub(super) fn residual_s(&self) -> f64 {
        (self.residual_sum / self.freedom()).sqrt()
    }
}

/// The weighted least-squares line, by the library's orthogonal decomposition of the centred
/// points, which loses no figures where x lies far from zero.
pub(super) fn fit(x: &[f64], y: &[f64], weights: &[f64]) -> Answer<Line> {
    let weight: f64 = summary::sum(weights);
    let weighted = |values: &[f64]| {
        let parts: Vec<f64> = values.iter().zip(weights).map(|(v, w)| v * w).collect();
        summary::sum(&parts) / weight
    };
    let (x_mean, y_mean) = (weighted(x), weighted(y));
    let about = |values: &[f64], mean: f64| -> f64 {
        let parts = values.iter().zip(weights);
        summary::sum(
            &parts
                .map(|(v, w)| w * (v - mean).powi(2))
                .collect::<Vec<_>>(),
        )
    };
    let (squares, y_squares) = (about(x, x_mean), about(y, y_mean));
    let scale = x.iter().fold(0.0_f64, |most, v| most.max(v.abs()));
    if squares <= 1e-26 * scale * scale * weight {
        return Err(StatisticsError::flat("x"));
    }
    let rows = x.len();
    let design = DMatrix::from_iterator(
        rows,
        1,
        x.iter().zip(weights).map(|(v, w)| w.sqrt() * (v - x_mean)),
    );
    let aim = DVector::from_iterator(
        rows,
        y.iter().zip(weights).map(|(v, w)| w.sqrt() * (v - y_mean)),
    );
    let decomposed = design.qr();
    let slope = decomposed
        .r()
        .solve_upper_triangular(&(decomposed.q().transpose() * aim))
        .and_then(|solution| solution.get(0).copied())
        .ok_or_else(|| StatisticsError::flat("x"))?;
    let residuals = x.iter().zip(y).zip(weights);
    let residuals: Vec<f64> = residuals
        .map(|((x, y), w)| w * (y - y_mean - slope * (x - x_mean)).powi(2))
        .collect();
    Ok(Line {
        slope,
        x_mean,
        y_mean,
        squares,
        weight,
        residual_sum: summary::sum(&residuals),
        y_squares,
        points: rows,
    })
}

struct Scale {
    /// The residual variance that variances of the line are multiplied with.
    variance: f64,
    known: bool,
    quantile: f64,
}

/// The line through points, its y at given x, and the x of given signals.
///
/// Ordinary and weighted least squares: Draper and Smith, Applied Regression Analysis (3rd ed.
/// 1998), chapters 1 and 9; known uncertainties: ISO/TS 28037:2010, clause 6; an intercept away
/// from zero: JCGM 100:2008, H.3; inverse: Massart et al., Handbook of Chemometrics and
/// Qualimetrics A (1997), 8.2.6; inversion interval: Graybill and Iyer (1994).
///
/// # Errors
/// [`StatisticsError::TooFew`] below three points, or two with known uncertainties;
/// [`StatisticsError::UnequalLengths`]; [`StatisticsError::ZeroVariance`] of x;
/// [`StatisticsError::OutOfRange`] for weights, uncertainties or the confidence;
/// [`StatisticsError::Pole`] for a signal whose interval is not finite, because the slope does
/// not differ from zero at that confidence.
///
/// ```
/// use domain::statistics::lines::{LineInput, line_fit};
/// let input = |y: &str| serde_json::from_str::<LineInput>(&format!(
///     r#"{{"x":["0","1","2","3"],"y":{y},"readings":[{{"y":"4"}}]}}"#));
/// let line = line_fit(&input(r#"["1","3","5","7"]"#)?).unwrap();
/// assert_eq!((line.slope.to_string().as_str(), line.readings[0].x.to_string().as_str()),
///     ("2", "1.5"));
/// let noise = line_fit(&input(r#"["1","9","0","5"]"#)?);
/// assert!(noise.unwrap_err().to_string().contains("slope"));
/// # Ok::<(), serde_json::Error>(())
/// ```
pub fn line_fit(input: &LineInput) -> Answer<LineFit> {
    let (x, y) = (floats(&input.x), floats(&input.y));
    as_long("y", y.len(), x.len())?;
    let (weights, known) = weights(&input.weights, x.len())?;
    at_least("points", x.len(), if known { 2 } else { 3 })?;
    let line = fit(&x, &y, &weights)?;
    let asked = !input.readings.is_empty() || input.confidence.is_some();
    let scale = Scale {
        variance: if known {
            1.0
        } else {
            line.residual_sum / line.freedom()
        },
        known,
        quantile: quantile(input.confidence, (!known).then(|| line.freedom()))?,
    };
    let origin = input.origin.map_or(0.0, float);
    let u_intercept = (scale.variance * line.spread_at(origin)).sqrt();
    let u_slope = (scale.variance / line.squares).sqrt();
    let covariance = scale.variance * (origin - line.x_mean) / line.squares;
    let scatters = u_intercept > 0.0 && u_slope > 0.0;
    let correlation = scatters.then(|| covariance / u_intercept / u_slope);
    let explained = (line.y_squares > 0.0).then(|| 1.0 - line.residual_sum / line.y_squares);
    let residual_s = (line.points > 2).then(|| line.residual_s());
    let prediction = |x: &Number| {
        let at = float(*x);
        Ok(LinePrediction {
            x: *x,
            y: number("prediction", line.at(at))?,
            uncertainty: number(
                "u(prediction)",
                (scale.variance * line.spread_at(at)).sqrt(),
            )?,
        })
    };
    Ok(LineFit {
        points: line.points,
        degrees_of_freedom: line.points.saturating_sub(2),
        intercept: number("intercept", line.at(origin))?,
        slope: number("slope", line.slope)?,
        u_intercept: number("u(intercept)", u_intercept)?,
        u_slope: number("u(slope)", u_slope)?,
        covariance: number("covariance", covariance)?,
        correlation: correlation.map(|r| number("correlation", r)).transpose()?,
        residual_sum: number("sum of squared residuals", line.residual_sum)?,
        residual_s: residual_s.map(|s| number("residual s", s)).transpose()?,
        r_squared: explained.map(|r| number("r squared", r)).transpose()?,
        x_mean: number("mean of x", line.x_mean)?,
        y_mean: number("mean of y", line.y_mean)?,
        x_squares: number("squares of x", line.squares)?,
        quantile: asked
            .then(|| number("quantile", scale.quantile))
            .transpose()?,
        predictions: input
            .predict_at
            .iter()
            .map(prediction)
            .collect::<Answer<_>>()?,
        readings: input
            .readings
            .iter()
            .map(|reading| inverse::inverse(&line, reading, &scale))
            .collect::<Answer<_>>()?,
    })
}

/// The two-sided quantile: Student's with so many degrees of freedom, or the normal one.
pub(super) fn quantile(confidence: Option<Number>, freedom: Option<f64>) -> Answer<f64> {
    let coverage = confidence.map_or(Ok(0.95), |given| probability("confidence", given))?;
    let p = 0.5 + 0.5 * coverage;
    match freedom {
        Some(freedom) => special::student_quantile(p, freedom),
        None => Ok(special::normal_quantile(p)),
    }
}

fn weights(given: &PointWeights, count: usize) -> Answer<(Vec<f64>, bool)> {
    let list = |name: &str, list: &[Number]| {
        as_long(name, list.len(), count)?;
        list.iter()
            .map(|one| positive(name, *one))
            .collect::<Answer<Vec<f64>>>()
    };
    Ok(match given {
        PointWeights::Equal => (vec![1.0; count], false),
        PointWeights::Relative(weights) => (list("weights", weights)?, false),
        PointWeights::KnownUncertainties(known) => {
            let known = list("uncertainties of y", known)?;
            (known.iter().map(|u| u.powi(-2)).collect(), true)
        }
    })
}
