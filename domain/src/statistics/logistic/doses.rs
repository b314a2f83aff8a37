//! What the curve's doubt makes of a concentration: standard errors by the delta method.

use nalgebra::{Matrix4, Vector4};
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use crate::quantity::Number;

use super::super::door::{float, number, size};
use super::super::error::{Answer, StatisticsError, at_least};
use super::curve::Shape;
use super::refine::Moments;

/// From which matrix standard errors are taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum ErrorsBy {
    /// The second derivatives of the sum of squares at its minimum.
    #[default]
    Hessian,
    /// The first derivatives of the curve alone, J^T J.
    GaussNewton,
}

/// A response whose concentration is wanted.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct CurveReading {
    /// The response, or the mean of several.
    pub y: Number,
    /// How many it is the mean of; 1 unless stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub replicates: Option<usize>,
}

/// A parameter and its standard errors; those of a fixed one are zero.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Estimate {
    /// The value.
    pub value: Number,
    /// Standard error from the second derivatives of the sum of squares.
    pub se_hessian: Number,
    /// Standard error from J^T J.
    pub se_gauss_newton: Number,
}

/// The concentration of an effect.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct EffectiveDose {
    /// The effect.
    pub percent: Number,
    /// The concentration and its standard errors.
    pub x: Estimate,
    /// Its interval, Student's t.
    pub interval: [Number; 2],
}

/// The concentration of a response.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct ReadConcentration {
    /// The response.
    pub y: Number,
    /// The concentration.
    pub x: Number,
    /// What the scatter of readings adds to its standard error.
    pub se_from_reading: Number,
    /// What the curve's own doubt adds.
    pub se_from_curve: Number,
    /// Both.
    pub se: Number,
    /// Its interval, Student's t.
    pub interval: [Number; 2],
}

/// Covariances of b, c, d and L by both matrices, zero for what is fixed.
pub(super) struct Doubts {
    hessian: Matrix4<f64>,
    gauss_newton: Matrix4<f64>,
}

impl Doubts {
    pub(super) fn new(moments: Moments, variance: f64) -> Answer<Self> {
        Ok(Self {
            gauss_newton: moments.gauss_newton()? * variance,
            hessian: moments.hessian? * variance,
        })
    }

    pub(super) fn by(&self, errors: ErrorsBy) -> &Matrix4<f64> {
        match errors {
            ErrorsBy::Hessian => &self.hessian,
            ErrorsBy::GaussNewton => &self.gauss_newton,
        }
    }

    /// A figure with this gradient by b, c, d and L.
    pub(super) fn estimate(&self, name: &str, value: f64, gradient: [f64; 4]) -> Answer<Estimate> {
        let error = |covariance: &Matrix4<f64>| number(name, spread(covariance, gradient));
        Ok(Estimate {
            value: number(name, value)?,
            se_hessian: error(&self.hessian)?,
            se_gauss_newton: error(&self.gauss_newton)?,
        })
    }
}

/// The standard error of a figure with this gradient: the delta method.
pub(super) fn spread(covariance: &Matrix4<f64>, gradient: [f64; 4]) -> f64 {
    let gradient = Vector4::from(gradient);
    gradient.dot(&(covariance * gradient)).max(0.0).sqrt()
}

/// A fitted curve that concentrations are read from.
pub(super) struct Reader {
    pub(super) shape: Shape,
    pub(super) doubts: Doubts,
    pub(super) errors: ErrorsBy,
    /// Quantile of the intervals.
    pub(super) t: f64,
}

impl Reader {
    fn interval(&self, x: f64, error: f64) -> Answer<[Number; 2]> {
        let half = self.t * error;
        let end = |value: f64| number("end of the interval", value);
        Ok([end(x - half)?, end(x + half)?])
    }

    /// The concentration of an effect, percent of the way from the upper asymptote to the lower.
    pub(super) fn dose(&self, percent: Number) -> Answer<EffectiveDose> {
        if percent.0 <= Decimal::ZERO || percent.0 >= Decimal::ONE_HUNDRED {
            let must = "above 0 and below 100";
            return Err(StatisticsError::out_of_range("effect", percent, must));
        }
        let share = float(percent) / 100.0;
        let odds = (share / (1.0 - share)).ln();
        let u = self.shape.centre + odds / self.shape.slope;
        let stretch = self.shape.stretch(u);
        let gradient = [
            -odds / self.shape.slope.powi(2) * stretch,
            0.0,
            0.0,
            stretch,
        ];
        let x = self.shape.x_of(u);
        let error = spread(self.doubts.by(self.errors), gradient);
        Ok(EffectiveDose {
            percent,
            x: self.doubts.estimate("effective dose", x, gradient)?,
            interval: self.interval(x, error)?,
        })
    }

    /// The concentration of a response, whose own scatter is `s` for a single one.
    pub(super) fn read(&self, reading: &CurveReading, s: f64) -> Answer<ReadConcentration> {
        let replicates = reading.replicates.unwrap_or(1);
        at_least("replicates of a reading", replicates, 1)?;
        let y = float(reading.y);
        let u = self.shape.u_of(y, &reading.y.to_string())?;
        let (x, stretch) = (self.shape.x_of(u), self.shape.stretch(u));
        let place = self.shape.place(u);
        // dy/du; the curve is steeper in L by the opposite sign.
        let [by_slope, by_lower, by_upper, by_centre] = self.shape.gradient(&place);
        let steep = -by_centre;
        let gradient = [by_slope, by_lower, by_upper, by_centre].map(|by| -by / steep * stretch);
        let from_reading = (stretch / steep).abs() * s / size(replicates).sqrt();
        let from_curve = spread(self.doubts.by(self.errors), gradient);
        let error = from_reading.hypot(from_curve);
        Ok(ReadConcentration {
            y: reading.y,
            x: number("concentration", x)?,
            se_from_reading: number("standard error", from_reading)?,
            se_from_curve: number("standard error", from_curve)?,
            se: number("standard error", error)?,
            interval: self.interval(x, error)?,
        })
    }
}
