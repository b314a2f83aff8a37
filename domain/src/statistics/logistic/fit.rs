//! The curve of least squares, its standard errors, and concentrations read from it.

use nalgebra::{Matrix4, Vector4};
use serde::{Deserialize, Serialize};

use crate::quantity::Number;

#[cfg(doc)]
use super::super::StatisticsError;
use super::super::door::{number, numbers, size};
use super::super::error::Answer;
use super::super::lines::quantile;
use super::curve::{CurveAxis, LogisticCurve, Shape};
use super::data::{Data, check_monotone, data, settle};
use super::doses::{
    CurveReading, Doubts, EffectiveDose, ErrorsBy, Estimate, ReadConcentration, Reader,
};
use super::refine::Moments;

/// Points of a curve, and what is asked of it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct LogisticFitInput {
    /// Concentrations; zero has the asymptote.
    pub x: Vec<Number>,
    /// Responses.
    pub y: Vec<Number>,
    /// Weights of the squared residuals; all the same unless stated.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub weights: Vec<Number>,
    /// Logarithmic unless stated.
    #[serde(default)]
    pub axis: CurveAxis,
    /// The lower asymptote, where it is fixed: three parameters.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fixed_lower: Option<Number>,
    /// The upper asymptote, where it is fixed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fixed_upper: Option<Number>,
    /// Effects, in percent of the way from the upper to the lower asymptote, whose
    /// concentrations are wanted.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub effects_percent: Vec<Number>,
    /// Responses whose concentrations are wanted.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub readings: Vec<CurveReading>,
    /// Coverage of the intervals; 0.95 unless stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub confidence: Option<Number>,
    /// What the intervals' standard errors come from.
    #[serde(default)]
    pub errors: ErrorsBy,
    /// How far mean responses may go back against the direction of the curve, in percent of
    /// their whole span; 25 unless stated (*common practice, no source*).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub turning_allowed_percent: Option<Number>,
}

/// The curve of least squares.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct LogisticFit {
    /// Points less parameters.
    pub degrees_of_freedom: usize,
    /// b.
    pub slope: Estimate,
    /// c.
    pub lower: Estimate,
    /// d.
    pub upper: Estimate,
    /// e.
    pub midpoint: Estimate,
    /// L: ln e on a logarithmic axis, e on a linear one.
    pub centre: Estimate,
    /// -1/b, the scale of the curve in u; above zero for a rising one.
    pub scale: Estimate,
    /// -b L: the curve is c + (d - c)/(1 + exp(offset + b u)).
    pub offset: Estimate,
    /// The four as a curve to read from.
    pub curve: LogisticCurve,
    /// Weighted sum of squared residuals.
    pub residual_sum: Number,
    /// Root of that over the degrees of freedom.
    pub residual_s: Number,
    /// The curve at each x.
    pub fitted: Vec<Number>,
    /// Covariance of b, c, d and e by the matrix asked for, row by row.
    pub covariance: Vec<Vec<Number>>,
    /// In the order asked.
    pub effective_doses: Vec<EffectiveDose>,
    /// In the order asked.
    pub readings: Vec<ReadConcentration>,
}

/// Fits a three- or four-parameter logistic curve by least squares, with the standard errors of
/// Ritz et al., PLoS ONE 10 (2015) e0146021 (second derivatives) and of Bates and Watts, Nonlinear
/// Regression Analysis (1988), 2 (first derivatives), concentrations by the delta method.
///
/// # Errors
/// [`StatisticsError::TooFew`] where there are no more points than parameters, or fewer distinct
/// x; [`StatisticsError::UnequalLengths`]; [`StatisticsError::ZeroVariance`] of the responses;
/// [`StatisticsError::NotMonotone`]; [`StatisticsError::NoConvergence`];
/// [`StatisticsError::Pole`] for a reading outside the asymptotes;
/// [`StatisticsError::OutOfRange`] for a negative concentration, a weight, or an effect.
///
/// ```
/// use domain::statistics::logistic::{LogisticFitInput, fit_logistic};
/// let points = |y: &str| serde_json::from_str::<LogisticFitInput>(&format!(
///     r#"{{"x":["0","1","3","10","30","100"],"y":{y},"readings":[{{"y":"1.0"}}]}}"#));
/// let fit = fit_logistic(&points(r#"["2.01","1.8","1.55","1.02","0.48","0.2"]"#)?).unwrap();
/// assert!(fit.readings[0].x.0 > "9".parse().unwrap());
/// let hooked = fit_logistic(&points(r#"["0.1","0.8","1.9","2.0","1.1","0.2"]"#)?);
/// assert!(hooked.unwrap_err().to_string().contains("monotone"));
/// # Ok::<(), serde_json::Error>(())
/// ```
pub fn fit_logistic(input: &LogisticFitInput) -> Answer<LogisticFit> {
    let data = data(input)?;
    check_monotone(&data, input.turning_allowed_percent)?;
    let (data, shape, moments) = upright(data)?;
    let sums = Sums::new(&data, moments.sum);
    let doubts = Doubts::new(moments, sums.variance)?;
    // Looked for only where an interval is asked for: it costs as much as the fit.
    let asked = !(input.effects_percent.is_empty() && input.readings.is_empty());
    let t = if asked {
        quantile(input.confidence, Some(size(sums.freedom)))?
    } else {
        0.0
    };
    report(
        input,
        &data,
        &Reader {
            shape,
            doubts,
            errors: input.errors,
            t,
        },
        &sums,
    )
}

/// The curve with its lower asymptote below the upper one, and what is fixed by their names.
fn upright(data: Data) -> Answer<(Data, Shape, Moments)> {
    let (shape, moments) = settle(&data)?;
    if shape.lower <= shape.upper {
        return Ok((data, shape, moments));
    }
    let [slope, lower, upper, centre] = data.fixed;
    let turned = Shape {
        slope: -shape.slope,
        lower: shape.upper,
        upper: shape.lower,
        ..shape
    };
    let data = Data {
        fixed: [slope, upper, lower, centre],
        ..data
    };
    let moments = Moments::new(&data, &turned);
    Ok((data, turned, moments))
}

struct Sums {
    sum: f64,
    variance: f64,
    freedom: usize,
}

impl Sums {
    fn new(data: &Data, sum: f64) -> Self {
        let freedom = data.y.len().saturating_sub(data.free().len());
        Self {
            sum,
            variance: sum / size(freedom),
            freedom,
        }
    }
}

fn report(
    input: &LogisticFitInput,
    data: &Data,
    reader: &Reader,
    sums: &Sums,
) -> Answer<LogisticFit> {
    let (shape, doubts) = (&reader.shape, &reader.doubts);
    let (b, centre) = (shape.slope, shape.centre);
    let midpoint = shape.x_of(centre);
    let stretch = shape.stretch(centre);
    let slope = doubts.estimate("slope", b, [1.0, 0.0, 0.0, 0.0])?;
    let lower = doubts.estimate("lower asymptote", shape.lower, [0.0, 1.0, 0.0, 0.0])?;
    let upper = doubts.estimate("upper asymptote", shape.upper, [0.0, 0.0, 1.0, 0.0])?;
    let middle = doubts.estimate("midpoint", midpoint, [0.0, 0.0, 0.0, stretch])?;
    let fitted: Vec<f64> = data.u.iter().map(|u| shape.at(&shape.place(*u))).collect();
    let by_e = Matrix4::from_diagonal(&Vector4::new(1.0, 1.0, 1.0, stretch));
    let covariance = by_e * doubts.by(input.errors) * by_e;
    let rows = covariance.row_iter();
    let scatter = sums.variance.sqrt();
    Ok(LogisticFit {
        degrees_of_freedom: sums.freedom,
        curve: LogisticCurve {
            lower: lower.value,
            upper: upper.value,
            slope: slope.value,
            midpoint: middle.value,
            axis: input.axis,
        },
        centre: doubts.estimate("centre", centre, [0.0, 0.0, 0.0, 1.0])?,
        scale: doubts.estimate("scale", -1.0 / b, [b.powi(-2), 0.0, 0.0, 0.0])?,
        offset: doubts.estimate("offset", -b * centre, [-centre, 0.0, 0.0, -b])?,
        slope,
        lower,
        upper,
        midpoint: middle,
        residual_sum: number("sum of squared residuals", sums.sum)?,
        residual_s: number("residual s", scatter)?,
        fitted: numbers("fitted response", &fitted)?,
        covariance: rows
            .map(|row| row.iter().map(|c| number("covariance", *c)).collect())
            .collect::<Answer<_>>()?,
        effective_doses: input
            .effects_percent
            .iter()
            .map(|percent| reader.dose(*percent))
            .collect::<Answer<_>>()?,
        readings: input
            .readings
            .iter()
            .map(|reading| reader.read(reading, scatter))
            .collect::<Answer<_>>()?,
    })
}
