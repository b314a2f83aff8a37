//! From a result and a limit to a decision: rules number 1, and number 2 beside them.
//!
//! Promises that a result decides only what it can: a bound is never read as a number, and a
//! missing uncertainty, moisture or fact leaves the decision open and is named. Refuses to guess,
//! to decide by a limit that nobody adopted, and to let a strip reject a lot under EU law.

use serde::{Deserialize, Serialize};

use crate::analytes::Analyte;
use crate::limits::LimitState;
use crate::limits::{Applied, Authority, Basis, Comparison, ConditionFacts, ConditionState, Limit};
use crate::quantity::{Concentration, Number};

mod agreed;
pub mod calculated;
pub mod conformity;
mod conversion;
mod finding;
pub mod official_control;
mod rule;
mod rules_2;
mod verdict;
mod wording;

pub use finding::Finding;
pub use rule::{DecisionRule, RuleError};
pub use rules_2::{MethodEvidence, PROBABILITY, decide_by_rules_2, decide_each_by_rules_2};
pub use verdict::{Undecided, Verdict};

/// The number of the rules by which [`decide`] decides; it stands in each record made by them.
/// [`decide_by_rules_2`] decides by number 2.
pub const RULES: u32 = 1;

/// An expanded uncertainty, with the factor that it was expanded by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Uncertainty {
    /// U, µg/kg, zero or more, on the basis of the result.
    pub expanded: Concentration,
    /// k, above zero; 2 for about 95 %.
    pub coverage_factor: Number,
}

/// How the result came about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub enum Method {
    /// A strip test: a screening method under EU law.
    Strip,
    /// A confirmatory method, such as another laboratory's chromatography.
    Confirmatory,
}

/// A result, and what is recorded of its sample that a limit's basis may ask for.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Measured {
    /// What was measured.
    pub analyte: Analyte,
    /// What the result says, on the sample as it came.
    pub finding: Finding,
    /// Its expanded uncertainty, where one is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub uncertainty: Option<Uncertainty>,
    /// How it came about.
    pub method: Method,
    /// The sample's moisture, percent by mass, 0 to below 100, where it was recorded.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub moisture_percent: Option<Number>,
    /// Bases other than moisture that the test portion is recorded to be on, such as kernel mass.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub recorded_bases: Vec<Basis>,
    /// The method's validated cut-off for the analyte, µg/kg; it takes the place of another rule
    /// where a law takes the method as screening.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cut_off: Option<Concentration>,
}

/// What a result means against one limit.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Decision {
    /// The decision.
    pub decision: Verdict,
    /// The rule that decided; a validated cut-off may have taken the place of the one asked for.
    pub rule: DecisionRule,
    /// The limit's id.
    pub limit: String,
    /// The limit's analyte.
    pub analyte: Analyte,
    /// The limit's number, µg/kg.
    pub limit_value: Concentration,
    /// When a value is over it.
    pub comparison: Comparison,
    /// The limit's basis.
    pub basis: Basis,
    /// What was compared, on the limit's basis and rounded where the rule rounds; absent where it
    /// did not come to a comparison.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub compared: Option<Finding>,
    /// The guard band that was kept, µg/kg, where the rule has one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub guard_band: Option<Concentration>,
    /// The probability of conformity, 0 to 1; never stated by rules number 1.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub probability_of_conformity: Option<Number>,
    /// Why, in sentences.
    pub reasons: Vec<String>,
}

/// How the analyte of a result stands to that of a limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Relation {
    Same,
    /// The result is for a sum, the limit on a part of it.
    TotalAgainstPart,
    /// The result is for a part, the limit on the sum.
    PartAgainstTotal,
}

/// Decides one result against one limit.
///
/// Sources: ILAC-G8:09/2019 (simple, guarded and non-binary rules), ASTM E29 (rounded comparison),
/// Implementing Regulation (EU) 2023/2782 (rejection beyond reasonable doubt, screening).
///
/// ```
/// use domain::decisions::{decide, DecisionRule, Finding, Measured, Method, Verdict};
/// use domain::limits::{shipped_limits, Adoption, ConditionState};
/// let today = "2026-03-01".parse()?;
/// let reading = Adoption {
///     on: today,
///     by: "019ca869-5003-7d46-b59c-6cf85cca57e4".parse()?,
///     reading: "20 ppb, read on the agency's page".into(),
/// };
/// let limits = shipped_limits()?;
/// let proposed = limits.iter().find(|l| l.id == "us-food-general-afla").ok_or("not there")?;
/// let adopted = proposed.clone().adopt(reading, today)?;
/// let measured: Measured = serde_json::from_str(
///     r#"{"analyte":"aflatoxin-total","finding":{"kind":"above","bound":"50"},"method":"strip"}"#,
/// )?;
/// let decided = decide(&measured, &DecisionRule::Simple, &adopted, &ConditionState::None);
/// assert_eq!(decided.decision, Verdict::Fail, "above 50 is above 20");
/// let refused = decide(&measured, &DecisionRule::Simple, proposed, &ConditionState::None);
/// assert!(matches!(refused.decision, Verdict::Undecided { .. }), "nobody adopted the limit");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[must_use]
pub fn decide(
    measured: &Measured,
    rule: &DecisionRule,
    limit: &Limit,
    condition: &ConditionState,
) -> Decision {
    let mut decision = Decision {
        decision: Verdict::Undecided {
            reason: Undecided::Uncomputable,
        },
        rule: rule.clone(),
        limit: limit.id.clone(),
        analyte: limit.analyte,
        limit_value: limit.value,
        comparison: limit.comparison,
        basis: limit.basis.clone(),
        compared: None,
        guard_band: None,
        probability_of_conformity: None,
        reasons: Vec::new(),
    };
    decision.decision = match settle(measured, limit, condition, &mut decision) {
        Ok(verdict) => verdict,
        Err(reason) => Verdict::Undecided { reason },
    };
    let closing = wording::closing(&decision);
    decision.reasons.push(closing);
    decision
}

/// Decides a result against each limit that applies, save those whose condition is recorded as
/// not met. A contract's own rule goes before `rule`.
///
/// ```
/// use domain::decisions::{decide_each, DecisionRule, Measured};
/// let measured: Measured = serde_json::from_str(
///     r#"{"analyte":"zearalenone","finding":{"kind":"below","bound":"5"},"method":"strip"}"#,
/// )?;
/// let decisions = decide_each(&measured, &DecisionRule::Simple, &[], &Default::default());
/// assert!(decisions.is_empty(), "no limit, no decision");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[must_use]
pub fn decide_each(
    measured: &Measured,
    rule: &DecisionRule,
    applied: &[Applied<'_>],
    facts: &ConditionFacts,
) -> Vec<Decision> {
    each(rule, applied, facts, |rule, limit, condition| {
        decide(measured, rule, limit, condition)
    })
}

/// What is decided against each limit that applies, by the rule that holds for it.
fn each(
    rule: &DecisionRule,
    applied: &[Applied<'_>],
    facts: &ConditionFacts,
    decide: impl Fn(&DecisionRule, &Limit, &ConditionState) -> Decision,
) -> Vec<Decision> {
    applied
        .iter()
        .map(|applied| (applied.limit, applied.condition_state(facts)))
        .filter(|(_, condition)| !matches!(condition, ConditionState::NotMet(_)))
        .map(|(limit, condition)| {
            let agreed = match &limit.authority {
                Authority::Contract { rule, .. } => rule.as_ref(),
                Authority::Law { .. } | Authority::Intake { .. } => None,
            };
            decide(agreed.unwrap_or(rule), limit, &condition)
        })
        .collect()
}

/// What must be so before a number is looked at.
fn admit(
    measured: &Measured,
    rule: &DecisionRule,
    limit: &Limit,
    condition: &ConditionState,
) -> Result<Relation, Undecided> {
    if limit.state != LimitState::Adopted {
        return Err(Undecided::LimitNotAdopted { state: limit.state });
    }
    match condition {
        ConditionState::None | ConditionState::Met(_) => {}
        ConditionState::NotMet(condition) => {
            return Err(Undecided::ConditionNotMet {
                condition: condition.clone(),
            });
        }
        ConditionState::Unknown(condition) => {
            return Err(Undecided::ConditionUnknown {
                condition: condition.clone(),
            });
        }
    }
    if let Err(fault) = rule.check() {
        return Err(Undecided::UnusableRule {
            fault: fault.to_string(),
        });
    }
    if measured.analyte == limit.analyte {
        Ok(Relation::Same)
    } else if measured.analyte.contains(limit.analyte) {
        Ok(Relation::TotalAgainstPart)
    } else if limit.analyte.contains(measured.analyte) {
        Ok(Relation::PartAgainstTotal)
    } else {
        Err(Undecided::OtherAnalyte)
    }
}

fn settle(
    measured: &Measured,
    limit: &Limit,
    condition: &ConditionState,
    decision: &mut Decision,
) -> Result<Verdict, Undecided> {
    let relation = admit(measured, &decision.rule, limit, condition)?;
    if let ConditionState::Met(condition) = condition {
        decision.reasons.push(wording::condition_met(condition));
    }
    let relation_sentence = wording::relation(measured.analyte, limit.analyte);
    decision.reasons.extend(relation_sentence);
    let on_basis = conversion::to_basis(measured, &limit.basis)?;
    decision.reasons.extend(on_basis.sentence);
    decision.compared = Some(on_basis.finding);

    let must_screen = screen(measured, limit, decision);
    let rule = decision.rule.clone();
    let zones = rule.zones(limit.into(), on_basis.expanded, must_screen)?;
    decision.guard_band = zones.guard_band.map(Concentration::from_ug_per_kg);
    if let (DecisionRule::Rounded { tie }, false) = (&rule, must_screen) {
        let rounded = rule::rounded(on_basis.finding, limit.into(), *tie)?;
        let sentence = wording::rounded(on_basis.finding, rounded, *tie);
        decision.reasons.extend(sentence);
        decision.compared = Some(rounded);
    }
    decision.reasons.push(wording::zones(&rule, &zones));
    let verdict = zones.verdict(on_basis.finding)?;
    if verdict == Verdict::Negative && rule.screens_above(limit) {
        return Err(Undecided::ScreenedTooHigh);
    }
    related(verdict, relation)
}

/// Where the law takes a strip as screening and the rule is another: puts the method's cut-off in
/// its place, or, where there is none, says that the rule itself has to be read as screening.
fn screen(measured: &Measured, limit: &Limit, decision: &mut Decision) -> bool {
    let screens = measured.method == Method::Strip
        && matches!(&limit.authority, Authority::Law { jurisdiction, .. }
            if jurisdiction.treats_strips_as_screening());
    if !screens || matches!(decision.rule, DecisionRule::Screening { .. }) {
        return false;
    }
    if let Some(cut_off) = measured.cut_off {
        decision
            .reasons
            .push(wording::screened_instead(&decision.rule));
        decision.rule = DecisionRule::Screening {
            target: None,
            cut_off,
        };
        return false;
    }
    decision
        .reasons
        .push(wording::SCREENING_WITHOUT_CUT_OFF.to_owned());
    true
}

/// A sum within the limit for its part passes it, a part over the limit for its sum fails it;
/// everything else says nothing.
fn related(verdict: Verdict, relation: Relation) -> Result<Verdict, Undecided> {
    let keeps = match relation {
        Relation::Same => return Ok(verdict),
        Relation::TotalAgainstPart => {
            matches!(
                verdict,
                Verdict::Pass | Verdict::ConditionalPass | Verdict::Negative
            )
        }
        Relation::PartAgainstTotal => matches!(verdict, Verdict::Fail | Verdict::Suspect),
    };
    match (keeps, relation) {
        (true, _) => Ok(verdict),
        (false, Relation::PartAgainstTotal) => Err(Undecided::PartWithinLimit),
        (false, Relation::Same | Relation::TotalAgainstPart) => Err(Undecided::TotalAboveLimit),
    }
}

#[cfg(test)]
mod tests;
