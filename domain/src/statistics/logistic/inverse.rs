//! Concentrations from a curve that is known, and the reader's own number recomputed.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use crate::quantity::Number;

use super::super::door::{float, not_negative, number, positive, size};
use super::super::error::{Answer, StatisticsError, at_least};
use super::curve::{LogisticCurve, Shape};

/// A curve, and responses to be read from it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct LogisticInverseInput {
    /// The curve.
    pub curve: LogisticCurve,
    /// The responses.
    pub y: Vec<Number>,
    /// Standard deviation of a single response; without it there is no standard error.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub s_y: Option<Number>,
    /// How many responses each y is the mean of; 1 unless stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub replicates: Option<usize>,
}

/// The concentration of a response.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct InverseConcentration {
    /// The response.
    pub y: Number,
    /// The concentration.
    pub x: Number,
    /// dx/dy there.
    pub sensitivity: Number,
    /// What the scatter of responses makes of it, the curve taken as known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub se_from_reading: Option<Number>,
}

/// Concentrations of responses: x = e ((d - y)/(y - c))^(1/b), standard errors by
/// dx/dy = -x/b (1/(d - y) + 1/(y - c)).
///
/// # Errors
/// [`StatisticsError::TooFew`] without a response; [`StatisticsError::OutOfRange`] for a curve
/// that is none; [`StatisticsError::Pole`] for a response that is not between the asymptotes,
/// which has no concentration.
///
/// ```
/// use domain::statistics::logistic::{LogisticInverseInput, logistic_inverse};
/// let of = |y: &str| serde_json::from_str::<LogisticInverseInput>(&format!(r#"{{"curve":
///     {{"lower":"0","upper":"2","slope":"1","midpoint":"10"}},"y":["{y}"]}}"#));
/// assert_eq!(logistic_inverse(&of("1")?).unwrap()[0].x.to_string(), "10");
/// assert!(logistic_inverse(&of("2")?).is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
pub fn logistic_inverse(input: &LogisticInverseInput) -> Answer<Vec<InverseConcentration>> {
    at_least("y", input.y.len(), 1)?;
    let shape = Shape::new(&input.curve)?;
    let replicates = input.replicates.unwrap_or(1);
    at_least("replicates", replicates, 1)?;
    let s = input
        .s_y
        .map(|s| not_negative("s_y", s))
        .transpose()?
        .map(|s| s / size(replicates).sqrt());
    let one = |shown: &Number| {
        let y = float(*shown);
        let u = shape.u_of(y, &shown.to_string())?;
        let reach = 1.0 / (shape.upper - y) + 1.0 / (y - shape.lower);
        let sensitivity = -shape.stretch(u) / shape.slope * reach;
        Ok(InverseConcentration {
            y: *shown,
            x: number("concentration", shape.x_of(u))?,
            sensitivity: number("dx/dy", sensitivity)?,
            se_from_reading: s
                .map(|s| number("standard error", sensitivity.abs() * s))
                .transpose()?,
        })
    };
    input.y.iter().map(one).collect()
}

/// Where a response lies on a curve that is known, in the order of concentrations.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum OnCurve {
    /// At or beyond the asymptote from which concentrations begin: it is below all of them.
    BelowAll,
    /// At this concentration.
    At(Number),
    /// At or beyond the other asymptote, or where no decimal reaches: it is above all of them.
    AboveAll,
}

/// The concentration of one response, by the inverse of [`logistic_inverse`], or the side on which
/// the response leaves the curve.
///
/// # Errors
/// [`StatisticsError::OutOfRange`] for a curve that is none.
///
/// ```
/// use domain::statistics::logistic::{LogisticCurve, OnCurve, read_from_curve};
/// let curve: LogisticCurve = serde_json::from_str(
///     r#"{"lower":"0","upper":"2","slope":"1","midpoint":"10"}"#)?;
/// let at = |y: &str| read_from_curve(&curve, y.parse().unwrap()).unwrap();
/// assert_eq!(at("1"), OnCurve::At("10".parse().unwrap()));
/// assert_eq!((at("2"), at("0")), (OnCurve::BelowAll, OnCurve::AboveAll), "a falling curve");
/// let flat = LogisticCurve { slope: "0".parse().unwrap(), ..curve };
/// assert!(read_from_curve(&flat, "1".parse().unwrap()).is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
pub fn read_from_curve(curve: &LogisticCurve, response: Number) -> Answer<OnCurve> {
    let shape = Shape::new(curve)?;
    let y = float(response);
    let rises = shape.slope < 0.0;
    if y <= shape.lower || y >= shape.upper {
        let is_high = (y >= shape.upper) == rises;
        return Ok(if is_high {
            OnCurve::AboveAll
        } else {
            OnCurve::BelowAll
        });
    }
    let u = shape.u_of(y, &response.to_string())?;
    Ok(match number("concentration", shape.x_of(u)) {
        Ok(x) => OnCurve::At(x),
        // Too far for a decimal: on a linear axis it may be on either side.
        Err(_too_large) if u > shape.centre => OnCurve::AboveAll,
        Err(_too_large) => OnCurve::BelowAll,
    })
}

/// What a reader exported of the lines of a strip.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(untagged, deny_unknown_fields)]
pub enum LineSignals {
    /// The response that the curve is of.
    Response {
        /// It.
        response: Number,
    },
    /// Both lines; the curve is of test over control.
    Lines {
        /// Signal of the test line.
        test: Number,
        /// Signal of the control line.
        control: Number,
    },
}

/// A strip's signals, its lot's curve, and what the reader made of them.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct ReaderCheckInput {
    /// The lot's curve.
    pub curve: LogisticCurve,
    /// The signals.
    pub signals: LineSignals,
    /// The reader's own number, in the unit of the curve.
    pub reported: Number,
    /// How far it may be from the recomputed one, in percent of that.
    pub tolerance_percent: Number,
}

/// The reader's number beside the recomputed one.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct ReaderCheck {
    /// The response that was read from.
    pub response: Number,
    /// The concentration recomputed.
    pub recomputed: Number,
    /// Reported less recomputed.
    pub difference: Number,
    /// The same in percent of the recomputed one.
    pub difference_percent: Number,
    /// Whether that is within the tolerance, its end included.
    pub agrees: bool,
}

/// Recomputes a reader's number from its signals.
///
/// # Errors
/// [`StatisticsError::Pole`] for a response outside the asymptotes, a control line without
/// signal, or a recomputed value of zero; [`StatisticsError::OutOfRange`] for a curve that is
/// none or a negative tolerance.
///
/// ```
/// use domain::statistics::logistic::{ReaderCheckInput, check_reader};
/// let with = |control: &str| serde_json::from_str::<ReaderCheckInput>(&format!(r#"{{"curve":
///     {{"lower":"0","upper":"2","slope":"1","midpoint":"10"}},"reported":"10.4",
///     "signals":{{"test":"80","control":"{control}"}},"tolerance_percent":"5"}}"#));
/// assert!(check_reader(&with("80")?).unwrap().agrees);
/// assert!(check_reader(&with("0")?).is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
pub fn check_reader(input: &ReaderCheckInput) -> Answer<ReaderCheck> {
    let shape = Shape::new(&input.curve)?;
    let response = match input.signals {
        LineSignals::Response { response } => float(response),
        LineSignals::Lines { test, control } => {
            float(test) / positive("signal of the control line", control)?
        }
    };
    let shown = number("response", response)?;
    let u = shape.u_of(response, &shown.to_string())?;
    let recomputed = number("recomputed concentration", shape.x_of(u))?;
    not_negative("tolerance", input.tolerance_percent)?;
    let too_large = || StatisticsError::TooLarge {
        quantity: "difference".to_owned(),
    };
    let difference = input
        .reported
        .0
        .checked_sub(recomputed.0)
        .ok_or_else(too_large)?;
    let percent = difference
        .checked_mul(Decimal::ONE_HUNDRED)
        .and_then(|whole| whole.checked_div(recomputed.0.abs()))
        .ok_or_else(|| {
            let why = "the recomputed concentration is zero";
            StatisticsError::pole("difference in percent", why)
        })?;
    Ok(ReaderCheck {
        response: shown,
        recomputed,
        difference: Number(difference.normalize()),
        difference_percent: number("difference in percent", float(Number(percent)))?,
        agrees: percent.abs() <= input.tolerance_percent.0,
    })
}
