//! Rules number 2: results with their budgets, line by line, and decisions by rules number 2.
//!
//! Promises that everything but uncertainty, decisions and contradictions is as by rules number 1;
//! whether a diluted run contradicts one over range is asked with its uncertainty. A result whose
//! procedure states no precision keeps the uncertainty that it came with, and no budget is made
//! up for it; a bound has none. Where the order asks for it, the doubt of the lot stands beside:
//! it changes neither uncertainty nor decisions.

use rust_decimal::Decimal;

use crate::decisions::{MethodEvidence, Uncertainty, decide_each_by_rules_2};
use crate::dilution::Factor;
use crate::id::RunId;
use crate::procedures::PrecisionModel;
use crate::quantity::exact::{Answer, pole, times};
use crate::quantity::{Concentration, Number, computed};
use crate::sampling_variance::AnalysisVariance;
use crate::uncertainty::Coverage;
use crate::uncertainty::bias::BiasEvidence;
use crate::uncertainty::budget::ComputedLine;
use crate::uncertainty::dilution::{DeliveredVolume, UncertainStep};
use crate::uncertainty::doubt::Doubt;
use crate::uncertainty::of_result::{
    LotVariances, PrecisionParts, ResultBudget, ResultBudgetInputs, WeighedMass, result_budget,
};
use crate::uncertainty::product::NamedDoubt;
use crate::versions::SubjectVersion;

use super::compute::{by, measured};
use super::content::{ComputedResult, KeptBudgetLine, UncertaintyPlace};
use super::inputs::ResultInputs;
use super::lot_doubt::{self, LotDoubt, LotTest};
use super::range::over_range;
use super::uses::Usable;

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

/// Where the evidence of a budget is found.
pub trait BudgetSource: std::fmt::Debug {
    /// What is known of a run and of the procedure; every version that was looked at is added to
    /// `from`. None where nothing says how sure a volume or mass of it is: no budget is made up.
    fn evidence(&self, run: RunId, from: &mut Vec<SubjectVersion>) -> Option<BudgetEvidence>;

    /// How the lot was tested, where the order asks for the doubt of the lot; every version that
    /// was looked at is added to `from`. None where it is not asked for.
    fn lot_test(&self, _run: RunId, _from: &mut Vec<SubjectVersion>) -> Option<LotTest> {
        None
    }
}

/// The same evidence for every run.
impl BudgetSource for BudgetEvidence {
    fn evidence(&self, _run: RunId, _from: &mut Vec<SubjectVersion>) -> Option<BudgetEvidence> {
        Some(self.clone())
    }
}

/// Computes a result by rules number 2, with evidence from elsewhere than the inputs name.
///
/// ```
/// use domain::results::{BudgetEvidence, ResultInputs, compute_by_rules_2};
/// fn budgeted(inputs: &ResultInputs<'_>) -> bool {
///     let result = compute_by_rules_2(inputs, &BudgetEvidence::default());
///     result.rules == 2 && result.uncertainty.is_some_and(|known| !known.lines.is_empty())
/// }
/// ```
#[must_use]
pub fn compute_by_rules_2(
    inputs: &ResultInputs<'_>,
    evidence: &dyn BudgetSource,
) -> ComputedResult {
    by(inputs, Some(evidence))
}

/// A number whose budget is asked for.
pub(super) struct Budgeted {
    /// µg/kg, after dilution.
    pub(super) value: Decimal,
    pub(super) factor: Factor,
    /// How many runs were averaged.
    pub(super) determinations: u32,
    /// The run whose volumes and masses stand for all of them: what a standard allows does not
    /// shrink with the runs.
    pub(super) run: RunId,
}

/// The budget of a number whose procedure states its precision; nothing where it cannot be made.
/// `lot` are the variances before the analysis, where they are asked for.
pub(super) fn budget(
    found: &Budgeted,
    lot: Option<LotVariances>,
    inputs: &ResultInputs<'_>,
    evidence: &dyn BudgetSource,
    from: &mut Vec<SubjectVersion>,
) -> Option<(ResultBudget, MethodEvidence)> {
    let procedure = inputs.procedure?.content;
    let (precision, repeatability) = (procedure.precision, procedure.repeatability);
    precision.or(repeatability)?;
    let evidence = evidence.evidence(found.run, from)?;
    let recovery = recovery_line(&evidence)?;
    let mut further = evidence.further;
    further.extend(recovery);
    let budget = result_budget(&ResultBudgetInputs {
        found_ug_per_kg: Number(found.value),
        dilution_factor: Number(found.factor.apply(Decimal::ONE).ok()?),
        determinations: found.determinations,
        precision: precision.map(parts),
        repeatability: repeatability.map(parts),
        bias: evidence.bias,
        dilution: evidence.dilution,
        test_portion: evidence.test_portion,
        liquid: evidence.liquid,
        recovery: None,
        further,
        lot: lot.or(evidence.lot),
        coverage: evidence.coverage,
    });
    Some((budget.ok()?, evidence.method))
}

/// Gives the numbers of diluted runs their uncertainty, where one of the runs is over range: they
/// may contradict it.
pub(super) fn doubt_diluted(
    usable: &mut [Usable<'_>],
    inputs: &ResultInputs<'_>,
    evidence: &dyn BudgetSource,
    looked_at: &mut Vec<SubjectVersion>,
) {
    if usable
        .iter()
        .all(|run| over_range(run.seen.finding).is_none())
    {
        return;
    }
    for run in usable {
        let quantified = run.seen.finding.quantified();
        if let (None, Some(value)) = (run.expanded_uncertainty, quantified) {
            let value = value.ug_per_kg();
            run.expanded_uncertainty =
                of_run(run.id, value, run.factor, inputs, evidence, looked_at);
        }
    }
}

/// The expanded uncertainty of a single run's number, µg/kg.
fn of_run(
    run: RunId,
    value: Decimal,
    factor: Factor,
    inputs: &ResultInputs<'_>,
    evidence: &dyn BudgetSource,
    from: &mut Vec<SubjectVersion>,
) -> Option<Concentration> {
    let found = Budgeted {
        value,
        factor,
        determinations: 1,
        run,
    };
    let (budget, _) = budget(&found, None, inputs, evidence, from)?;
    Some(budget.uncertainty.expanded)
}

/// Gives a result its budget, and its decisions by rules number 2.
pub(super) fn complete(
    result: &mut ComputedResult,
    first: Option<RunId>,
    inputs: &ResultInputs<'_>,
    evidence: &dyn BudgetSource,
    from: &mut Vec<SubjectVersion>,
) {
    let Some(finding) = result.finding else {
        return;
    };
    let found = (|| {
        Some(Budgeted {
            value: result.concentration?.ug_per_kg(),
            factor: result.factor?,
            determinations: result
                .replicates
                .map_or(1, |replicates| replicates.determinations),
            run: first?,
        })
    })();
    let test = first.and_then(|run| evidence.lot_test(run, from));
    let variances = match (&test, &found) {
        (Some(test), Some(found)) => Some(test.known().and_then(|it| it.variances(found.value))),
        (Some(_), None) => Some(Err("a bound has no budget".to_owned())),
        (None, _) => None,
    };
    let of_lot = variances
        .as_ref()
        .and_then(|found| found.as_ref().ok())
        .copied();
    let mut with = |found: &Budgeted, lot| budget(found, lot, inputs, evidence, from);
    let budget = found.as_ref().and_then(|found| {
        // Sampling that leaves what a decimal holds takes nothing from the analysis.
        with(found, of_lot).or_else(|| of_lot.and_then(|_| with(found, None)))
    });
    let mut measured = measured(inputs, finding);
    let mut method = MethodEvidence::default();
    let mut whole = None;
    if let Some((budget, known)) = budget {
        measured.uncertainty = Some(budget.uncertainty);
        method = known;
        whole = budget.lot.as_ref().map(lot_doubt::place_of);
        result.uncertainty = Some(place(budget));
    }
    result.decisions = decide_each_by_rules_2(
        &measured,
        &method,
        &inputs.order.rule,
        inputs.limits,
        inputs.conditions,
    );
    if let Some(test) = test {
        let declined = variances.and_then(Result::err);
        result.lot = Some(doubt_of_lot(&test, whole, declined, result, inputs));
    }
}

/// The doubt of the lot beside a result whose uncertainty and decisions are there.
fn doubt_of_lot(
    test: &LotTest,
    budget: Option<UncertaintyPlace>,
    declined: Option<String>,
    result: &ComputedResult,
    inputs: &ResultInputs<'_>,
) -> LotDoubt {
    let mut doubt = test.unanswered();
    let unbudgeted = || "the analysis has no budget that sampling could be added to".to_owned();
    doubt.declined = match &budget {
        Some(_) => None,
        None => declined.or_else(|| Some(unbudgeted())),
    };
    doubt.budget = budget;
    if let (Ok(known), Some(finding)) = (test.known(), result.finding) {
        doubt.chances = known.chances(finding, &analysis(result, inputs), result);
        let stated = doubt
            .chances
            .iter()
            .any(|one| one.probability_above.is_some());
        doubt.before = stated.then(|| known.before_in_words());
    }
    doubt
}

/// The variance of the analysis: as the budget has it, else by the procedure's precision.
fn analysis(result: &ComputedResult, inputs: &ResultInputs<'_>) -> Answer<AnalysisVariance> {
    if let (Some(known), Some(value)) = (&result.uncertainty, result.concentration) {
        return lot_doubt::analysis_of(known, value.ug_per_kg());
    }
    let name = "precision";
    let procedure = inputs.procedure.map(|procedure| procedure.content);
    let stated = procedure
        .and_then(|one| one.precision.or(one.repeatability))
        .map(parts)
        .ok_or_else(|| pole(name, "the procedure states none"))?;
    let factor = result.factor.map(|factor| factor.apply(Decimal::ONE));
    let factor = match factor {
        Some(Ok(factor)) => factor,
        Some(Err(_)) | None => Decimal::ONE,
    };
    Ok(AnalysisVariance::Precision {
        constant_ug_per_kg: Number(times(name, stated.constant_ug_per_kg.0, factor)?),
        proportional: stated.proportional,
    })
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
        basis: Some(format!(
            "recovery {recovery}, corrected for by the procedure"
        )),
    }))
}

/// The budget as it is kept with the result.
fn place(budget: ResultBudget) -> UncertaintyPlace {
    let Uncertainty {
        expanded,
        coverage_factor,
    } = budget.uncertainty;
    UncertaintyPlace {
        expanded,
        coverage_factor,
        lines: kept_lines(&budget.analysis.lines),
    }
}

/// The lines of a budget as they are kept.
pub(super) fn kept_lines(lines: &[ComputedLine]) -> Vec<KeptBudgetLine> {
    let kept = lines.iter().map(|line| KeptBudgetLine {
        source: line.source.clone(),
        stated: line.stated.clone(),
        contribution: Concentration::from_ug_per_kg(computed(line.contribution.0)),
        share_percent: Number(computed(line.share_percent.0)),
    });
    kept.collect()
}
