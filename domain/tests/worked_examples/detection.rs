//! Detection and quantification limits: `06_detection_limits.toml`.

use super::call::{
    line_fit, line_limits, method_detection_limit, pseudo_blank_limits, replicate_limits,
};
use super::case::{Answers, Case, Failure};
use super::gather::Gather;
use domain::quantity::Number;
use domain::statistics::detection::{
    BlankScatter, LineLimitsInput, MethodDetectionInput, PseudoBlankInput, ReplicateBlankInput,
};
use domain::statistics::lines::{LineInput, LineReading, PointWeights};
use rust_decimal::Decimal;

pub(crate) fn compute(case: &Case) -> Result<Answers, Failure> {
    if case.has("a") && case.has("k") {
        return from_line(case);
    }
    if case.has("y0") {
        return inverse(case);
    }
    if case.has("s_y") {
        return pseudo_blanks(case);
    }
    if case.has("s0") {
        return replicates(case);
    }
    if case.expects("MDL") {
        return method_limit(case);
    }
    Err(Failure::Unknown)
}

fn reading(y: Number, replicates: usize) -> LineReading {
    LineReading {
        y,
        replicates: Some(replicates),
        weight: None,
        uncertainty: None,
    }
}

fn line(
    case: &Case,
    readings: Vec<LineReading>,
    confidence: Option<Number>,
) -> Result<domain::statistics::lines::LineFit, Failure> {
    Ok(line_fit(&LineInput {
        x: case.many("x")?,
        y: case.many("y")?,
        weights: PointWeights::Equal,
        origin: None,
        predict_at: vec![],
        readings,
        confidence,
    })?)
}

fn from_line(case: &Case) -> Result<Answers, Failure> {
    let said = line_limits(&LineLimitsInput {
        x: case.many("x")?,
        y: case.many("y")?,
        alpha: case.one("a")?,
        beta: None,
        replicates: Some(case.whole("m")?),
        k: case.maybe("k")?,
        detection: Default::default(),
        quantification: Default::default(),
        limit: None,
    })?;
    let mut answers = Gather::of(case)
        .put("decision_limit", said.decision_limit)
        .put("decision_limit_signal", said.decision_limit_signal)
        .put("detection_limit", said.detection_limit)
        .put("quantification_limit", said.quantification_limit);
    // half_width_99_at_y_3500: the interval of 99 % at a signal of 3500.
    for name in case.expected.keys() {
        let parts: Option<(&str, &str)> = name
            .strip_prefix("half_width_")
            .and_then(|rest| rest.split_once("_at_y_"));
        if let Some((percent, y)) = parts {
            let confidence = Number(percent.parse::<Decimal>()? / Decimal::ONE_HUNDRED);
            let reading = reading(Number(y.parse()?), case.whole("m")?);
            let line = line(case, vec![reading], Some(confidence))?;
            answers = answers.put_some(name, line.readings.first().map(|one| one.half_width));
        }
    }
    Ok(answers.done())
}

fn inverse(case: &Case) -> Result<Answers, Failure> {
    let pairs = case.many("y0")?.into_iter().zip(case.wholes("m")?);
    let line = line(case, pairs.map(|(y, m)| reading(y, m)).collect(), None)?;
    let each = |take: fn(&domain::statistics::lines::InversePrediction) -> Number| {
        line.readings.iter().map(take).collect::<Vec<_>>()
    };
    Ok(Gather::of(case)
        .put_each("x0", each(|one| one.x))
        .put_each("s_x0", each(|one| one.uncertainty))
        .put_each("half_width", each(|one| one.half_width))
        .done())
}

fn pseudo_blanks(case: &Case) -> Result<Answers, Failure> {
    let said = pseudo_blank_limits(&PseudoBlankInput {
        signals: BlankScatter::StandardDeviation(case.one("s_y")?),
        slope: case.one("b")?,
        detection_factor: None,
        quantification_ratio: None,
    })?;
    Ok(Gather::of(case)
        .put("LOD", said.lod)
        .put("LOQ", said.loq)
        .done())
}

fn replicates(case: &Case) -> Result<Answers, Failure> {
    let with = |blank_replicates: Option<usize>| {
        replicate_limits(&ReplicateBlankInput {
            scatter: BlankScatter::StandardDeviation(case.one("s0")?),
            replicates: case.whole("n")?,
            blank_replicates,
            detection_factor: None,
            quantification_factor: None,
        })
        .map_err(Failure::from)
    };
    let (plain, corrected) = (with(None)?, with(Some(case.whole("n_b")?))?);
    Ok(Gather::of(case)
        .put("LOD_no_blank_correction", plain.lod)
        .put("LOQ_no_blank_correction", plain.loq)
        .put("LOD_with_blank_correction", corrected.lod)
        .put("LOQ_with_blank_correction", corrected.loq)
        .done())
}

fn method_limit(case: &Case) -> Result<Answers, Failure> {
    let said = method_detection_limit(&MethodDetectionInput {
        scatter: BlankScatter::StandardDeviation(case.one("s")?),
        replicates: Some(case.whole("n")?),
        confidence: None,
    })?;
    Ok(Gather::of(case).put("MDL", said.limit).done())
}
