//! Screening statistics: `10_screening_statistics.toml`.

use super::call::{cut_off_figures, distribution, proportion, test_worth, tolerance_factor};
use super::case::{Answers, Case, Failure};
use super::gather::Gather;
use domain::quantity::Number;
use domain::statistics::distributions::{Distribution, DistributionAsked, DistributionQuestion};
use domain::statistics::proportions::{ConfusionCounts, Proportion, ProportionInput};
use domain::statistics::screening::{CutOffInput, ResponseDirection, ResponseSummary, TableOfT};
use domain::statistics::tolerance::ToleranceInput;
use rust_decimal::Decimal;

pub(crate) fn compute(case: &Case) -> Result<Answers, Failure> {
    if case.has("response") {
        return cut_off(case);
    }
    if case.has("TP") {
        return worth(case);
    }
    if case.has("content") {
        return tolerance(case);
    }
    if case.has("df") {
        return student(case);
    }
    if case.has("x") && case.has("n") {
        return shares(case);
    }
    Err(Failure::Unknown)
}

fn shares(case: &Case) -> Result<Answers, Failure> {
    let whole = |number: Number| Ok::<u32, Failure>(u32::try_from(number.0)?);
    let confidence = case.maybe("confidence")?;
    let pairs = case.many("x")?.into_iter().zip(case.many("n")?);
    let all = pairs
        .map(|(positives, tested)| {
            let input = ProportionInput {
                positives: whole(positives)?,
                tested: whole(tested)?,
                confidence,
            };
            Ok(proportion(&input)?)
        })
        .collect::<Result<Vec<Proportion>, Failure>>()?;
    let each = |take: fn(&Proportion) -> Number| all.iter().map(take).collect::<Vec<_>>();
    let first = all.first();
    Ok(Gather::of(case)
        .put_each("lower", each(|one| one.wilson[0]))
        .put_each("upper", each(|one| one.wilson[1]))
        .put_some("two_sided", first.map(|one| one.wilson.to_vec()))
        .put_some("exact_two_sided", first.map(|one| one.exact.to_vec()))
        .put_some("upper_one_sided", first.map(|one| one.wilson_upper))
        .put_some("lower_one_sided", first.map(|one| one.wilson_lower))
        .done())
}

fn worth(case: &Case) -> Result<Answers, Failure> {
    let said = test_worth(&ConfusionCounts {
        true_positives: case.count("TP")?,
        false_positives: case.count("FP")?,
        false_negatives: case.count("FN")?,
        true_negatives: case.count("TN")?,
        confidence: case.maybe("confidence")?,
    })?;
    let share = |one: &Option<Proportion>| one.as_ref().map(|one| one.share);
    let interval = |one: &Option<Proportion>| one.as_ref().map(|one| one.wilson.to_vec());
    Ok(Gather::of(case)
        .put_some("sensitivity", share(&said.sensitivity))
        .put_some("specificity", share(&said.specificity))
        .put_some("false_negative_rate", share(&said.false_negative_rate))
        .put_some("false_positive_rate", share(&said.false_positive_rate))
        .put_some("PPV", share(&said.positive_predictive_value))
        .put_some("NPV", share(&said.negative_predictive_value))
        .put("accuracy", said.accuracy.share)
        .put_some("sensitivity_wilson", interval(&said.sensitivity))
        .put_some("specificity_wilson", interval(&said.specificity))
        .done())
}

fn student(case: &Case) -> Result<Answers, Failure> {
    let each = |degrees_of_freedom: Number| {
        let question = DistributionQuestion {
            of: Distribution::StudentT { degrees_of_freedom },
            at: DistributionAsked::Probability(Number(Decimal::new(95, 2))),
        };
        Ok(distribution(&question)?.value)
    };
    let quantiles = case.many("df")?.into_iter().map(each);
    let quantiles = quantiles.collect::<Result<Vec<Number>, Failure>>()?;
    Ok(Gather::of(case).put_each("t", quantiles).done())
}

fn cut_off(case: &Case) -> Result<Answers, Failure> {
    let of = |kind: &str| {
        Ok::<ResponseSummary, Failure>(ResponseSummary {
            n: case.whole(&format!("n_{kind}"))?,
            mean: case.one(&format!("mean_{kind}"))?,
            standard_deviation: case.one(&format!("sd_{kind}"))?,
        })
    };
    let response = match case.text("response")? {
        "falling" => ResponseDirection::Falling,
        "rising" => ResponseDirection::Rising,
        other => return Err(Failure::Because(format!("no response {other}"))),
    };
    let said = cut_off_figures(&CutOffInput {
        response,
        at_target: of("stc")?,
        blank: of("blank")?,
        table: TableOfT::Exact,
    })?;
    Ok(Gather::of(case)
        .put("t", said.t)
        .put("cut_off", said.cut_off)
        .put("t_blank", said.t_blank)
        .put("false_suspect_rate", said.false_suspect_rate)
        .done())
}

fn tolerance(case: &Case) -> Result<Answers, Failure> {
    let each = |n: usize| {
        Ok(tolerance_factor(&ToleranceInput {
            n,
            content: case.one("content")?,
            confidence: case.one("confidence")?,
        })?)
    };
    let factors = case.wholes("n")?.into_iter().map(each);
    let factors = factors.collect::<Result<Vec<_>, Failure>>()?;
    Ok(Gather::of(case)
        .put_each("k", factors.iter().map(|one| one.k).collect())
        .put_each(
            "noncentral_t",
            factors.iter().map(|one| one.noncentral_t).collect(),
        )
        .done())
}
