//! Recovery and combination of replicates: QUAM A4, weighted means, random effects, EU window.

use rust_decimal::Decimal;
use serde_json::json;

use domain::uncertainty::combination::WeightedMean;
use domain::uncertainty::product::ComputedProduct;

use super::call::{
    correct, product, random_effects, recovery_test, replicate_mean, report, weighted_mean,
};
use super::case::{Answers, Case, Failure, given, written};

pub(crate) fn compute(case: &Case) -> Result<Answers, Failure> {
    match case.id.as_str() {
        "quam-a4-pesticide-recovery" => pesticide(case),
        "taylor-weighted-average" => {
            let mean = weighted(case)?;
            let reported = report(&given(json!({"value": mean.mean, "figures": 1,
                "uncertainty": mean.standard_uncertainty}))?)?;
            let text = reported.text.unwrap_or_default();
            Ok(Answers::default()
                .put("mean", mean.mean)
                .put("u_mean", mean.standard_uncertainty)
                .put("reported", text))
        }
        "vangel-rukhin-fibre-in-apples" => fibre(case),
        "recovery-correction-eu-window" => {
            let found = correct(&given(json!({
                "found": written(case, "found")?,
                "standard_uncertainty": written(case, "u_found")?,
                "recovery": written(case, "recovery")?,
                "recovery_standard_uncertainty": written(case, "u_recovery")?,
            }))?)?;
            Ok(Answers::default()
                .put("corrected", found.value)
                .put("u_corrected", found.standard_uncertainty)
                .put("correction_needed", found.needed))
        }
        "mean-of-replicates-not-independent" => {
            let found = replicate_mean(&given(json!({
                "repeatability": written(case, "s_r")?,
                "determinations": case.count("n")?,
                "common": written(case, "u_common")?,
            }))?)?;
            Ok(Answers::default()
                .put("u_mean", found.standard_uncertainty)
                .put("wrong_if_all_divided", found.wrong_if_all_divided))
        }
        "weighted-mean-two-dilutions" => {
            let mean = weighted(case)?;
            Ok(Answers::default()
                .put("mean", mean.mean)
                .put("u_mean", mean.standard_uncertainty)
                .put("difference_in_u", mean.largest_difference))
        }
        _ => Err(Failure::Unknown),
    }
}

fn weighted(case: &Case) -> Result<WeightedMean, Failure> {
    let results: Vec<_> = case
        .numbers("x")?
        .iter()
        .zip(case.numbers("u")?)
        .map(|(x, u)| json!({"value": x.to_string(), "standard_uncertainty": u.to_string()}))
        .collect();
    Ok(weighted_mean(&given(json!({"results": results}))?)?)
}

/// The budget of the corrected result: the mean of duplicates, bias by the recovery, and
/// inhomogeneity, all relative.
fn corrected(case: &Case, of_recovery: Decimal) -> Result<ComputedProduct, Failure> {
    let inputs = json!({"factors": [{"name": "result", "value": written(case, "result_mg_per_kg")?,
        "doubts": [
            {"source": "precision", "doubt": {"kind": "deviation", "relative": true,
                "standard_deviation": written(case, "duplicate_relative_sd")?,
                "observations": 2}},
            {"source": "bias", "doubt": {"kind": "standard", "relative": true,
                "standard": of_recovery.to_string()}},
            {"source": "inhomogeneity", "doubt": {"kind": "standard", "relative": true,
                "standard": written(case, "inhomogeneity_relative")?}}]}]});
    Ok(product(&given(inputs)?)?)
}

fn pesticide(case: &Case) -> Result<Answers, Failure> {
    let test = recovery_test(&given(json!({
        "recovery": written(case, "recovery")?,
        "standard_deviation": written(case, "recovery_sd")?,
        "determinations": case.count("n")?,
    }))?)?;
    let result = corrected(case, test.relative.0)?;
    let value = case.number("result_mg_per_kg")?;
    let precision = result.budget.lines.first();
    let precision = precision.ok_or_else(|| Failure::Because("no line".into()))?;
    Ok(Answers::default()
        .put("u_recovery", test.standard_uncertainty)
        .put("t", test.t)
        .put("t_crit", test.critical_t)
        .put("significant", test.significant)
        .put("relative_precision", precision.contribution.0 / value)
        .put("relative_bias", test.relative)
        .put("relative_combined", result.relative)
        .put("u_mg_per_kg", result.budget.combined)
        .put("U_mg_per_kg", result.budget.coverage.expanded))
}

fn fibre(case: &Case) -> Result<Answers, Failure> {
    let (means, deviations) = (case.numbers("mean")?, case.numbers("s")?);
    let counts = case.numbers("n")?;
    let laboratories = means
        .iter()
        .zip(&deviations)
        .zip(&counts)
        .map(|((mean, deviation), count)| {
            Ok(
                json!({"mean": mean.to_string(), "standard_deviation": deviation.to_string(),
                "observations": u32::try_from(*count)?}),
            )
        })
        .collect::<Result<Vec<_>, Failure>>()?;
    let found = random_effects(&given(json!({"laboratories": laboratories}))?)?;
    Ok(Answers::default()
        .put("mean", found.mean)
        .put("between_variance", found.between_variance)
        .put("se_mean", found.standard_error)
        .put("interval_95", found.interval.to_vec()))
}
