//! The fits: a thousand logistic curves, and the slopes between 2,000 pairs.
//!
//! Promises the random cases of `tests/compared`, as its script reads them; refuses a case that
//! the domain does not fit.

use std::{
    hint::black_box,
    time::{Duration, Instant},
};

use domain::{
    quantity::Number,
    statistics::{
        comparison::{PassingBablokInput, passing_bablok},
        logistic::{LogisticFitInput, fit_logistic},
    },
};
use rust_decimal::prelude::ToPrimitive as _;

use super::{Failure, rounds::Task};

/// A thousand curves.
pub(crate) struct Fits(Vec<LogisticFitInput>);

impl Fits {
    /// Reads the cases: five hundred, each fitted twice.
    pub(crate) fn new() -> Result<Self, Failure> {
        let mut curves: Vec<LogisticFitInput> = Vec::new();
        for line in include_str!("../../../tests/compared/logistic.jsonl").lines() {
            let case: serde_json::Value = serde_json::from_str(line)?;
            let input = case.get("input").ok_or("a case without input")?;
            curves.push(serde_json::from_value(input.clone())?);
        }
        Ok(Self(curves.iter().cycle().take(1_000).cloned().collect()))
    }
}

impl Task for Fits {
    fn name(&self) -> &'static str {
        "a thousand logistic fits, beside SciPy's curve_fit"
    }

    fn command(&self) -> &'static str {
        "fits"
    }

    fn aim(&self) -> u32 {
        20
    }

    fn once(&mut self) -> Result<(Duration, Vec<f64>), Failure> {
        let begun = Instant::now();
        let fits: Vec<_> = self
            .0
            .iter()
            .map(|input| fit_logistic(black_box(input)))
            .collect();
        let time = begun.elapsed();
        let mut figures = Vec::with_capacity(8_000);
        for fit in fits {
            let fit = fit?;
            for one in [&fit.slope, &fit.lower, &fit.upper, &fit.centre] {
                figures.push(float(one.value)?);
                figures.push(float(one.se_gauss_newton)?);
            }
        }
        Ok((time, figures))
    }

    /// SciPy ends where a step changes little: its parameters are good to a ten-thousandth of
    /// their standard error, those to three figures and more.
    fn differing(&self, ours: &[f64], theirs: &[f64]) -> Option<String> {
        if ours.len() != theirs.len() {
            return Some(format!("{} and {} figures", ours.len(), theirs.len()));
        }
        let pairs = ours.chunks(2).zip(theirs.chunks(2)).enumerate();
        pairs.into_iter().find_map(|(place, both)| {
            let ([value, error], [library, library_error]) = both else {
                return Some("a parameter without its error".to_owned());
            };
            let most = (2e-5 * library.abs()).max(1e-4 * library_error);
            let apart = (value - library).abs() > most
                || (error - library_error).abs() > 5e-4 * library_error;
            apart.then(|| {
                format!(
                    "curve {}: {value} ± {error} here, {library} ± {library_error} there",
                    place / 4
                )
            })
        })
    }
}

/// Passing and Bablok's line.
pub(crate) struct Slopes(PassingBablokInput);

impl Slopes {
    /// Reads the pairs.
    pub(crate) fn new() -> Result<Self, Failure> {
        let pairs = include_str!("../../../tests/compared/pairs.json");
        Ok(Self(serde_json::from_str(pairs)?))
    }
}

impl Task for Slopes {
    fn name(&self) -> &'static str {
        "Passing-Bablok of 2,000 pairs, beside NumPy"
    }

    fn command(&self) -> &'static str {
        "slopes"
    }

    fn aim(&self) -> u32 {
        3
    }

    fn once(&mut self) -> Result<(Duration, Vec<f64>), Failure> {
        let begun = Instant::now();
        let line = passing_bablok(black_box(&self.0));
        let time = begun.elapsed();
        let line = line?;
        let [low, high] = line.slope_interval;
        let figures = [line.slope, line.intercept, low, high].map(float);
        Ok((time, figures.into_iter().collect::<Result<_, _>>()?))
    }

    /// The same ranks of the same slopes; the domain's figures are rounded to twelve.
    fn differing(&self, ours: &[f64], theirs: &[f64]) -> Option<String> {
        let same = ours.len() == theirs.len()
            && ours
                .iter()
                .zip(theirs)
                .all(|(one, other)| (one - other).abs() <= 1e-9 * other.abs().max(1.0));
        (!same).then(|| format!("{ours:?} here, {theirs:?} there"))
    }
}

fn float(number: Number) -> Result<f64, Failure> {
    Ok(number.0.to_f64().ok_or("a number that no float is near")?)
}
