//! Left-censored results: `07_left_censored.toml`.

use super::call::{
    kaplan_meier, lognormal_likelihood, regression_on_order_statistics, substitution_bounds,
    toxin_sum,
};
use super::case::{Answers, Case, Failure};
use super::gather::Gather;
use domain::quantity::Number;
use domain::statistics::censored::{
    AboveLargest, BoundConvention, BoundsInput, CensoredInput, CensoredValue, KaplanMeierInput,
    OrderStatisticsInput, RemainingMass, SummedToxin, ToxinSumInput,
};
use rust_decimal::Decimal;

pub(crate) fn compute(case: &Case) -> Result<Answers, Failure> {
    if case.has("toxin") {
        return sum(case);
    }
    if case.has("censored") {
        return estimates(case);
    }
    if case.expects("lower") {
        return bounds(case);
    }
    Err(Failure::Unknown)
}

fn texts(case: &Case) -> Result<Vec<CensoredValue>, Failure> {
    let parsed = |text: &str| Ok(text.parse::<CensoredValue>()?);
    case.texts("value")?.into_iter().map(parsed).collect()
}

fn values(case: &Case) -> Result<Vec<CensoredValue>, Failure> {
    let pairs = case.many("value")?.into_iter().zip(case.flags("censored")?);
    let one = |(value, below)| match below {
        true => CensoredValue::Below(value),
        false => CensoredValue::Known(value),
    };
    Ok(pairs.map(one).collect())
}

fn bounds_of(
    values: Vec<CensoredValue>,
) -> Result<domain::statistics::censored::SubstitutionBounds, Failure> {
    Ok(substitution_bounds(&BoundsInput {
        values,
        convention: BoundConvention::FromZero,
    })?)
}

fn bounds(case: &Case) -> Result<Answers, Failure> {
    let said = bounds_of(texts(case)?)?;
    Ok(Gather::of(case)
        .put("lower", said.lower.mean)
        .put("middle", said.middle.mean)
        .put("upper", said.upper.mean)
        .put("censored_percent", said.censored_percent)
        .done())
}

fn sum(case: &Case) -> Result<Answers, Failure> {
    let rows = case.texts("toxin")?.into_iter().zip(texts(case)?);
    let rows = rows.zip(case.many("recovery_percent")?);
    let said = toxin_sum(&ToxinSumInput {
        toxins: rows
            .map(|((name, value), recovery)| SummedToxin {
                name: name.to_owned(),
                value,
                recovery_percent: Some(recovery),
            })
            .collect(),
        uncorrected_window_percent: None,
    })?;
    Ok(Gather::of(case)
        .put("sum_corrected", said.corrected)
        .put("sum_uncorrected", said.uncorrected)
        .done())
}

fn estimates(case: &Case) -> Result<Answers, Failure> {
    let values = values(case)?;
    let bounds = bounds_of(values.clone())?;
    let km = kaplan_meier(&KaplanMeierInput {
        values: values.clone(),
        remaining_mass: RemainingMass::SmallestLimit,
    })?;
    let mle = lognormal_likelihood(&CensoredInput {
        values: values.clone(),
    })?;
    let ros = |constant: Decimal| {
        regression_on_order_statistics(&OrderStatisticsInput {
            values: values.clone(),
            plotting_constant: Some(Number(constant)),
            above_largest: AboveLargest::LeaveOut,
        })
    };
    let (zero, three_eighths) = (ros(Decimal::ZERO)?, ros(Decimal::new(375, 3))?);
    let three = [bounds.lower.mean, bounds.middle.mean, bounds.upper.mean];
    Ok(Gather::of(case)
        .put("km_mean", km.mean)
        .put_some("km_meanlog", km.mean_log)
        .put_some("km_sdlog", km.standard_deviation_log)
        .put("ros_mean", zero.mean)
        .put("ros_s", zero.standard_deviation)
        .put("ros_meanlog", three_eighths.mean_log)
        .put("ros_sdlog", three_eighths.standard_deviation_log)
        .put("robust_ros_meanlog", three_eighths.robust_mean_log)
        .put(
            "robust_ros_sdlog",
            three_eighths.robust_standard_deviation_log,
        )
        .put("robust_ros_meanlog_constant_0", zero.robust_mean_log)
        .put(
            "robust_ros_sdlog_constant_0",
            zero.robust_standard_deviation_log,
        )
        .put("modelled_values", zero.modelled_values)
        .put("mle_meanlog", mle.mean_log)
        .put("mle_sdlog", mle.standard_deviation_log)
        .put("mle_mean", mle.mean)
        .put("mle_s", mle.standard_deviation)
        .put("mle_median", mle.median)
        .put("lower_middle_upper_bound_mean", three.to_vec())
        .put_some("half_limit_s", bounds.middle.standard_deviation)
        .done())
}
