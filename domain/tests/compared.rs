//! Computes every random case of `tests/compared/` and compares it with SciPy and statsmodels.
//!
//! Prints for each topic how many cases ran and how many agreed; fails for one that does not, and
//! for a topic of fewer than 500.
#![expect(clippy::panic, clippy::unwrap_used, reason = "tests may panic")]
#![expect(
    clippy::disallowed_types,
    reason = "the other library's figures are floats"
)]

use domain::quantity::Number;
use domain::statistics::censored::{
    CensoredInput, KaplanMeierInput, OrderStatisticsInput, kaplan_meier, lognormal_likelihood,
    regression_on_order_statistics,
};
use domain::statistics::comparison::{DemingInput, deming};
use domain::statistics::distributions::{DistributionQuestion, distribution};
use domain::statistics::lines::{LineInput, line_fit};
use domain::statistics::logistic::{LogisticFitInput, fit_logistic};
use domain::statistics::precision::{PrecisionStudy, precision_study};
use domain::statistics::proportions::{ProportionInput, proportion};
use domain::statistics::robust::{RobustInput, robust_figures};
use rust_decimal::prelude::ToPrimitive;
use serde::de::DeserializeOwned;
use serde_json::Value;
use std::io::Write;
use std::path::Path;

/// What is compared in one case: a name, what the domain gave, what the library gave, and how far
/// they may be apart, relative to the library's or absolute, whichever is more.
struct Compared(Vec<(String, f64, f64, f64, f64)>);

impl Compared {
    fn close(self, name: &str, got: Number, expected: &Value, relative: f64) -> Self {
        self.within(name, got, expected, (relative, 1e-12))
    }

    fn within(mut self, name: &str, got: Number, expected: &Value, most: (f64, f64)) -> Self {
        let (got, expected) = (got.0.to_f64().unwrap(), expected.as_f64().unwrap());
        self.0
            .push((name.to_owned(), got, expected, most.0, most.1));
        self
    }

    fn all(mut self, name: &str, got: &[Number], expected: &Value, relative: f64) -> Self {
        let expected = expected.as_array().unwrap();
        assert_eq!(got.len(), expected.len(), "{name}");
        for (got, expected) in got.iter().zip(expected) {
            self = self.close(name, *got, expected, relative);
        }
        self
    }

    fn wrong(&self) -> Vec<String> {
        let far = self
            .0
            .iter()
            .filter(|(_, got, expected, relative, absolute)| {
                let most = absolute.max(relative * expected.abs());
                (got - expected).abs() > most
            });
        far.map(|(name, got, expected, ..)| format!("{name} is {got}, the library says {expected}"))
            .collect()
    }
}

fn none() -> Compared {
    Compared(Vec::new())
}

/// Parameters at a minimum that the library found to so many figures, absolute or relative.
fn each(mut to: Compared, got: &[Number], expected: &Value, most: f64) -> Compared {
    for (got, expected) in got.iter().zip(expected.as_array().unwrap()) {
        to = to.within("parameter", *got, expected, (most, most));
    }
    to
}

fn read<T: DeserializeOwned>(value: &Value) -> T {
    serde_json::from_value(value.clone()).unwrap()
}

fn member<'a>(case: &'a Value, name: &str) -> &'a Value {
    case.get(name).unwrap_or(&Value::Null)
}

/// Runs a topic's cases, says how many agreed, and fails unless all did.
fn topic(name: &str, compute: fn(&Value) -> Result<Compared, String>) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../tests/compared");
    let text = std::fs::read_to_string(path.join(format!("{name}.jsonl"))).unwrap();
    let (mut ran, mut agreed, mut problems) = (0, 0, Vec::new());
    for line in text.lines() {
        let case: Value = serde_json::from_str(line).unwrap();
        ran += 1;
        let wrong = match compute(&case) {
            Ok(compared) => compared.wrong(),
            Err(refusal) => vec![refusal],
        };
        if wrong.is_empty() {
            agreed += 1;
        } else {
            problems.push(format!("case {ran}: {}", wrong.join("; ")));
        }
    }
    // Past the capture of the test runner, so that every run says what it covered.
    let written = writeln!(
        std::io::stdout(),
        "{name}: {ran} cases ran, {agreed} agreed"
    );
    assert!(written.is_ok(), "standard output is closed");
    assert!(ran >= 500, "{name}: only {ran} cases");
    let shown: Vec<&String> = problems.iter().take(12).collect();
    assert!(
        problems.is_empty(),
        "{} of {ran}: {shown:#?}",
        problems.len()
    );
}

fn said(error: &domain::statistics::StatisticsError) -> String {
    error.to_string()
}

#[test]
fn probabilities_and_quantiles_agree() {
    topic("distributions", |case| {
        let question: DistributionQuestion = serde_json::from_value(serde_json::json!({
            "of": member(case, "of"), "at": member(case, "at")
        }))
        .unwrap();
        let answer = distribution(&question).map_err(|error| said(&error))?;
        // SciPy integrates the studentized range to about nine figures, and finds its own
        // quantiles of it, and of the non-central t, to about seven.
        let kind = member(member(case, "of"), "distribution").as_str().unwrap();
        let (tail, value) = match kind {
            "range-of-normal" => (1e-8, 1e-6),
            "noncentral-t" => (1e-8, 1e-7),
            "normal" => (1e-11, 1e-11),
            _ => (1e-9, 1e-9),
        };
        Ok(if case.get("tails").is_some() {
            none().all(
                "tails",
                &[answer.below, answer.above],
                member(case, "tails"),
                tail,
            )
        } else {
            none().close("quantile", answer.value, member(case, "value"), value)
        })
    });
}

#[test]
fn intervals_of_shares_agree() {
    topic("proportions", |case| {
        let input: ProportionInput = read(member(case, "input"));
        let share = proportion(&input).map_err(|error| said(&error))?;
        Ok(none()
            .all("wilson", &share.wilson, member(case, "wilson"), 1e-9)
            .all("exact", &share.exact, member(case, "exact"), 1e-8))
    });
}

#[test]
fn lines_agree() {
    topic("regression", |case| {
        let input: LineInput = read(member(case, "input"));
        let line = line_fit(&input).map_err(|error| said(&error))?;
        let at = line.predictions.first().unwrap();
        Ok(none()
            .all(
                "parameters",
                &[line.intercept, line.slope],
                member(case, "parameters"),
                1e-8,
            )
            .all(
                "errors",
                &[line.u_intercept, line.u_slope],
                member(case, "errors"),
                1e-8,
            )
            .close(
                "covariance",
                line.covariance,
                member(case, "covariance"),
                1e-8,
            )
            .close(
                "s",
                line.residual_s.unwrap(),
                member(case, "residual_s"),
                1e-8,
            )
            .close(
                "r squared",
                line.r_squared.unwrap(),
                member(case, "r_squared"),
                1e-8,
            )
            .all(
                "prediction",
                &[at.y, at.uncertainty],
                member(case, "prediction"),
                1e-8,
            ))
    });
}

#[test]
fn lines_with_errors_on_both_axes_agree() {
    topic("deming", |case| {
        let input: DemingInput = read(member(case, "input"));
        let line = deming(&input).map_err(|error| said(&error))?;
        let sum = line.scaled_residual_sum.unwrap();
        // The minimum is flat: parameters are as good as the root of what the sum is good to.
        Ok(each(
            none(),
            &[line.intercept, line.slope],
            member(case, "parameters"),
            2e-6,
        )
        .close("sum", sum, member(case, "sum"), 1e-9))
    });
}

#[test]
fn logistic_curves_agree() {
    topic("logistic", |case| {
        let input: LogisticFitInput = read(member(case, "input"));
        let fit = fit_logistic(&input).map_err(|error| said(&error))?;
        let all = [&fit.slope, &fit.lower, &fit.upper, &fit.centre];
        let values = all.map(|one| one.value);
        let errors = all.map(|one| one.se_gauss_newton);
        // SciPy's derivatives are differences: its minimum is good to six figures or so, its
        // standard errors to fewer.
        let expected = member(case, "errors").as_array().unwrap();
        let expected = expected.iter().map(|error| error.as_f64().unwrap());
        let near = values
            .iter()
            .zip(member(case, "parameters").as_array().unwrap());
        let mut compared = none();
        for ((value, library), error) in near.zip(expected) {
            compared = compared.within("parameter", *value, library, (2e-5, 1e-4 * error));
        }
        Ok(compared
            .all("errors", &errors, member(case, "errors"), 1e-4)
            .close("sum", fit.residual_sum, member(case, "residual_sum"), 1e-8))
    });
}

#[test]
fn robust_means_agree() {
    topic("robust", |case| {
        let input: RobustInput = read(member(case, "input"));
        let figures = robust_figures(&input).map_err(|error| said(&error))?;
        let robust = [figures.robust_mean, figures.robust_standard_deviation];
        let quartiles = [figures.lower_quartile, figures.upper_quartile];
        let classical = [figures.arithmetic_mean, figures.standard_deviation];
        Ok(none()
            .all("robust", &robust, member(case, "robust"), 1e-9)
            .close("median", figures.median, member(case, "median"), 1e-10)
            .close(
                "scaled MAD",
                figures.scaled_mad,
                member(case, "scaled_mad"),
                1e-10,
            )
            .all("quartiles", &quartiles, member(case, "quartiles"), 1e-10)
            .close(
                "nIQR",
                figures.normalised_iqr,
                member(case, "normalised_iqr"),
                1e-10,
            )
            .all("classical", &classical, member(case, "classical"), 1e-10))
    });
}

#[test]
fn estimates_of_censored_results_agree() {
    topic("survival", |case| {
        let input: KaplanMeierInput = read(member(case, "input"));
        let estimate = kaplan_meier(&input).map_err(|error| said(&error))?;
        let steps: Vec<Number> = estimate.steps.iter().map(|step| step.value).collect();
        let below: Vec<Number> = estimate.steps.iter().map(|step| step.below).collect();
        let values = input.values;
        let likely = lognormal_likelihood(&CensoredInput {
            values: values.clone(),
        })
        .map_err(|error| said(&error))?;
        let likely = [likely.mean_log, likely.standard_deviation_log];
        let mut compared = each(none(), &likely, member(case, "likelihood"), 1e-6)
            .all("steps", &steps, member(case, "steps"), 1e-12)
            .all("below", &below, member(case, "below"), 1e-10);
        if let Some(expected) = case.get("ros") {
            let regression = regression_on_order_statistics(&OrderStatisticsInput {
                values,
                plotting_constant: None,
                above_largest: Default::default(),
            })
            .map_err(|error| said(&error))?;
            let figures = [regression.mean, regression.standard_deviation];
            compared = compared.all("ros", &figures, expected, 1e-8);
        }
        Ok(compared)
    });
}

#[test]
fn analyses_of_variance_agree() {
    topic("variance", |case| {
        let study: PrecisionStudy =
            serde_json::from_value(serde_json::json!({ "levels": member(case, "levels") }))
                .unwrap();
        let levels = precision_study(&study).map_err(|error| said(&error))?;
        let Some(level) = levels.first() else {
            panic!("no level");
        };
        Ok(none()
            .close("F", level.f.unwrap(), member(case, "f"), 1e-8)
            .close("p", level.p_value.unwrap(), member(case, "p"), 1e-8))
    });
}
