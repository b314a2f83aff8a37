//! The results on page 1: number with uncertainty and unit, limits, decisions, scale.

use super::{Writer, joined, printed};
use crate::scale::{
    LimitMark, Position, Range, ResultMark, RunMark, Scale, Surface, summary, svg, table,
};
use domain::certificates::{
    AccreditationStatus, CertifiedDecision, CertifiedResult, CertifiedRun, DecisionTerm,
    RunReading, RunUse,
};
use domain::decisions::Finding;
use rust_decimal::Decimal;
use serde::Serialize;

/// A result with its decisions and its scale.
#[derive(Debug, Serialize)]
pub(in crate::certificates) struct ResultView {
    analyte: String,
    sample: String,
    reported: String,
    uncertainty: String,
    unit: String,
    said: String,
    mark: Option<String>,
    decisions: Vec<DecisionView>,
    scale: String,
    scale_words: String,
}

#[derive(Debug, Serialize)]
struct DecisionView {
    decision: String,
    shape: &'static str,
    limit: String,
    value: String,
    rule: String,
    statement: String,
}

impl Writer<'_> {
    pub(super) fn result(&self, (index, result): (usize, &CertifiedResult)) -> ResultView {
        let uncertainty = result.uncertainty.as_ref();
        let recovery = if result.recovery_corrected {
            "corrected for recovery"
        } else {
            "not corrected for recovery"
        };
        let said = match uncertainty {
            Some(it) => format!(
                "expanded uncertainty, k = {}, of {}; {}; {recovery}",
                it.coverage_factor, it.covers, result.basis
            ),
            None => format!("no uncertainty stated; {}; {recovery}", result.basis),
        };
        let scale = scale(&format!("scale-{index}"), result, Surface::Print);
        ResultView {
            analyte: result.analyte_name.clone(),
            sample: self.sample_code(result.sample),
            reported: result.reported.clone(),
            uncertainty: uncertainty
                .map(|it| it.reported.clone())
                .unwrap_or_default(),
            unit: printed(result.unit).to_owned(),
            said,
            mark: match result.accreditation {
                AccreditationStatus::Outside => Some(
                    "This result is outside the scope of the laboratory's accreditation."
                        .to_owned(),
                ),
                AccreditationStatus::Within | AccreditationStatus::NoneClaimed => None,
            },
            decisions: result.decisions.iter().map(decision).collect(),
            scale: svg(&scale),
            scale_words: summary(&scale),
        }
    }
}

/// The scale of a result, for paper or for a page.
fn scale(key: &str, result: &CertifiedResult, surface: Surface) -> Scale {
    Scale {
        key: key.to_owned(),
        analyte: result.analyte_name.clone(),
        unit: printed(result.unit).to_owned(),
        ranges: result
            .ranges
            .iter()
            .map(|range| Range {
                dilution: range.dilution.clone(),
                lod: range.lod,
                loq: range.loq,
                upper: range.upper,
            })
            .collect(),
        runs: result.runs.iter().filter_map(run_mark).collect(),
        result: result_mark(result),
        limits: LimitMark::each_once(
            result
                .decisions
                .iter()
                .filter_map(|decision| limit_mark(result, decision)),
        ),
        surface,
    }
}

/// A result as the check page shows it.
pub(in crate::certificates) struct CheckedResult {
    pub(in crate::certificates) analyte: String,
    pub(in crate::certificates) sample: String,
    pub(in crate::certificates) reported: String,
    pub(in crate::certificates) unit: String,
    pub(in crate::certificates) said: String,
    pub(in crate::certificates) decisions: Vec<CheckedDecision>,
    pub(in crate::certificates) scale: String,
    pub(in crate::certificates) scale_words: String,
    pub(in crate::certificates) scale_table: String,
}

/// A decision as the check page shows it: a word, then a shape, then a colour.
pub(in crate::certificates) struct CheckedDecision {
    pub(in crate::certificates) word: String,
    pub(in crate::certificates) shape: &'static str,
    pub(in crate::certificates) tone: &'static str,
    pub(in crate::certificates) limit: String,
    pub(in crate::certificates) value: String,
    pub(in crate::certificates) rule: String,
    pub(in crate::certificates) rule_words: String,
    pub(in crate::certificates) explanation: String,
}

/// What the check page shows of the results.
pub(super) fn checked(writer: &Writer<'_>) -> Vec<CheckedResult> {
    let certificate = writer.certificate;
    certificate
        .results
        .iter()
        .enumerate()
        .map(|(index, result)| {
            let printed = writer.result((index, result));
            let on_page = scale(&format!("scale-{index}"), result, Surface::Screen);
            CheckedResult {
                analyte: printed.analyte,
                sample: printed.sample,
                reported: printed.reported,
                unit: printed.unit,
                said: printed.said,
                decisions: result.decisions.iter().map(checked_decision).collect(),
                scale: svg(&on_page),
                scale_words: summary(&on_page),
                scale_table: table(&on_page),
            }
        })
        .collect()
}

fn checked_decision(certified: &CertifiedDecision) -> CheckedDecision {
    let shown = decision(certified);
    let (shape, tone) = match certified.decision {
        DecisionTerm::Pass | DecisionTerm::Negative => (CIRCLE, "good"),
        DecisionTerm::Fail | DecisionTerm::Suspect => (SQUARE, "bad"),
        DecisionTerm::ConditionalPass | DecisionTerm::ConditionalFail | DecisionTerm::Undecided => {
            (HALF, "open")
        }
    };
    CheckedDecision {
        word: shown.decision,
        shape,
        tone,
        limit: shown.limit,
        value: certified.limit.value.normalize().to_string(),
        rule: shown.rule,
        rule_words: certified.rule.words.clone(),
        explanation: format!("{} {}", certified.explanation, shown.statement),
    }
}

const CIRCLE: &str = "<svg viewBox=\"0 0 10 10\" aria-hidden=\"true\">\
    <circle cx=\"5\" cy=\"5\" r=\"4\" fill=\"none\" stroke=\"currentColor\" stroke-width=\"2\"/></svg>";
const SQUARE: &str = "<svg viewBox=\"0 0 10 10\" aria-hidden=\"true\">\
    <rect x=\"1\" y=\"1\" width=\"8\" height=\"8\" fill=\"currentColor\"/></svg>";
const HALF: &str = "<svg viewBox=\"0 0 10 10\" aria-hidden=\"true\">\
    <path d=\"M5 1 L9 5 L5 9 L1 5 Z\" fill=\"none\" stroke=\"currentColor\" stroke-width=\"2\"/></svg>";

fn decision(decision: &CertifiedDecision) -> DecisionView {
    let limit = &decision.limit;
    let authority = Some(limit.authority.as_str());
    let authority = authority.filter(|it| !it.eq_ignore_ascii_case(&limit.name));
    let intended_use = Some(limit.intended_use.as_str());
    let intended_use = intended_use.filter(|it| !it.eq_ignore_ascii_case(&limit.name));
    let conformity = decision
        .probability_of_conformity
        .map(|p| format!(" Probability of conformity {}.", likely(p)))
        .unwrap_or_default();
    let of_lot = decision
        .probability_lot_above
        .map(|p| {
            format!(
                " Probability that the whole lot is above the limit {}.",
                likely(p)
            )
        })
        .unwrap_or_default();
    DecisionView {
        decision: decision.decision.words().to_owned(),
        shape: shape(decision.decision),
        limit: joined(
            [
                Some(limit.name.as_str()),
                limit.jurisdiction.as_deref(),
                authority,
                intended_use,
            ],
            " · ",
        ),
        value: format!("{} {}", limit.value.normalize(), printed(limit.unit)),
        rule: decision.rule.code.replace('-', " "),
        statement: format!("{}{conformity}{of_lot}", decision.statement),
    }
}

/// A probability that is kept to six places, never said to be certain.
fn likely(probability: Decimal) -> String {
    if probability.is_zero() {
        "below 0.000001".to_owned()
    } else if probability == Decimal::ONE {
        "above 0.999999".to_owned()
    } else {
        probability.normalize().to_string()
    }
}

fn shape(term: DecisionTerm) -> &'static str {
    match term {
        DecisionTerm::Pass | DecisionTerm::Negative => "open",
        DecisionTerm::ConditionalPass => "quarter",
        DecisionTerm::ConditionalFail => "half",
        DecisionTerm::Fail | DecisionTerm::Suspect => "full",
        DecisionTerm::Undecided => "none",
    }
}

fn run_mark(run: &CertifiedRun) -> Option<RunMark> {
    if run.used == RunUse::NotUsed {
        return None;
    }
    let position = match (run.reading, run.concentration) {
        (RunReading::NotDetected, _) => Position::NotDetected,
        (RunReading::Number { .. }, Some(value)) => Position::At(value),
        (RunReading::Below { .. }, Some(bound)) => Position::Below(bound),
        (RunReading::Above { .. }, Some(bound)) => Position::Above(bound),
        (RunReading::Invalid, _) | (_, None) => return None,
    };
    Some(RunMark {
        dilution: run.factor.label(),
        position,
    })
}

fn result_mark(result: &CertifiedResult) -> Option<ResultMark> {
    let in_unit = |value: domain::quantity::Concentration| {
        value.ug_per_kg().checked_div(result.unit.in_ug_per_kg())
    };
    let position = match result.finding {
        Finding::Quantified { value } => Position::At(in_unit(value)?),
        Finding::NotDetected { below: bound }
        | Finding::DetectedBelow { loq: bound, .. }
        | Finding::Below { bound } => Position::Below(in_unit(bound)?),
        Finding::Above { bound } => Position::Above(in_unit(bound)?),
    };
    Some(ResultMark {
        reported: result.reported.clone(),
        uncertainty: result
            .uncertainty
            .as_ref()
            .map(|it| (it.reported.clone(), it.expanded, it.coverage_factor)),
        position,
    })
}

/// The limit in the result's unit, with the guard band on the side where its rule keeps one.
fn limit_mark(result: &CertifiedResult, decision: &CertifiedDecision) -> Option<LimitMark> {
    let limit = &decision.limit;
    let in_unit = |value: Decimal| {
        value
            .checked_mul(limit.unit.in_ug_per_kg())?
            .checked_div(result.unit.in_ug_per_kg())
    };
    let value = in_unit(limit.value)?;
    let guard = decision.rule.guard_band.and_then(in_unit).and_then(|band| {
        let from = value.checked_sub(band)?.max(Decimal::ZERO);
        let to = value.checked_add(band)?;
        Some(match decision.rule.code.as_str() {
            "guarded-acceptance" => (from, value),
            "guarded-rejection" => (value, to),
            _ => (from, to),
        })
    });
    Some(LimitMark {
        name: limit.name.clone(),
        value,
        guard,
    })
}
