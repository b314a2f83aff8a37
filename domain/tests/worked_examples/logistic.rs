//! Four-parameter logistic calibration: `08_four_parameter_logistic.toml`.

use super::call::{fit_logistic, logistic_inverse};
use super::case::{Answers, Case, Failure};
use super::gather::Gather;
use domain::quantity::Number;
use domain::statistics::logistic::{
    CurveAxis, Estimate, LogisticCurve, LogisticFit, LogisticFitInput, LogisticInverseInput,
};
use rust_decimal::Decimal;

pub(crate) fn compute(case: &Case) -> Result<Answers, Failure> {
    if case.has("s_y") && case.has("e") {
        return inverse(case);
    }
    if case.has("start_1") {
        return growth(case);
    }
    if case.expects("b") && case.expects("e") {
        return doses(case);
    }
    if case.expects("three_parameters_Asym_xmid_scal") {
        return standard_curve(case);
    }
    Err(Failure::Unknown)
}

fn fit(
    case: &Case,
    axis: CurveAxis,
    lower: Option<Decimal>,
    effects: &[i64],
) -> Result<LogisticFit, Failure> {
    Ok(fit_logistic(&LogisticFitInput {
        x: case.many("x")?,
        y: case.many("y")?,
        weights: vec![],
        axis,
        fixed_lower: lower.map(Number),
        fixed_upper: None,
        effects_percent: effects.iter().map(|e| Number(Decimal::from(*e))).collect(),
        readings: vec![],
        confidence: None,
        errors: Default::default(),
        turning_allowed_percent: None,
    })?)
}

fn values(estimates: &[&Estimate]) -> Vec<Number> {
    estimates.iter().map(|one| one.value).collect()
}

fn hessian(estimates: &[&Estimate]) -> Vec<Number> {
    estimates.iter().map(|one| one.se_hessian).collect()
}

fn gauss_newton(estimates: &[&Estimate]) -> Vec<Number> {
    estimates.iter().map(|one| one.se_gauss_newton).collect()
}

fn doses(case: &Case) -> Result<Answers, Failure> {
    let fit = fit(case, CurveAxis::Logarithmic, None, &[10, 50, 90])?;
    let all = [&fit.slope, &fit.lower, &fit.upper, &fit.midpoint];
    let doses: Vec<&Estimate> = fit.effective_doses.iter().map(|dose| &dose.x).collect();
    let middle = fit
        .effective_doses
        .get(1)
        .map(|dose| dose.interval.to_vec());
    Ok(Gather::of(case)
        .put("b", fit.slope.value)
        .put("c", fit.lower.value)
        .put("d", fit.upper.value)
        .put("e", fit.midpoint.value)
        .put("se_hessian", hessian(&all))
        .put("se_gauss_newton", gauss_newton(&all))
        .put("residual_s", fit.residual_s)
        .put("rss", fit.residual_sum)
        .put("ed10_50_90", values(&doses))
        .put("ed_se_hessian", hessian(&doses))
        .put("ed_se_gauss_newton", gauss_newton(&doses))
        .put_some("ed50_95_interval", middle)
        .done())
}

fn standard_curve(case: &Case) -> Result<Answers, Failure> {
    let three = fit(case, CurveAxis::Logarithmic, Some(Decimal::ZERO), &[])?;
    let four = fit(case, CurveAxis::Logarithmic, None, &[])?;
    let of_three = [&three.upper, &three.centre, &three.scale];
    let of_four = [&four.lower, &four.upper, &four.centre, &four.scale];
    Ok(Gather::of(case)
        .put("three_parameters_Asym_xmid_scal", values(&of_three))
        .put("three_se", gauss_newton(&of_three))
        .put("three_residual_s", three.residual_s)
        .put("four_parameters_A_B_xmid_scal", values(&of_four))
        .put("four_residual_s", four.residual_s)
        .done())
}

fn growth(case: &Case) -> Result<Answers, Failure> {
    let fit = fit(case, CurveAxis::Linear, Some(Decimal::ZERO), &[])?;
    let rate = Number(-fit.slope.value.0);
    let errors = [&fit.upper, &fit.offset, &fit.slope];
    Ok(Gather::of(case)
        .put("b", vec![fit.upper.value, fit.offset.value, rate])
        .put("se", gauss_newton(&errors))
        .put("rss", fit.residual_sum)
        .put("residual_s", fit.residual_s)
        .done())
}

fn inverse(case: &Case) -> Result<Answers, Failure> {
    let read = logistic_inverse(&LogisticInverseInput {
        curve: LogisticCurve {
            lower: case.one("c")?,
            upper: case.one("d")?,
            slope: case.one("b")?,
            midpoint: case.one("e")?,
            axis: CurveAxis::Logarithmic,
        },
        y: case.many("y")?,
        s_y: case.maybe("s_y")?,
        replicates: None,
    })?;
    let errors: Vec<Number> = read.iter().filter_map(|one| one.se_from_reading).collect();
    Ok(Gather::of(case)
        .put_each("x", read.iter().map(|one| one.x).collect())
        .put_each("se_from_reading_only", errors)
        .done())
}
