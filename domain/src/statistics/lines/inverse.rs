//! The x of a signal, with a symmetric interval and that of inversion.

use serde::{Deserialize, Serialize};

use crate::quantity::Number;

use super::super::door::{float, number, positive, size};
use super::super::error::{Answer, StatisticsError, at_least};
use super::{Line, Scale};

/// A signal to be turned into an x.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct LineReading {
    /// The signal, or the mean of several.
    pub y: Number,
    /// How many signals it is the mean of; 1 unless stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub replicates: Option<usize>,
    /// Its weight beside those of the points; 1 unless stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub weight: Option<Number>,
    /// Its standard uncertainty; needed, and used, where those of the points are known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub uncertainty: Option<Number>,
}

/// The x of a signal.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct InversePrediction {
    /// The x.
    pub x: Number,
    /// Its standard uncertainty.
    pub uncertainty: Number,
    /// Half the width of its symmetric interval.
    pub half_width: Number,
    /// Lower and upper end of that interval.
    pub wald: [Number; 2],
    /// Where the signal meets the band of predictions: not symmetric (Fieller).
    pub inversion: [Number; 2],
}

pub(super) fn inverse(
    line: &Line,
    reading: &LineReading,
    scale: &Scale,
) -> Answer<InversePrediction> {
    let y = float(reading.y);
    let replicates = reading.replicates.unwrap_or(1);
    at_least("replicates of a reading", replicates, 1)?;
    let weight = reading
        .weight
        .map_or(Ok(1.0), |w| positive("weight of a reading", w))?;
    let own = match (reading.uncertainty, scale.known) {
        (Some(u), true) => positive("uncertainty of a reading", u)?.powi(2),
        (None, true) => {
            return Err(StatisticsError::too_few("uncertainty of a reading", 1, 0));
        }
        (_, false) => scale.variance / (size(replicates) * weight),
    };
    let pole = || {
        let why = "the slope does not differ from zero at this confidence";
        StatisticsError::pole(format!("x at a signal of {}", reading.y), why)
    };
    let above = y - line.y_mean;
    let t2 = scale.quantile.powi(2);
    let leading = line.slope.powi(2) - t2 * scale.variance / line.squares;
    if leading <= 0.0 {
        return Err(pole());
    }
    let x = line.x_mean + above / line.slope;
    let u = (own + scale.variance * line.spread_at(x)).sqrt() / line.slope.abs();
    let half = scale.quantile * u;
    let constant = above.powi(2) - t2 * (own + scale.variance / line.weight);
    let middle = line.slope * above;
    let root = (middle.powi(2) - leading * constant).max(0.0).sqrt();
    let end = |sign: f64| {
        number(
            "end of the interval",
            line.x_mean + (middle + sign * root) / leading,
        )
    };
    Ok(InversePrediction {
        x: number("x", x)?,
        uncertainty: number("u(x)", u)?,
        half_width: number("half width", half)?,
        wald: [
            number("end of the interval", x - half)?,
            number("end of the interval", x + half)?,
        ],
        inversion: [end(-1.0)?, end(1.0)?],
    })
}
