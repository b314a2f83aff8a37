//! The curve itself: y = c + (d - c)/(1 + exp(b (u - L))), u = ln x and L = ln e on a logarithmic
//! axis, u = x and L = e on a linear one.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use crate::quantity::Number;

use super::super::door::float;
use super::super::error::{Answer, StatisticsError};

/// What the logistic function is taken of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum CurveAxis {
    /// The logarithm of the concentration, of which zero has the asymptote.
    #[default]
    Logarithmic,
    /// The value itself, as in growth curves.
    Linear,
}

/// A curve.
///
/// ```
/// use domain::statistics::logistic::LogisticCurve;
/// let curve: LogisticCurve = serde_json::from_str(
///     r#"{"lower":"0","upper":"2","slope":"1","midpoint":"10"}"#)?;
/// assert_eq!(curve.midpoint.to_string(), "10");
/// assert!(serde_json::from_str::<LogisticCurve>(r#"{"lower":"0"}"#).is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct LogisticCurve {
    /// Lower asymptote c.
    pub lower: Number,
    /// Upper asymptote d.
    pub upper: Number,
    /// Slope b: above zero for a response that falls with concentration.
    pub slope: Number,
    /// Concentration e at half height.
    pub midpoint: Number,
    /// Logarithmic unless stated.
    #[serde(default)]
    pub axis: CurveAxis,
}

/// A curve as floats; `centre` is L.
#[derive(Debug, Clone, Copy)]
pub(super) struct Shape {
    pub(super) slope: f64,
    pub(super) lower: f64,
    pub(super) upper: f64,
    pub(super) centre: f64,
    pub(super) axis: CurveAxis,
}

/// Where a point lies on the curve.
pub(super) struct Place {
    /// Share of the height above the lower asymptote.
    pub(super) share: f64,
    /// share (1 - share).
    pub(super) steepness: f64,
    /// u - L; 0 where it is infinite, as everything that it is multiplied with is zero there.
    pub(super) distance: f64,
}

/// u of an x.
pub(super) fn position(x: f64, axis: CurveAxis) -> f64 {
    match axis {
        CurveAxis::Logarithmic => x.ln(),
        CurveAxis::Linear => x,
    }
}

impl Shape {
    pub(super) fn new(curve: &LogisticCurve) -> Answer<Self> {
        if curve.upper <= curve.lower {
            let must = format!("above the lower asymptote, {}", curve.lower);
            return Err(StatisticsError::out_of_range(
                "upper asymptote",
                curve.upper,
                must,
            ));
        }
        if curve.slope.0.is_zero() {
            return Err(StatisticsError::out_of_range("slope", curve.slope, "not 0"));
        }
        if curve.axis == CurveAxis::Logarithmic && curve.midpoint.0 <= Decimal::ZERO {
            return Err(StatisticsError::out_of_range(
                "midpoint",
                curve.midpoint,
                "above 0",
            ));
        }
        Ok(Self {
            slope: float(curve.slope),
            lower: float(curve.lower),
            upper: float(curve.upper),
            centre: position(float(curve.midpoint), curve.axis),
            axis: curve.axis,
        })
    }

    pub(super) fn height(&self) -> f64 {
        self.upper - self.lower
    }

    /// The curve less a step in b, c, d and L.
    pub(super) fn moved(&self, step: [f64; 4]) -> Self {
        let [slope, lower, upper, centre] = step;
        Self {
            slope: self.slope - slope,
            lower: self.lower - lower,
            upper: self.upper - upper,
            centre: self.centre - centre,
            axis: self.axis,
        }
    }

    pub(super) fn place(&self, u: f64) -> Place {
        let distance = u - self.centre;
        let share = 1.0 / (1.0 + (self.slope * distance).exp());
        let steepness = share * (1.0 - share);
        Place {
            share,
            steepness,
            distance: if distance.is_finite() { distance } else { 0.0 },
        }
    }

    pub(super) fn at(&self, place: &Place) -> f64 {
        self.lower + self.height() * place.share
    }

    /// Derivatives of y by b, c, d and L.
    pub(super) fn gradient(&self, place: &Place) -> [f64; 4] {
        let steep = self.height() * place.steepness;
        [
            -steep * place.distance,
            1.0 - place.share,
            place.share,
            steep * self.slope,
        ]
    }

    /// Second derivatives of y by b, c, d and L.
    pub(super) fn curvature(&self, place: &Place) -> [[f64; 4]; 4] {
        let (h, t, b) = (place.steepness, place.distance, self.slope);
        // The derivative of h by the exponent.
        let bend = -h * (1.0 - 2.0 * place.share);
        let height = self.height();
        let (bb, ll) = (-height * bend * t * t, -height * bend * b * b);
        let bl = height * (b * t * bend + h);
        let (bc, bd, lc, ld) = (h * t, -h * t, -h * b, h * b);
        [
            [bb, bc, bd, bl],
            [bc, 0.0, 0.0, lc],
            [bd, 0.0, 0.0, ld],
            [bl, lc, ld, ll],
        ]
    }

    /// The u at which the curve has this y, refused outside the asymptotes.
    pub(super) fn u_of(&self, y: f64, shown: &str) -> Answer<f64> {
        if !(y > self.lower && y < self.upper) {
            let why = "it is not between the asymptotes of the curve";
            return Err(StatisticsError::pole(
                format!("concentration at a response of {shown}"),
                why,
            ));
        }
        let odds = (self.upper - y) / (y - self.lower);
        Ok(self.centre + odds.ln() / self.slope)
    }

    /// x of a u.
    pub(super) fn x_of(&self, u: f64) -> f64 {
        match self.axis {
            CurveAxis::Logarithmic => u.exp(),
            CurveAxis::Linear => u,
        }
    }

    /// dx/du.
    pub(super) fn stretch(&self, u: f64) -> f64 {
        match self.axis {
            CurveAxis::Logarithmic => u.exp(),
            CurveAxis::Linear => 1.0,
        }
    }
}
