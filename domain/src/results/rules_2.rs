//! Rules number 2: results with their budgets, line by line, and decisions by rules number 2.
//!
//! Promises that everything but uncertainty and decisions is as by rules number 1. A result whose
//! procedure states no precision keeps the uncertainty that it came with, and no budget is made
//! up for it; a bound has none.

use rust_decimal::Decimal;

use crate::decisions::{MethodEvidence, Uncertainty, decide_each_by_rules_2};
use crate::procedures::PrecisionModel;
use crate::quantity::{Concentration, Number, computed};
use crate::uncertainty::Coverage;
use crate::uncertainty::bias::BiasEvidence;
use crate::uncertainty::dilution::{DeliveredVolume, UncertainStep};
use crate::uncertainty::doubt::Doubt;
use crate::uncertainty::of_result::{
    LotVariances, PrecisionParts, ResultBudget, ResultBudgetInputs, WeighedMass, result_budget,
};
use crate::uncertainty::product::NamedDoubt;

use super::compute::{by_rules_1, measured};
use super::content::{ComputedResult, KeptBudgetLine, UncertaintyPlace};
use super::inputs::ResultInputs;

/// What the budget of a result is made of beside its procedure's precision.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct BudgetEvidence {
    /// What control material showed of the procedure's bias.
    pub bias: Option<BiasEvidence>,
    /// The steps of the dilution that the result stands on, with the doubts of their volumes.
    pub dilution: Vec<UncertainStep>,
    /// The test portion and the doubts of its mass.
    pub test_portion: Option<WeighedMass>,
    /// The extraction liquid and the doubts of its volume.
    pub liquid: Option<DeliveredVolume>,
    /// The recovery that the procedure has corrected for already, and its standard uncertainty.
    pub corrected_recovery: Option<(Number, Number)>,
    /// Further lines, about the value in µg/kg.
    pub further: Vec<NamedDoubt>,
    /// Variances before the analysis; they take no part in a decision.
    pub lot: Option<LotVariances>,
    /// How the combined uncertainty is expanded.
    pub coverage: Coverage,
    /// What decisions know of the method.
    pub method: MethodEvidence,
}

/// Computes a result by rules number 2.
///
/// ```
/// use domain::results::{BudgetEvidence, ResultInputs, compute_by_rules_2};
/// fn budgeted(inputs: &ResultInputs<'_>) -> bool {
///     let result = compute_by_rules_2(inputs, &BudgetEvidence::default());
///     result.rules == 2 && result.uncertainty.is_some_and(|known| !known.lines.is_empty())
/// }
/// ```
#[must_use]
pub fn compute_by_rules_2(inputs: &ResultInputs<'_>, evidence: &BudgetEvidence) -> ComputedResult {
    let first = by_rules_1(inputs);
    let budget = budget_of(&first, inputs, evidence);
    let known = budget.as_ref().map(|budget| budget.uncertainty);
    let inputs = ResultInputs {
        uncertainty: known.or(inputs.uncertainty),
        ..inputs.clone()
    };
    let mut result = if known.is_some() {
        by_rules_1(&inputs)
    } else {
        first
    };
    result.rules = 2;
    if let Some(budget) = &budget {
        result.uncertainty = Some(place(budget));
    }
    if let Some(finding) = result.finding {
        result.decisions = decide_each_by_rules_2(
            &measured(&inputs, finding),
            &evidence.method,
            &inputs.order.rule,
            inputs.limits,
            inputs.conditions,
        );
    }
    result
}

/// The budget of a number whose procedure states its precision; nothing where it cannot be made.
fn budget_of(
    result: &ComputedResult,
    inputs: &ResultInputs<'_>,
    evidence: &BudgetEvidence,
) -> Option<ResultBudget> {
    let found = result.concentration?;
    let procedure = inputs.procedure?.content;
    let (precision, repeatability) = (procedure.precision, procedure.repeatability);
    precision.or(repeatability)?;
    let mut further = evidence.further.clone();
    further.extend(recovery_line(evidence)?);
    let budget = result_budget(&ResultBudgetInputs {
        found_ug_per_kg: Number(found.ug_per_kg()),
        dilution_factor: Number(result.factor?.apply(Decimal::ONE).ok()?),
        determinations: result
            .replicates
            .map_or(1, |replicates| replicates.determinations),
        precision: precision.map(parts),
        repeatability: repeatability.map(parts),
        bias: evidence.bias,
        dilution: evidence.dilution.clone(),
        test_portion: evidence.test_portion.clone(),
        liquid: evidence.liquid.clone(),
        recovery: None,
        further,
        lot: evidence.lot,
        coverage: evidence.coverage,
    });
    budget.ok()
}

fn parts(model: PrecisionModel) -> PrecisionParts {
    PrecisionParts {
        constant_ug_per_kg: Number(model.constant.ug_per_kg()),
        proportional: model.proportional,
    }
}

/// The line of a recovery that was corrected for: u(R)/R of the value. The outer nothing is a
/// recovery that cannot be divided by.
fn recovery_line(evidence: &BudgetEvidence) -> Option<Option<NamedDoubt>> {
    let Some((recovery, standard)) = evidence.corrected_recovery else {
        return Some(None);
    };
    if recovery.0 <= Decimal::ZERO {
        return None;
    }
    Some(Some(NamedDoubt {
        source: "recovery".to_owned(),
        doubt: Doubt::Standard {
            standard: Number(standard.0.checked_div(recovery.0)?),
            relative: true,
        },
        degrees_of_freedom: None,
    }))
}

/// The budget as it is kept with the result.
fn place(budget: &ResultBudget) -> UncertaintyPlace {
    let Uncertainty {
        expanded,
        coverage_factor,
    } = budget.uncertainty;
    let lines = budget
        .analysis
        .lines
        .iter()
        .map(|line| KeptBudgetLine {
            source: line.source.clone(),
            stated: line.stated.clone(),
            contribution: Concentration::from_ug_per_kg(computed(line.contribution.0)),
            share_percent: Number(computed(line.share_percent.0)),
        })
        .collect();
    UncertaintyPlace {
        expanded,
        coverage_factor,
        lines,
    }
}
