//! Findings decided by a rule against a limit, with the figures on the way.
//!
//! Promises the same zones that stored results are decided by, their cuts, and the probability of
//! conformity of numbers whose uncertainty is known; refuses rules with numbers of no use.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use super::conformity::{MOST_VALUES, below};
use super::rule::{self, Bar};
use super::{DecisionRule, Finding, Uncertainty, Undecided, Verdict};
use crate::limits::Comparison;
use crate::quantity::exact::{
    Answer, at_least, at_most, figures, minus, not_negative, over, pole, positive,
};
use crate::quantity::{Concentration, Number};

/// A finding with its uncertainty.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct UncertainFinding {
    /// What was found, µg/kg.
    pub finding: Finding,
    /// Its expanded uncertainty, where one is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub uncertainty: Option<Uncertainty>,
}

/// Findings to be decided.
///
/// ```
/// use domain::decisions::calculated::{DecisionInputs, decide_findings};
/// let inputs: DecisionInputs = serde_json::from_str(r#"{"limit":"20",
///     "rule":{"rule":"non-binary"},"findings":[{"finding":{"kind":"quantified","value":"19.9"},
///     "uncertainty":{"expanded":"3","coverage_factor":"2"}}]}"#)?;
/// let decided = &decide_findings(&inputs).unwrap()[0];
/// assert_eq!(decided.statement, "conditional pass");
/// assert_eq!(decided.probability_of_conformity.unwrap().0.round_dp(4).to_string(), "0.5266");
/// let none = DecisionInputs { findings: vec![], ..inputs };
/// assert_eq!(decide_findings(&none).unwrap_err().quantity(), "findings");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct DecisionInputs {
    /// The limit, µg/kg, with the places it is written with.
    pub limit: Number,
    /// When a value is over it; when it exceeds it where nothing is said.
    #[serde(default = "exceeds")]
    pub comparison: Comparison,
    /// The rule.
    pub rule: DecisionRule,
    /// One or more.
    pub findings: Vec<UncertainFinding>,
}

const fn exceeds() -> Comparison {
    Comparison::Exceeds
}

/// A place where the statement changes.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct StatementUpTo {
    /// The statement below it.
    pub statement: String,
    /// µg/kg.
    pub up_to: Number,
    /// Whether the value itself is still of this statement.
    pub inclusive: bool,
}

/// One finding, decided.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct DecidedFinding {
    /// The decision.
    pub decision: Verdict,
    /// Its term, for people.
    pub statement: String,
    /// What it means.
    pub explanation: String,
    /// What was compared: the finding, rounded where the rule rounds.
    pub compared: Finding,
    /// The guard band, where the rule has one, µg/kg.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub guard_band: Option<Number>,
    /// Where the statement changes, in rising order; beyond the last it is `beyond`.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub zones: Vec<StatementUpTo>,
    /// The statement beyond the last zone.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub beyond: Option<String>,
    /// Of a number whose uncertainty is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub probability_of_conformity: Option<Number>,
}

/// Decides each finding.
///
/// # Errors
/// No finding or too many, a limit below zero, a rule or uncertainty of no use.
pub fn decide_findings(inputs: &DecisionInputs) -> Answer<Vec<DecidedFinding>> {
    at_least("findings", inputs.findings.len(), 1)?;
    at_most("findings", inputs.findings.len(), MOST_VALUES)?;
    not_negative("limit", inputs.limit)?;
    inputs
        .rule
        .check()
        .map_err(|fault| pole("decision rule", fault.to_string()))?;
    let bar = Bar {
        value: inputs.limit.0,
        comparison: inputs.comparison,
    };
    inputs
        .findings
        .iter()
        .map(|one| decide_one(one, &inputs.rule, bar))
        .collect()
}

fn decide_one(one: &UncertainFinding, rule: &DecisionRule, bar: Bar) -> Answer<DecidedFinding> {
    let expanded = match one.uncertainty {
        Some(known) => {
            positive("coverage factor", known.coverage_factor)?;
            let expanded = Number(known.expanded.ug_per_kg());
            Some(not_negative("expanded uncertainty", expanded)?)
        }
        None => None,
    };
    let mut decided = DecidedFinding {
        decision: Verdict::Undecided {
            reason: Undecided::Uncomputable,
        },
        statement: String::new(),
        explanation: String::new(),
        compared: one.finding,
        guard_band: None,
        zones: Vec::new(),
        beyond: None,
        probability_of_conformity: probability(one.finding, one.uncertainty, bar.value)?
            .map(figures),
    };
    decided.decision = match settle(one.finding, rule, bar, expanded, &mut decided) {
        Ok(verdict) => verdict,
        Err(reason) => Verdict::Undecided { reason },
    };
    decided.statement = decided.decision.name().to_owned();
    decided.explanation = decided.decision.explanation().to_owned();
    Ok(decided)
}

fn settle(
    finding: Finding,
    rule: &DecisionRule,
    bar: Bar,
    expanded: Option<Decimal>,
    decided: &mut DecidedFinding,
) -> Result<Verdict, Undecided> {
    let zones = rule.zones(bar, expanded, false)?;
    decided.guard_band = zones.guard_band.map(figures);
    decided.zones = zones
        .cuts
        .iter()
        .map(|(cut, verdict)| StatementUpTo {
            statement: verdict.name().to_owned(),
            up_to: figures(cut.at),
            inclusive: !cut.inclusive,
        })
        .collect();
    decided.beyond = Some(zones.beyond.name().to_owned());
    if let DecisionRule::Rounded { tie } = rule {
        decided.compared = rule::rounded(finding, bar, *tie)?;
    }
    zones.verdict(finding)
}

/// Φ((T - y)/u) of a number whose uncertainty is known; without any doubt it is certain.
pub(super) fn probability(
    finding: Finding,
    uncertainty: Option<Uncertainty>,
    limit: Decimal,
) -> Answer<Option<Decimal>> {
    let (Some(value), Some(known)) = (
        finding.quantified().map(Concentration::ug_per_kg),
        uncertainty,
    ) else {
        return Ok(None);
    };
    let name = "probability of conformity";
    let factor = positive("coverage factor", known.coverage_factor)?;
    let standard = over(name, known.expanded.ug_per_kg(), factor)?;
    let room = minus(name, limit, value)?;
    if standard.is_zero() {
        let certain = if room >= Decimal::ZERO {
            Decimal::ONE
        } else {
            Decimal::ZERO
        };
        return Ok(Some(certain));
    }
    below(over(name, room, standard)?).map(Some)
}
