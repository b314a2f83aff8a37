//! Roots of a function of one variable, by the kept library's method of Brent.

use argmin::core::{CostFunction, Error, Executor, State};
use argmin::solver::brent::BrentRoot;

use super::error::{Answer, StatisticsError};

struct Root<F>(F);

impl<F: Fn(f64) -> f64> CostFunction for Root<F> {
    type Param = f64;
    type Output = f64;

    fn cost(&self, at: &f64) -> Result<f64, Error> {
        Ok((self.0)(*at))
    }
}

/// Where a continuous function between two ends of unlike sign is zero.
pub(super) fn root(
    quantity: &str,
    (low, high): (f64, f64),
    function: impl Fn(f64) -> f64,
) -> Answer<f64> {
    let why =
        |error: &dyn std::fmt::Display| StatisticsError::unsettled(quantity, error.to_string());
    let found = Executor::new(Root(function), BrentRoot::new(low, high, 1e-15))
        .configure(|state| state.max_iters(500))
        .timer(false)
        .run()
        .map_err(|error| why(&error))?;
    let state = found.state();
    state
        .get_param()
        .copied()
        .filter(|at| at.is_finite() && state.get_iter() < 500)
        .ok_or_else(|| why(&"no root was found in 500 steps"))
}

/// A bracket of a rising function's zero, widened from a first guess.
pub(super) fn bracket_rising(
    quantity: &str,
    guess: f64,
    width: f64,
    function: impl Fn(f64) -> f64,
) -> Answer<(f64, f64)> {
    let (mut low, mut high, mut step) = (guess - width, guess + width, width);
    for _ in 0..200 {
        let (below, above) = (function(low) <= 0.0, function(high) >= 0.0);
        if below && above {
            return Ok((low, high));
        }
        step *= 2.0;
        if !below {
            low -= step;
        }
        if !above {
            high += step;
        }
    }
    Err(StatisticsError::unsettled(
        quantity,
        "no two values could be found that it lies between",
    ))
}
