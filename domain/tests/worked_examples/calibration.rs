//! Straight lines and method comparison: `09_linear_calibration.toml`.

use super::call::{deming, line_fit, passing_bablok};
use super::case::{Answers, Case, Failure};
use super::gather::Gather;
use domain::quantity::Number;
use domain::statistics::comparison::{DemingErrors, DemingInput, PassingBablokInput};
use domain::statistics::lines::{LineFit, LineInput, LineReading, PointWeights};

pub(crate) fn compute(case: &Case) -> Result<Answers, Failure> {
    if case.has("u_x") && case.has("u_y") {
        return known_errors(case);
    }
    if case.has("confidence") && case.expects("offset_K") {
        return ranks(case);
    }
    if case.has("t") && case.has("t0") {
        return correction(case);
    }
    if case.has("u_y") {
        return known_uncertainties(case);
    }
    if case.has("k") {
        return one_ratio(case);
    }
    if case.has("y0") {
        return field_test(case);
    }
    if case.expects("b1") {
        return plain(case);
    }
    Err(Failure::Unknown)
}

struct Asked {
    weights: PointWeights,
    origin: Option<Number>,
    predict_at: Vec<Number>,
    readings: Vec<LineReading>,
    confidence: Option<Number>,
}

impl Default for Asked {
    fn default() -> Self {
        Self {
            weights: PointWeights::Equal,
            origin: None,
            predict_at: vec![],
            readings: vec![],
            confidence: None,
        }
    }
}

fn line(case: &Case, (x, y): (&str, &str), asked: Asked) -> Result<LineFit, Failure> {
    Ok(line_fit(&LineInput {
        x: case.many(x)?,
        y: case.many(y)?,
        weights: asked.weights,
        origin: asked.origin,
        predict_at: asked.predict_at,
        readings: asked.readings,
        confidence: asked.confidence,
    })?)
}

fn plain(case: &Case) -> Result<Answers, Failure> {
    let line = line(case, ("x", "y"), Asked::default())?;
    Ok(Gather::of(case)
        .put("b0", line.intercept)
        .put("b1", line.slope)
        .put("se_b0", line.u_intercept)
        .put("se_b1", line.u_slope)
        .put_some("residual_s", line.residual_s)
        .put_some("r_squared", line.r_squared)
        .done())
}

fn correction(case: &Case) -> Result<Answers, Failure> {
    let asked = Asked {
        origin: case.maybe("t0")?,
        predict_at: case.many("predict_t")?,
        ..Asked::default()
    };
    let line = line(case, ("t", "b"), asked)?;
    let at = line.predictions.first();
    Ok(Gather::of(case)
        .put("y1", line.intercept)
        .put("y2", line.slope)
        .put_some("s", line.residual_s)
        .put("u_y1", line.u_intercept)
        .put("u_y2", line.u_slope)
        .put_some("r", line.correlation)
        .put_some("correction_30", at.map(|at| at.y))
        .put_some("u_correction_30", at.map(|at| at.uncertainty))
        .done())
}

fn known_uncertainties(case: &Case) -> Result<Answers, Failure> {
    let reading = LineReading {
        y: case.one("y0")?,
        replicates: None,
        weight: None,
        uncertainty: case.maybe("u_y0")?,
    };
    let asked = Asked {
        weights: PointWeights::KnownUncertainties(case.many("u_y")?),
        readings: vec![reading],
        ..Asked::default()
    };
    let line = line(case, ("x", "y"), asked)?;
    let read = line.readings.first();
    Ok(Gather::of(case)
        .put("a", line.intercept)
        .put("b", line.slope)
        .put("u_a", line.u_intercept)
        .put("u_b", line.u_slope)
        .put("cov", line.covariance)
        .put("chi_squared", line.residual_sum)
        .put_some("x0", read.map(|read| read.x))
        .put_some("u_x0", read.map(|read| read.uncertainty))
        .done())
}

fn field_test(case: &Case) -> Result<Answers, Failure> {
    let reading = LineReading {
        y: case.one("y0")?,
        replicates: None,
        weight: None,
        uncertainty: None,
    };
    let asked = Asked {
        readings: vec![reading],
        confidence: case.maybe("coverage")?,
        ..Asked::default()
    };
    let line = line(case, ("x", "y"), asked)?;
    let read = line.readings.first();
    let mut answers = Gather::of(case)
        .put_some("x0", read.map(|read| read.x))
        .put_some("se", read.map(|read| read.uncertainty));
    for name in case.expected.keys() {
        if name.starts_with("inversion_") {
            answers = answers.put_some(name, read.map(|read| read.inversion.to_vec()));
        } else if name.starts_with("wald_") {
            answers = answers.put_some(name, read.map(|read| read.wald.to_vec()));
        }
    }
    Ok(answers.done())
}

fn comparison(
    case: &Case,
    errors: DemingErrors,
) -> Result<domain::statistics::comparison::DemingFit, Failure> {
    Ok(deming(&DemingInput {
        x: case.many("x")?,
        y: case.many("y")?,
        errors,
        confidence: None,
    })?)
}

fn known_errors(case: &Case) -> Result<Answers, Failure> {
    let line = comparison(
        case,
        DemingErrors::Known {
            u_x: case.many("u_x")?,
            u_y: case.many("u_y")?,
        },
    )?;
    let across = line.x_on_y.map(|across| across.to_vec());
    let pair = vec![line.intercept, line.slope];
    let answers = Gather::of(case)
        .put("deming_intercept_slope", pair)
        .put_some("mean_squared_scaled_residual", line.mean_scaled_residual)
        .put("ols_y_on_x", line.y_on_x.to_vec())
        .put_some("wls_y_on_x", line.weighted_y_on_x.map(|pair| pair.to_vec()));
    Ok(answers.put_some("ols_x_on_y", across).done())
}

fn one_ratio(case: &Case) -> Result<Answers, Failure> {
    let line = comparison(case, DemingErrors::VarianceRatio(case.one("k")?))?;
    Ok(Gather::of(case)
        .put("slope", line.slope)
        .put("intercept", line.intercept)
        .done())
}

fn ranks(case: &Case) -> Result<Answers, Failure> {
    let line = passing_bablok(&PassingBablokInput {
        x: case.many("x")?,
        y: case.many("y")?,
        confidence: case.maybe("confidence")?,
    })?;
    Ok(Gather::of(case)
        .put("slope", line.slope)
        .put("intercept", line.intercept)
        .put("slope_interval", line.slope_interval.to_vec())
        .put("intercept_interval", line.intercept_interval.to_vec())
        .put("slopes", line.slopes)
        .put("offset_K", line.offset)
        .done())
}
