//! Passing and Bablok's line: the shifted median of all slopes between pairs of points.
//!
//! Promises the rank statistics exactly, whatever ties there are; refuses a median that is
//! vertical and too few points for the interval. Slopes are counted against a window that a
//! sample of them sets, and only those inside it are divided and ordered.

use serde::{Deserialize, Serialize};

use rust_decimal::prelude::ToPrimitive;

use crate::quantity::Number;

use super::super::door::{floats, number, numbers, probability, size};
use super::super::error::{Answer, StatisticsError, as_long, at_least, at_most};
use super::super::special;
use super::super::summary;

/// Most points: their pairs are counted one by one.
const MOST: usize = 20_000;

/// Paired results of two methods.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct PassingBablokInput {
    /// Of one method.
    pub x: Vec<Number>,
    /// Of the other.
    pub y: Vec<Number>,
    /// Coverage of the intervals; 0.95 unless stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub confidence: Option<Number>,
}

/// The line.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct PassingBablokFit {
    /// y for one x.
    pub slope: Number,
    /// y at x = 0.
    pub intercept: Number,
    /// Interval of the slope.
    pub slope_interval: [Number; 2],
    /// Interval of the intercept.
    pub intercept_interval: [Number; 2],
    /// Slopes used: all but those of identical points and those of exactly -1.
    pub slopes: usize,
    /// Slopes below -1, by which the ranks are shifted.
    pub offset: usize,
    /// Ranks of the interval's ends among the slopes, before the shift.
    pub ranks: [usize; 2],
    /// Whether 1 is inside the slope's interval and 0 inside the intercept's: no difference seen.
    pub agrees: bool,
}

/// The line of Passing and Bablok, Journal of Clinical Chemistry and Clinical Biochemistry 21
/// (1983) 709. Identical points and slopes of exactly -1 are left out; a vertical pair counts as
/// infinite, on whichever side, which the shift by the offset makes the same.
///
/// # Errors
/// [`StatisticsError::TooFew`] below three points, or too few for the interval asked;
/// [`StatisticsError::TooMany`]; [`StatisticsError::UnequalLengths`];
/// [`StatisticsError::ZeroVariance`] where all points are one;
/// [`StatisticsError::Pole`] where the slope, or an end of its interval, is vertical.
///
/// ```
/// use domain::statistics::comparison::{PassingBablokInput, passing_bablok};
/// let pairs = |x: &str| serde_json::from_str::<PassingBablokInput>(&format!(
///     r#"{{"x":{x},"y":["2","4","6","8","10","12"]}}"#));
/// let line = passing_bablok(&pairs(r#"["1","2","3","4","5","6"]"#)?).unwrap();
/// assert_eq!((line.slope.to_string().as_str(), line.slopes), ("2", 15));
/// assert!(passing_bablok(&pairs(r#"["1","1","1","1","1","1"]"#)?).is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
pub fn passing_bablok(input: &PassingBablokInput) -> Answer<PassingBablokFit> {
    as_long("y", input.y.len(), input.x.len())?;
    at_least("points", input.x.len(), 3)?;
    at_most("points", input.x.len(), MOST)?;
    let confidence = input
        .confidence
        .map_or(Ok(0.95), |given| probability("confidence", given))?;
    let z = special::normal_quantile(0.5 + 0.5 * confidence);
    let pairs = Pairs::new(&input.x, &input.y);
    let counts = pairs.count();
    if counts.used == 0 {
        return Err(StatisticsError::flat("points"));
    }
    let n = size(input.x.len());
    let width = z * (n * (n - 1.0) * (2.0 * n + 5.0) / 18.0).sqrt();
    let first = ((size(counts.used) - width) / 2.0).round();
    let first = first.to_usize().filter(|rank| *rank >= 1);
    let too_few = || {
        let must = format!(
            "lower: {} points do not carry an interval of it",
            input.x.len()
        );
        StatisticsError::out_of_range("confidence", confidence, must)
    };
    let first = first.ok_or_else(too_few)?;
    let last = counts.used.saturating_add(1).saturating_sub(first);
    let middle = counts.used.div_ceil(2);
    let other_middle = (counts.used / 2).saturating_add(1);
    let shifted = [first, middle, other_middle, last].map(|rank| rank.saturating_add(counts.below));
    let slopes = pairs.ranked(&shifted, &counts)?;
    let [low, one, other, high] = slopes;
    let slope = median_slope(one, other);
    let (x, y) = (floats(&input.x), floats(&input.y));
    let intercept = |slope: f64| {
        let rests: Vec<f64> = x.iter().zip(&y).map(|(x, y)| y - slope * x).collect();
        summary::median(&rests)
    };
    let ends = |name: &str, ends: [f64; 2]| -> Answer<[Number; 2]> {
        let list = numbers(name, &ends)?;
        list.try_into()
            .map_err(|_other_length: Vec<Number>| too_few())
    };
    let slope_interval = ends("slope", [low, high])?;
    let intercept_interval = ends("intercept", [intercept(high), intercept(low)])?;
    let inside = |value: u8, [low, high]: &[Number; 2]| {
        let value = Number(value.into());
        *low <= value && value <= *high
    };
    Ok(PassingBablokFit {
        slope: number("slope", slope)?,
        intercept: number("intercept", intercept(slope))?,
        agrees: inside(1, &slope_interval) && inside(0, &intercept_interval),
        slope_interval,
        intercept_interval,
        slopes: counts.used,
        offset: counts.below,
        ranks: [first, last],
    })
}

/// The mean of the two middle slopes; for an odd number they are one.
fn median_slope(one: f64, other: f64) -> f64 {
    if one.total_cmp(&other).is_eq() {
        one
    } else {
        0.5 * (one + other)
    }
}

struct Counts {
    /// Slopes that are ranked.
    used: usize,
    /// Those below -1.
    below: usize,
    /// Those that are infinite, at the end of the order.
    vertical: usize,
}

/// Points from the smallest x on, so that no difference of x is negative.
struct Pairs {
    x: Vec<f64>,
    y: Vec<f64>,
}

/// Whole multiples of the last place that any of the values has, where floats hold them exactly.
fn whole(x: &[Number], y: &[Number]) -> Option<(Vec<f64>, Vec<f64>)> {
    let places = x
        .iter()
        .chain(y)
        .map(|value| value.0.normalize().scale())
        .max()?;
    let scaled = |value: &Number| {
        let value = value.0.normalize();
        let power = 10_i128.checked_pow(places.checked_sub(value.scale())?)?;
        let whole = value.mantissa().checked_mul(power)?;
        (whole.abs() < 4_503_599_627_370_496).then(|| whole.to_f64())?
    };
    let all = |list: &[Number]| list.iter().map(scaled).collect::<Option<Vec<f64>>>();
    Some((all(x)?, all(y)?))
}

impl Pairs {
    fn new(x: &[Number], y: &[Number]) -> Self {
        // Whole numbers have exact differences, so that a slope of -1 and ties are seen as such.
        let (x, y) = whole(x, y).unwrap_or_else(|| (floats(x), floats(y)));
        let mut points: Vec<(f64, f64)> = x.into_iter().zip(y).collect();
        points.sort_unstable_by(|one, other| {
            one.0.total_cmp(&other.0).then(one.1.total_cmp(&other.1))
        });
        let (x, y) = points.into_iter().unzip();
        Self { x, y }
    }

    /// Each point with the points after it.
    fn rows(&self) -> impl Iterator<Item = (f64, f64, &[f64], &[f64])> {
        let points = self.x.iter().zip(&self.y).enumerate();
        points.map(|(place, (x, y))| {
            let after = place.saturating_add(1);
            let xs = self.x.get(after..).unwrap_or_default();
            let ys = self.y.get(after..).unwrap_or_default();
            (*x, *y, xs, ys)
        })
    }

    fn count(&self) -> Counts {
        let (mut used, mut below, mut vertical) = (0_usize, 0_usize, 0_usize);
        for (x, y, xs, ys) in self.rows() {
            for (other_x, other_y) in xs.iter().zip(ys) {
                let (dx, dy) = (other_x - x, other_y - y);
                let upright = dx <= 0.0;
                let left_out = (dy + dx).abs() <= 0.0;
                used += usize::from(!left_out);
                below += usize::from(dy < -dx && !upright);
                vertical += usize::from(upright && !left_out);
            }
        }
        Counts {
            used,
            below,
            vertical,
        }
    }

    /// Slopes of a spread-out sample of the pairs, in order.
    fn sample(&self) -> Vec<f64> {
        let n = self.x.len();
        let mut slopes = Vec::new();
        // Steps through the points that share no rhythm with their order.
        for step in 1..=12_usize {
            let stride = step.saturating_mul(step).saturating_mul(7919) % n;
            for place in 0..n {
                let other = place.saturating_add(stride.max(1)) % n;
                let (low, high) = (place.min(other), place.max(other));
                let at = |list: &[f64], place: usize| list.get(place).copied().unwrap_or_default();
                let dx = at(&self.x, high) - at(&self.x, low);
                let dy = at(&self.y, high) - at(&self.y, low);
                if dx > 0.0 && (dy + dx).abs() > 0.0 {
                    slopes.push(dy / dx);
                }
            }
        }
        slopes.sort_unstable_by(f64::total_cmp);
        slopes
    }

    /// The slopes of these ranks, from 1, in rising order.
    fn ranked(&self, ranks: &[usize; 4], counts: &Counts) -> Answer<[f64; 4]> {
        let finite = counts.used.saturating_sub(counts.vertical);
        if ranks.iter().any(|rank| *rank > finite) {
            let why = "half of the slopes, or the end of the interval, are vertical";
            return Err(StatisticsError::pole("slope", why));
        }
        let windows = [
            self.window(ranks, finite),
            (f64::NEG_INFINITY, f64::INFINITY),
        ];
        for window in windows {
            let (below, mut inside) = self.inside(window);
            let places = ranks.map(|rank| rank.checked_sub(below)?.checked_sub(1));
            if places
                .iter()
                .all(|place| place.is_some_and(|place| place < inside.len()))
            {
                let at = |place: Option<usize>| {
                    let place = place?;
                    let (_, found, _) = inside.select_nth_unstable_by(place, f64::total_cmp);
                    Some(*found)
                };
                let found: Option<Vec<f64>> = places.into_iter().map(at).collect();
                if let Some(Ok(found)) = found.map(<[f64; 4]>::try_from) {
                    return Ok(found);
                }
            }
        }
        Err(StatisticsError::unsettled(
            "slope",
            "its rank was not found",
        ))
    }

    /// Two slopes that those of the ranks very likely lie between.
    fn window(&self, ranks: &[usize; 4], finite: usize) -> (f64, f64) {
        let sample = self.sample();
        let slack = 2.5 / size(sample.len().max(1)).sqrt();
        let share = |rank: Option<&usize>| rank.map_or(0.5, |rank| size(*rank) / size(finite));
        let (low, high) = (share(ranks.iter().min()), share(ranks.iter().max()));
        let at = |share: f64| {
            let place = (share * size(sample.len())).floor().to_usize()?;
            sample.get(place).copied()
        };
        (
            at(low - slack).unwrap_or(f64::NEG_INFINITY),
            at(high + slack).unwrap_or(f64::INFINITY),
        )
    }

    /// How many slopes lie below a window, and those inside it.
    fn inside(&self, (low, high): (f64, f64)) -> (usize, Vec<f64>) {
        let mut below = 0_usize;
        let mut inside = Vec::new();
        for (x, y, xs, ys) in self.rows() {
            for (other_x, other_y) in xs.iter().zip(ys) {
                let (dx, dy) = (other_x - x, other_y - y);
                if dx <= 0.0 || (dy + dx).abs() <= 0.0 {
                    continue;
                }
                let under = dy < low * dx;
                below += usize::from(under);
                if !under && dy <= high * dx {
                    inside.push(dy / dx);
                }
            }
        }
        (below, inside)
    }
}
