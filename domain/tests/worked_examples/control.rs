//! Control charts and run rules: `05_control_charts.toml`.

use super::call::{
    average_run_length, cusum_chart, ewma_chart, factors_of, individuals_chart, multirule,
    range_limits,
};
use super::case::{Answers, Case, Failure};
use super::gather::Gather;
use domain::quantity::Number;
use domain::statistics::control::{
    ControlFactors, ControlFactorsInput, ControlRule, CusumInput, CusumUnit, DuplicateRangeInput,
    EwmaInput, EwmaLimits, IndividualsInput, MultiruleInput, RunLengthInput, RunRule,
};

pub(crate) fn compute(case: &Case) -> Result<Answers, Failure> {
    if case.expects("d2") {
        return factors(case);
    }
    if case.has("lambda") {
        return ewma(case);
    }
    if case.has("k") && case.has("h") {
        return cusum(case);
    }
    if case.has("rules") {
        return run_lengths(case);
    }
    if case.has("x") && case.has("mean") && case.has("s") {
        return rules(case);
    }
    if case.has("s_r") {
        return ranges(case);
    }
    if case.has("x") {
        return individuals(case);
    }
    Err(Failure::Unknown)
}

fn factors(case: &Case) -> Result<Answers, Failure> {
    let all = case
        .wholes("n")?
        .into_iter()
        .map(|n| factors_of(&ControlFactorsInput { n }))
        .collect::<Result<Vec<_>, _>>()?;
    let each = |take: fn(&ControlFactors) -> Number| all.iter().map(take).collect::<Vec<_>>();
    Ok(Gather::of(case)
        .put("d2", each(|f| f.d2))
        .put("d3", each(|f| f.d3))
        .put("c4", each(|f| f.c4))
        .put("A2", each(|f| f.a2))
        .put("A3", each(|f| f.a3))
        .put("D3", each(|f| f.range_lower))
        .put("D4", each(|f| f.range_upper))
        .put("B3", each(|f| f.deviation_lower))
        .put("B4", each(|f| f.deviation_upper))
        .done())
}

fn ewma(case: &Case) -> Result<Answers, Failure> {
    let chart = ewma_chart(&EwmaInput {
        values: case.many("x")?,
        target: case.one("target")?,
        lambda: case.one("lambda")?,
        s: case.one("s")?,
        k: case.maybe("k")?,
        limits: EwmaLimits::Constant,
    })?;
    Ok(Gather::of(case)
        .put("ewma", chart.averages)
        .put("UCL", chart.long_run_upper)
        .put("LCL", chart.long_run_lower)
        .done())
}

fn cusum(case: &Case) -> Result<Answers, Failure> {
    let chart = cusum_chart(&CusumInput {
        values: case.many("x")?,
        target: case.one("target")?,
        k: case.one("k")?,
        h: case.one("h")?,
        unit: CusumUnit::OfValues,
        s: None,
        head_start: None,
    })?;
    Ok(Gather::of(case)
        .put("S_high", chart.high)
        .put("S_low", chart.low)
        .put_some("first_signal", chart.first_signal)
        .done())
}

fn rules(case: &Case) -> Result<Answers, Failure> {
    let first = case.has("first_number").then(|| case.whole("first_number"));
    let said = multirule(&MultiruleInput {
        values: case.many("x")?,
        means: case.many("mean")?,
        standard_deviations: case.many("s")?,
        first_number: first.transpose()?,
        runs: vec![],
        rules: vec![],
        dated_at: domain::statistics::control::RuleDate::Completing,
    })?;
    let mut answers = Gather::of(case);
    for signals in said.signals {
        let name = match signals.rule {
            ControlRule::OneBeyondTwo => "rule_1_2s_warning",
            ControlRule::OneBeyondThree => "rule_1_3s",
            ControlRule::TwoBeyondTwo => "rule_2_2s",
            ControlRule::RangeBeyondFour => "rule_R_4s",
            ControlRule::FourBeyondOne => "rule_4_1s",
            ControlRule::EightOnOneSide => "rule_8_x",
            ControlRule::TenOnOneSide => "rule_10_x",
        };
        answers = answers.put(name, signals.dated_at);
    }
    Ok(answers.done())
}

fn run_lengths(case: &Case) -> Result<Answers, Failure> {
    let mut lengths = Vec::new();
    for text in case.texts("rules")? {
        let named = |name: &str| match name {
            "1" => Ok(RunRule::OneBeyondThree),
            "2" => Ok(RunRule::TwoOfThreeBeyondTwo),
            "3" => Ok(RunRule::FourOfFiveBeyondOne),
            "4" => Ok(RunRule::EightOnOneSide),
            _ => Err(Failure::Because(format!("no rule {name}"))),
        };
        let rules = text.split('+').map(named).collect::<Result<_, _>>()?;
        let said = average_run_length(&RunLengthInput { rules, shift: None })?;
        lengths.push(said.average_run_length);
    }
    Ok(Gather::of(case).put("ARL_0", lengths).done())
}

fn ranges(case: &Case) -> Result<Answers, Failure> {
    let said = range_limits(&DuplicateRangeInput {
        s_r: case.one("s_r")?,
        replicates: None,
        ranges: vec![],
    })?;
    Ok(Gather::of(case)
        .put("central", said.central)
        .put("warning", said.warning)
        .put("action", said.action)
        .done())
}

fn individuals(case: &Case) -> Result<Answers, Failure> {
    let chart = individuals_chart(&IndividualsInput {
        values: case.many("x")?,
        baseline: None,
        span: None,
        factors: domain::statistics::control::ChartFactors::Table,
    })?;
    Ok(Gather::of(case)
        .put("mean", chart.individuals.centre)
        .put("mean_moving_range", chart.ranges.centre)
        .put("UCL", chart.individuals.upper)
        .put("LCL", chart.individuals.lower)
        .put("UCL_moving_range", chart.ranges.upper)
        .done())
}
