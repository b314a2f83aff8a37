//! Deming's line: errors on both axes, of one ratio or known for each point.

use nalgebra::{DMatrix, DVector};
use serde::{Deserialize, Serialize};

use crate::quantity::Number;

use super::super::door::{floats, not_negative, number, positive, size};
use super::super::error::{Answer, StatisticsError, as_long, at_least, at_most};
use super::super::least_squares::{Residuals, minimise};
use super::super::lines::{self, quantile};
use super::super::summary;

/// Most points with uncertainties of their own; each is left out once for the interval.
const MOST: usize = 500;

/// What is known of the errors.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum DemingErrors {
    /// Variance of the errors of y over that of x.
    VarianceRatio(Number),
    /// Standard uncertainties of each point.
    Known {
        /// Of x.
        u_x: Vec<Number>,
        /// Of y.
        u_y: Vec<Number>,
    },
}

/// Paired results of two methods.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct DemingInput {
    /// Of one method.
    pub x: Vec<Number>,
    /// Of the other.
    pub y: Vec<Number>,
    /// What is known of their errors.
    pub errors: DemingErrors,
    /// Coverage of the intervals; 0.95 unless stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub confidence: Option<Number>,
}

/// The line.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct DemingFit {
    /// y at x = 0.
    pub intercept: Number,
    /// y for one x.
    pub slope: Number,
    /// Standard error of the intercept, by leaving each point out once.
    pub se_intercept: Number,
    /// Standard error of the slope, likewise.
    pub se_slope: Number,
    /// Interval of the intercept, Student's t with n - 2 degrees of freedom.
    pub intercept_interval: [Number; 2],
    /// Interval of the slope.
    pub slope_interval: [Number; 2],
    /// Sum of squared scaled residuals, where uncertainties are known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub scaled_residual_sum: Option<Number>,
    /// That over n.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub mean_scaled_residual: Option<Number>,
    /// That over n - 2.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub residual_variance: Option<Number>,
    /// Ordinary line of y on x: intercept and slope.
    pub y_on_x: [Number; 2],
    /// Ordinary line of x on y, x = intercept + slope y; absent where y does not vary.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub x_on_y: Option<[Number; 2]>,
    /// Line of y on x weighted by 1/u_y², where uncertainties are known: intercept and slope.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub weighted_y_on_x: Option<[Number; 2]>,
}

struct Moments {
    n: f64,
    x: f64,
    y: f64,
    xx: f64,
    yy: f64,
    xy: f64,
}

impl Moments {
    fn of(x: &[f64], y: &[f64]) -> Self {
        let (x_mean, y_mean) = (summary::mean(x), summary::mean(y));
        let pairs: Vec<f64> = x
            .iter()
            .zip(y)
            .map(|(x, y)| (x - x_mean) * (y - y_mean))
            .collect();
        Self {
            n: size(x.len()),
            x: x_mean,
            y: y_mean,
            xx: summary::squares_about(x, x_mean),
            yy: summary::squares_about(y, y_mean),
            xy: summary::sum(&pairs),
        }
    }

    /// The same without one point.
    fn without(&self, x: f64, y: f64) -> Self {
        let (dx, dy, rest) = (x - self.x, y - self.y, self.n - 1.0);
        let share = self.n / rest;
        Self {
            n: rest,
            x: self.x - dx / rest,
            y: self.y - dy / rest,
            xx: self.xx - share * dx * dx,
            yy: self.yy - share * dy * dy,
            xy: self.xy - share * dx * dy,
        }
    }

    /// Intercept and slope: Deming, Statistical Adjustment of Data (1943), in closed form.
    fn line(&self, ratio: f64) -> Option<(f64, f64)> {
        let difference = self.yy - ratio * self.xx;
        let root = difference.hypot(2.0 * ratio.sqrt() * self.xy);
        if self.xy.abs() <= 1e-14 * (self.xx * self.yy).sqrt() {
            return None;
        }
        // Of two equal forms the one that adds: no figures are lost.
        let slope = if difference >= 0.0 {
            (difference + root) / (2.0 * self.xy)
        } else {
            2.0 * ratio * self.xy / (root - difference)
        };
        Some((self.y - slope * self.x, slope))
    }
}

struct Known {
    x: Vec<f64>,
    y: Vec<f64>,
    u_x: Vec<f64>,
    u_y: Vec<f64>,
}

impl Known {
    /// x, y, and the uncertainty of the distance from the line at a slope.
    fn points(&self, slope: f64) -> impl Iterator<Item = (f64, f64, f64, f64)> + '_ {
        let pairs = self.x.iter().zip(&self.y);
        let uncertain = self.u_x.iter().zip(&self.u_y);
        pairs.zip(uncertain).map(move |((x, y), (u_x, u_y))| {
            let s = u_y.hypot(slope * u_x);
            (*x, *y, *u_x, s)
        })
    }

    fn without(&self, place: usize) -> Self {
        let rest = |list: &[f64]| {
            let others = list.iter().enumerate().filter(|(at, _)| *at != place);
            others.map(|(_, value)| *value).collect()
        };
        Self {
            x: rest(&self.x),
            y: rest(&self.y),
            u_x: rest(&self.u_x),
            u_y: rest(&self.u_y),
        }
    }

    fn line(&self, starts: &[(f64, f64)]) -> Answer<((f64, f64), f64)> {
        let starts: Vec<DVector<f64>> = starts
            .iter()
            .map(|(intercept, slope)| DVector::from_vec(vec![*intercept, *slope]))
            .collect();
        let settled = minimise("Deming's line", self, &starts)?;
        let parameters: Vec<f64> = settled.parameters.iter().copied().collect();
        match parameters.as_slice() {
            [intercept, slope] => Ok(((*intercept, *slope), settled.sum)),
            _ => Err(StatisticsError::unsettled(
                "Deming's line",
                "it has no line",
            )),
        }
    }
}

fn pair(at: &DVector<f64>) -> (f64, f64) {
    let value = |place: usize| at.get(place).copied().unwrap_or(f64::NAN);
    (value(0), value(1))
}

impl Residuals for Known {
    fn residuals(&self, at: &DVector<f64>) -> DVector<f64> {
        let (intercept, slope) = pair(at);
        let each = self.points(slope);
        DVector::from_vec(
            each.map(|(x, y, _, s)| (y - intercept - slope * x) / s)
                .collect(),
        )
    }

    fn jacobian(&self, at: &DVector<f64>) -> DMatrix<f64> {
        let (intercept, slope) = pair(at);
        let rows: Vec<f64> = self
            .points(slope)
            .flat_map(|(x, y, u_x, s)| {
                let residual = (y - intercept - slope * x) / s;
                [-1.0 / s, -x / s - residual * slope * (u_x / s).powi(2)]
            })
            .collect();
        DMatrix::from_row_slice(self.x.len(), 2, &rows)
    }
}

/// The line of least distances: in closed form for one ratio of variances, and by the least sum
/// of squared scaled residuals for known uncertainties (Ripley and Thompson, Analyst 112 (1987)
/// 377). Standard errors by leaving each point out once (Linnet, Statistics in Medicine 9 (1990)
/// 1463).
///
/// # Errors
/// [`StatisticsError::TooFew`] below four points; [`StatisticsError::TooMany`];
/// [`StatisticsError::UnequalLengths`]; [`StatisticsError::ZeroVariance`] of x;
/// [`StatisticsError::Pole`] where x and y do not vary together, so that no slope fits;
/// [`StatisticsError::OutOfRange`]; [`StatisticsError::NoConvergence`].
///
/// ```
/// use domain::statistics::comparison::{DemingInput, deming};
/// let pairs = |y: &str| serde_json::from_str::<DemingInput>(&format!(
///     r#"{{"x":["1","2","3","4"],"y":{y},"errors":{{"variance-ratio":"1"}}}}"#));
/// assert_eq!(deming(&pairs(r#"["2","4","6","8"]"#)?).unwrap().slope.to_string(), "2");
/// assert!(deming(&pairs(r#"["2","2","2","2"]"#)?).is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
pub fn deming(input: &DemingInput) -> Answer<DemingFit> {
    let (x, y) = (floats(&input.x), floats(&input.y));
    as_long("y", y.len(), x.len())?;
    at_least("points", x.len(), 4)?;
    let moments = Moments::of(&x, &y);
    let ordinary = lines::fit(&x, &y, &vec![1.0; x.len()])?;
    let across = lines::fit(&y, &x, &vec![1.0; x.len()]).ok();
    // The same line seen from x: its own x is y.
    let turned = across
        .as_ref()
        .filter(|line| line.slope.abs() > 0.0)
        .map(|line| (line.x_mean - line.y_mean / line.slope, line.slope.recip()));
    let none = || {
        let why = "x and y do not vary together";
        StatisticsError::pole("slope", why)
    };
    let t = quantile(input.confidence, Some(moments.n - 2.0))?;
    let (line, left_out, sum, weighted) = match &input.errors {
        DemingErrors::VarianceRatio(ratio) => {
            let ratio = positive("variance ratio", *ratio)?;
            let line = moments.line(ratio).ok_or_else(none)?;
            let without = |(x, y): (&f64, &f64)| moments.without(*x, *y).line(ratio);
            let left_out: Option<Vec<_>> = x.iter().zip(&y).map(without).collect();
            (line, left_out.ok_or_else(none)?, None, None)
        }
        DemingErrors::Known { u_x, u_y } => {
            at_most("points", x.len(), MOST)?;
            let known = known(x, y, u_x, u_y)?;
            let first = (ordinary.at(0.0), ordinary.slope);
            let starts: Vec<(f64, f64)> = [first].into_iter().chain(turned).collect();
            let (line, sum) = known.line(&starts)?;
            let without = |at: usize| Ok(known.without(at).line(&[line])?.0);
            let left_out = (0..known.x.len())
                .map(without)
                .collect::<Answer<Vec<_>>>()?;
            (line, left_out, Some(sum), weighted_line(&known)?)
        }
    };
    let errors = jackknife(line, &left_out);
    let both = |name: &str, (one, other): (f64, f64)| -> Answer<[Number; 2]> {
        Ok([number(name, one)?, number(name, other)?])
    };
    let interval =
        |name: &str, value: f64, error: f64| both(name, (value - t * error, value + t * error));
    let over = |below: f64| {
        sum.map(|sum| number("scaled residuals", sum / below))
            .transpose()
    };
    Ok(DemingFit {
        intercept: number("intercept", line.0)?,
        slope: number("slope", line.1)?,
        se_intercept: number("standard error of the intercept", errors.0)?,
        se_slope: number("standard error of the slope", errors.1)?,
        intercept_interval: interval("intercept", line.0, errors.0)?,
        slope_interval: interval("slope", line.1, errors.1)?,
        scaled_residual_sum: over(1.0)?,
        mean_scaled_residual: over(moments.n)?,
        residual_variance: over(moments.n - 2.0)?,
        y_on_x: both("line of y on x", (ordinary.at(0.0), ordinary.slope))?,
        x_on_y: across
            .map(|line| both("line of x on y", (line.at(0.0), line.slope)))
            .transpose()?,
        weighted_y_on_x: weighted
            .map(|line| both("weighted line of y on x", line))
            .transpose()?,
    })
}

fn known(x: Vec<f64>, y: Vec<f64>, u_x: &[Number], u_y: &[Number]) -> Answer<Known> {
    let list = |name: &str, list: &[Number]| {
        as_long(name, list.len(), x.len())?;
        list.iter()
            .map(|u| not_negative(name, *u))
            .collect::<Answer<Vec<f64>>>()
    };
    let (u_x, u_y) = (list("u_x", u_x)?, list("u_y", u_y)?);
    // A zero in y would leave the residual without a scale at a slope of zero.
    if let Some(zero) = u_y.iter().find(|u| **u <= 0.0) {
        return Err(StatisticsError::out_of_range("u_y", zero, "above 0"));
    }
    Ok(Known { x, y, u_x, u_y })
}

fn weighted_line(known: &Known) -> Answer<Option<(f64, f64)>> {
    let weights: Vec<f64> = known.u_y.iter().map(|u| u.powi(-2)).collect();
    let line = lines::fit(&known.x, &known.y, &weights)?;
    Ok(Some((line.at(0.0), line.slope)))
}

/// Standard errors from the lines with one point left out: those of their pseudo-values' mean.
fn jackknife(line: (f64, f64), left_out: &[(f64, f64)]) -> (f64, f64) {
    let n = size(left_out.len());
    let error = |whole: f64, parts: Vec<f64>| {
        let pseudo: Vec<f64> = parts
            .iter()
            .map(|part| n * whole - (n - 1.0) * part)
            .collect();
        summary::deviation(&pseudo) / n.sqrt()
    };
    (
        error(line.0, left_out.iter().map(|line| line.0).collect()),
        error(line.1, left_out.iter().map(|line| line.1).collect()),
    )
}
