//! From facts to a result: rules number 1, which those of number 2 add to.

use rust_decimal::Decimal;

use crate::decisions::{Finding, Measured, Method, decide_each};
use crate::dilution::Factor;
use crate::id::ProcedureId;
use crate::kit_lots::KitLotEntry;
use crate::quantity::Unit;
use crate::versions::{SubjectVersion, in_order};

use super::content::{
    ComputedResult, Concern, Needs, ProcedureUsed, RunUse, UncertaintyPlace, Use,
};
use super::due::settle;
use super::inputs::{Facts, ResultInputs};
use super::over_range::{contradictions, highest_bound};
use super::range::over_range;
use super::replicates::{Replicates, together};
use super::report::reported_text;
use super::rules_2::{self, BudgetSource};
use super::uses::{Usable, concerns, sort_out};

/// No rules of this number were ever released.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error(
    "rules number {number} are not known; the newest are number {}",
    newest()
)]
pub struct UnknownRules {
    /// The number that was asked for.
    pub number: u32,
}

const fn newest() -> u32 {
    super::NEWEST_RULES
}

/// Computes by the rules of today.
///
/// ```
/// use domain::procedures::ProcedureEntry;
/// use domain::results::{Facts, Needs, OrderFacts, ResultInputs, RunFacts, compute};
/// use domain::runs::{Origin, Run, RunContext, RunEntry};
/// use domain::versions::SubjectVersion;
/// let procedure: ProcedureEntry =
///     serde_json::from_str(include_str!("../procedures/example.json"))?;
/// let entry: RunEntry = serde_json::from_str(include_str!("../runs/example.json"))?;
/// let (sample, worked_by) = (entry.sample.unwrap(), entry.procedure.unwrap());
/// // 12.5 µg/kg were read after 100 µL + 500 µL.
/// let run = Run::record(entry, &RunContext { ports: Some(3) }, vec![Origin::bench()])?;
/// let id = "019ca869-5020-7d46-b59c-6cf85cca57e4".parse()?;
/// let facts = [RunFacts { id, version: 1, run: &run, expanded_uncertainty: None }];
/// let source = SubjectVersion { subject: worked_by.0, version: 3 };
/// let mut inputs = ResultInputs {
///     sample,
///     analyte: procedure.analytes[0].analyte,
///     purpose: Default::default(),
///     order: OrderFacts {
///         number_wanted: false,
///         rule: domain::decisions::DecisionRule::Simple,
///     },
///     procedure: Some(Facts { source, content: &procedure }),
///     kit_lots: &[],
///     runs: &facts,
///     limits: &[],
///     conditions: &Default::default(),
///     moisture_percent: None,
///     recorded_bases: &[],
///     uncertainty: None,
///     pipettes: &[],
///     evidence: &domain::results::BudgetEvidence::default(),
///     other_sources: &[],
/// };
/// let result = compute(&inputs);
/// assert_eq!(result.reported.as_deref(), Some("75.0"));
/// assert_eq!(result.concentration.unwrap().to_string(), "75.000000");
/// inputs.runs = &[];
/// assert_eq!(compute(&inputs).needs, Some(Needs::Run), "no run, no result");
/// assert!(domain::results::compute_by(3, &inputs).is_err(), "rules 3 are not written");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[must_use]
pub fn compute(inputs: &ResultInputs<'_>) -> ComputedResult {
    by(inputs, Some(inputs.evidence))
}

/// Computes by the rules that a record names, so that a verifier gets what was got then.
///
/// # Errors
/// [`UnknownRules`].
pub fn compute_by(rules: u32, inputs: &ResultInputs<'_>) -> Result<ComputedResult, UnknownRules> {
    match rules {
        1 => Ok(by(inputs, None)),
        2 => Ok(by(inputs, Some(inputs.evidence))),
        number => Err(UnknownRules { number }),
    }
}

/// What the usable runs come to.
pub(super) struct Outcome {
    pub(super) finding: Finding,
    /// Unrounded, where the finding is a number.
    pub(super) value: Option<Decimal>,
    pub(super) factor: Factor,
    pub(super) replicates: Option<Replicates>,
}

/// Computes by rules number 1, or, with evidence of budgets, by rules number 2.
pub(super) fn by(inputs: &ResultInputs<'_>, evidence: Option<&dyn BudgetSource>) -> ComputedResult {
    let sorted = sort_out(inputs);
    let mut usable: Vec<Usable<'_>> = sorted.iter().filter_map(|one| one.clone().ok()).collect();
    let mut result = blank(inputs);
    let mut looked_at = Vec::new();
    if let Some(evidence) = evidence {
        result.rules = 2;
        rules_2::doubt_diluted(&mut usable, inputs, evidence, &mut looked_at);
    }
    result.concerns = contradictions(&usable);
    let outcome = outcome(&usable, inputs);
    result.runs = sorted
        .into_iter()
        .map(|one| match (one, &outcome) {
            (Ok(run), Some(outcome)) => placed(&run, outcome, &usable),
            (Ok(run), None) => used(&run, Use::Uncomputable),
            (Err(unused), _) => unused,
        })
        .collect();
    let Some(outcome) = outcome else {
        result.needs = Some(Needs::Run);
        return result;
    };
    let standing: Vec<&Usable<'_>> = usable
        .iter()
        .filter(|run| placed(run, &outcome, &usable).standing)
        .collect();
    result.finding = Some(outcome.finding);
    result.factor = Some(outcome.factor);
    result.concentration = outcome.finding.quantified();
    result.over_range_bound = over_range(outcome.finding);
    result.range = standing
        .first()
        .and_then(|run| run.range.scaled(run.factor).ok());
    result.replicates = outcome.replicates;
    result.concerns.extend(disagreements(&standing));
    report(&mut result, &outcome, inputs);
    match evidence {
        Some(evidence) => {
            let first = standing.first().map(|run| run.id);
            rules_2::complete(&mut result, first, inputs, evidence, &mut looked_at);
        }
        None => decide(&mut result, inputs),
    }
    settle(&mut result, &outcome, &usable, &standing, inputs, looked_at);
    result
}

/// The result before any run was looked at.
fn blank(inputs: &ResultInputs<'_>) -> ComputedResult {
    let runs = inputs
        .runs
        .iter()
        .filter(|facts| concerns(facts.run, inputs.analyte));
    let mut from: Vec<SubjectVersion> = runs
        .clone()
        .map(|facts| SubjectVersion {
            subject: facts.id.0,
            version: facts.version,
        })
        .collect();
    let named = |facts: &&Facts<'_, KitLotEntry>| {
        runs.clone()
            .any(|run| run.run.entry.kit_lot.map(|id| id.0) == Some(facts.source.subject))
    };
    from.extend(
        inputs
            .kit_lots
            .iter()
            .filter(named)
            .map(|facts| facts.source),
    );
    from.extend(inputs.procedure.map(|facts| facts.source));
    from.extend(inputs.other_sources);
    ComputedResult {
        sample: inputs.sample,
        analyte: inputs.analyte,
        purpose: inputs.purpose,
        from: in_order(from),
        rules: 1,
        procedure: inputs.procedure.map(|facts| ProcedureUsed {
            id: ProcedureId(facts.source.subject),
            version: facts.source.version,
        }),
        runs: Vec::new(),
        needs: None,
        finding: None,
        concentration: None,
        reported: None,
        unit: Unit::UgPerKg,
        factor: None,
        range: None,
        replicates: None,
        uncertainty: inputs.uncertainty.map(|known| UncertaintyPlace {
            expanded: known.expanded,
            coverage_factor: known.coverage_factor,
            lines: Vec::new(),
        }),
        lot: None,
        decisions: Vec::new(),
        over_range_bound: None,
        next_dilution: None,
        concerns: Vec::new(),
    }
}

/// The lowest dilution in range; where there is none, the highest lower bound.
fn outcome(usable: &[Usable<'_>], inputs: &ResultInputs<'_>) -> Option<Outcome> {
    let repeatability = inputs
        .procedure
        .and_then(|facts| facts.content.repeatability.as_ref());
    if let Some(factor) = lowest_in_range(usable) {
        let seen: Vec<_> = usable
            .iter()
            .filter(|run| run.factor == factor)
            .map(|run| run.seen)
            .collect();
        let (finding, value, replicates) = together(&seen, repeatability, factor)?;
        return Some(Outcome {
            finding,
            value,
            factor,
            replicates: (replicates.determinations > 1).then_some(replicates),
        });
    }
    let (bound, factor) = highest_bound(usable)?;
    Some(Outcome {
        finding: Finding::Above { bound },
        value: None,
        factor,
        replicates: None,
    })
}

/// The lowest factor at which no run is over range. Above the lowest one used, at least one run
/// must give a number there: a dilution that sees nothing is not in range.
fn lowest_in_range(usable: &[Usable<'_>]) -> Option<Factor> {
    let lowest = usable.iter().map(|run| run.factor).min()?;
    let at = |factor: Factor| usable.iter().filter(move |run| run.factor == factor);
    usable
        .iter()
        .map(|run| run.factor)
        .filter(|factor| at(*factor).all(|run| over_range(run.seen.finding).is_none()))
        .filter(|factor| {
            *factor == lowest || at(*factor).any(|run| run.seen.finding.quantified().is_some())
        })
        .min()
}

/// What becomes of a usable run under an outcome.
fn placed(run: &Usable<'_>, outcome: &Outcome, usable: &[Usable<'_>]) -> RunUse {
    let bound = over_range(run.seen.finding);
    let why = if run.factor == outcome.factor && bound == over_range(outcome.finding) {
        Use::Stands
    } else if bound.is_some() {
        Use::OverRange
    } else if run.factor > outcome.factor && over_range(outcome.finding).is_none() {
        Use::LowerDilutionInRange
    } else if usable
        .iter()
        .any(|other| other.factor < run.factor && over_range(other.seen.finding).is_some())
    {
        Use::DilutedTooFar
    } else {
        Use::ReplicateOverRange
    };
    used(run, why)
}

fn used(run: &Usable<'_>, why: Use) -> RunUse {
    RunUse {
        run: run.id,
        standing: why == Use::Stands,
        why,
        factor: run.factor,
        finding: Some(run.seen.finding),
    }
}

fn disagreements(standing: &[&Usable<'_>]) -> Vec<Concern> {
    let of = |run: &&Usable<'_>| {
        let id = run.id;
        run.run
            .disagreements()
            .into_iter()
            .map(move |disagreement| Concern::DilutionDisagreement {
                run: id,
                disagreement,
            })
    };
    standing.iter().flat_map(of).collect()
}

fn report(result: &mut ComputedResult, outcome: &Outcome, inputs: &ResultInputs<'_>) {
    // Without a procedure there is no rule to round by, and nothing is reported.
    let Some(procedure) = inputs.procedure else {
        return;
    };
    match reported_text(outcome.finding, outcome.value, procedure.content.rounding) {
        Ok(text) => result.reported = Some(text),
        Err(error) => result.concerns.push(Concern::Unreportable {
            reason: error.to_string(),
        }),
    }
}

fn decide(result: &mut ComputedResult, inputs: &ResultInputs<'_>) {
    let Some(finding) = result.finding else {
        return;
    };
    result.decisions = decide_each(
        &measured(inputs, finding),
        &inputs.order.rule,
        inputs.limits,
        inputs.conditions,
    );
}

/// A finding as decisions take it.
pub(super) fn measured(inputs: &ResultInputs<'_>, finding: Finding) -> Measured {
    Measured {
        analyte: inputs.analyte,
        finding,
        uncertainty: inputs.uncertainty,
        method: Method::Strip,
        moisture_percent: inputs.moisture_percent,
        recorded_bases: inputs.recorded_bases.to_vec(),
        cut_off: inputs
            .procedure
            .and_then(|facts| facts.content.cut_off_of(inputs.analyte)),
    }
}
