//! Means, scatter and order of a list of floats.
//!
//! Promises figures that do not depend on the order of the list: every sum is taken over sorted
//! values. Refuses nothing; the callers say how many values they need.

use super::door::size;

/// The values from smallest to largest.
pub(super) fn sorted(values: &[f64]) -> Vec<f64> {
    let mut sorted = values.to_vec();
    sorted.sort_unstable_by(f64::total_cmp);
    sorted
}

/// The sum, taken in order of size.
pub(super) fn sum(values: &[f64]) -> f64 {
    sorted(values).iter().sum()
}

/// The arithmetic mean of one or more values.
pub(super) fn mean(values: &[f64]) -> f64 {
    sum(values) / size(values.len())
}

/// The sum of squared distances from `centre`.
pub(super) fn squares_about(values: &[f64], centre: f64) -> f64 {
    let squares: Vec<f64> = values.iter().map(|x| (x - centre).powi(2)).collect();
    sum(&squares)
}

/// The variance of two or more values, n - 1 below the line.
pub(super) fn variance(values: &[f64]) -> f64 {
    squares_about(values, mean(values)) / (size(values.len()) - 1.0)
}

/// The standard deviation of two or more values, n - 1 below the line.
pub(super) fn deviation(values: &[f64]) -> f64 {
    variance(values).sqrt()
}

/// The middle one of one or more values, or the mean of the two middle ones.
pub(super) fn median(values: &[f64]) -> f64 {
    quantile(&sorted(values), 0.5, QuantileRule::Linear)
}

/// How a quantile between two ordered values is interpolated.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum QuantileRule {
    /// Position 1 + (n - 1) p: type 7 of Hyndman and Fan, American Statistician 50 (1996) 361.
    Linear,
    /// Position (n + 1) p: type 6 there.
    Weibull,
    /// Position (n + 1/3) p + 1/3: type 8 there.
    MedianUnbiased,
}

/// A quantile of ordered values.
pub(super) fn quantile(ordered: &[f64], p: f64, rule: QuantileRule) -> f64 {
    let n = size(ordered.len());
    let position = match rule {
        QuantileRule::Linear => (n - 1.0) * p,
        QuantileRule::Weibull => (n + 1.0) * p - 1.0,
        QuantileRule::MedianUnbiased => (n + 1.0 / 3.0) * p - 2.0 / 3.0,
    };
    let position = position.clamp(0.0, (n - 1.0).max(0.0));
    // The place is found by counting, so that no float is made an index.
    let below = (0..ordered.len())
        .rfind(|at| size(*at) <= position)
        .unwrap_or(0);
    let share = position - size(below);
    let at = |place: usize| ordered.get(place).copied();
    match (at(below), at(below.saturating_add(1))) {
        (Some(low), Some(high)) if share > 0.0 => low + share * (high - low),
        (Some(low), _) => low,
        (None, _) => f64::NAN,
    }
}
