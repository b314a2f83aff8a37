//! Rules number 2: those of number 1, with probabilities of conformity and what EU law adds.
//!
//! Promises everything that rules number 1 decide, and beside it the probability of conformity of
//! a number whose uncertainty is known (JCGM 106:2012), the correction for recovery and the
//! default uncertainty of Implementing Regulation (EU) 2023/2782 for confirmatory methods, and
//! screening in that regulation's words. Refuses no result: what cannot be said is left out.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use super::official_control::{AnalyticalUncertainty, expanded, screening_statement};
use super::{
    Decision, DecisionRule, Finding, Measured, Method, Uncertainty, Verdict, calculated,
    conversion, each,
};
use crate::limits::{Applied, Authority, ConditionFacts, ConditionState, Limit};
use crate::quantity::exact::{Answer, over};
use crate::quantity::{Concentration, Number, computed};
use crate::uncertainty::recovery::CorrectionRule;

/// How the sentence begins that states the probability of conformity.
pub const PROBABILITY: &str = "The true value conforms to the limit with a probability";

/// What is known of a method beside a result of it.
///
/// ```
/// use domain::decisions::MethodEvidence;
/// let known: MethodEvidence = serde_json::from_str(r#"{"recovery":"0.8"}"#)?;
/// assert!(known.uncertainty.is_none());
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct MethodEvidence {
    /// Its recovery, a fraction, where the result is not corrected for it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub recovery: Option<Number>,
    /// U where the result itself has none, such as the default of 50 % with its evidence.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub uncertainty: Option<AnalyticalUncertainty>,
}

/// Decides one result against one limit by rules number 2.
///
/// ```
/// use domain::decisions::{DecisionRule, Measured, MethodEvidence, Verdict, decide_by_rules_2};
/// use domain::limits::{Adoption, ConditionState, shipped_limits};
/// let today = "2026-03-01".parse()?;
/// let reading = Adoption {
///     on: today,
///     by: "019ca869-5003-7d46-b59c-6cf85cca57e4".parse()?,
///     reading: "20 ppb, read on the agency's page".into(),
/// };
/// let limits = shipped_limits()?;
/// let limit = limits.iter().find(|l| l.id == "us-food-general-afla").ok_or("not there")?;
/// let limit = limit.clone().adopt(reading, today)?;
/// let measured: Measured = serde_json::from_str(
///     r#"{"analyte":"aflatoxin-total","finding":{"kind":"quantified","value":"18.6"},
///         "uncertainty":{"expanded":"2.2","coverage_factor":"2"},"method":"confirmatory"}"#,
/// )?;
/// let rule = DecisionRule::Simple;
/// let evidence = MethodEvidence::default();
/// let decided = decide_by_rules_2(&measured, &evidence, &rule, &limit, &ConditionState::None);
/// assert_eq!(decided.decision, Verdict::Pass);
/// assert_eq!(decided.probability_of_conformity.unwrap().to_string(), "0.898443");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[must_use]
pub fn decide_by_rules_2(
    measured: &Measured,
    evidence: &MethodEvidence,
    rule: &DecisionRule,
    limit: &Limit,
    condition: &ConditionState,
) -> Decision {
    let (brought, mut sentences) = under_the_law(measured, evidence, limit);
    let mut decision = super::decide(&brought, rule, limit, condition);
    if let Ok(Some(probability)) = probability(&brought, limit, &decision) {
        let kept = Number(computed(probability));
        decision.probability_of_conformity = Some(kept);
        sentences.push(format!(
            "{PROBABILITY} of {kept}, by the normal distribution (JCGM 106:2012)."
        ));
    }
    sentences.extend(screened(&decision, limit));
    // The last sentence closes the decision; what rules number 2 add stands before it.
    let closing = decision.reasons.pop();
    decision.reasons.extend(sentences);
    decision.reasons.extend(closing);
    decision
}

/// Decides a result against each limit that applies by rules number 2, save those whose condition
/// is recorded as not met. A contract's own rule goes before `rule`.
///
/// ```
/// use domain::decisions::{DecisionRule, Measured, decide_each_by_rules_2};
/// let measured: Measured = serde_json::from_str(
///     r#"{"analyte":"zearalenone","finding":{"kind":"below","bound":"5"},"method":"strip"}"#,
/// )?;
/// let (rule, facts) = (DecisionRule::Simple, Default::default());
/// let decisions = decide_each_by_rules_2(&measured, &Default::default(), &rule, &[], &facts);
/// assert!(decisions.is_empty(), "no limit, no decision");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[must_use]
pub fn decide_each_by_rules_2(
    measured: &Measured,
    evidence: &MethodEvidence,
    rule: &DecisionRule,
    applied: &[Applied<'_>],
    facts: &ConditionFacts,
) -> Vec<Decision> {
    each(rule, applied, facts, |rule, limit, condition| {
        decide_by_rules_2(measured, evidence, rule, limit, condition)
    })
}

/// The result as EU law takes it: corrected for recovery outside 90 % to 110 %, with the
/// uncertainty that the evidence allows where it has none. Only a confirmatory method's.
fn under_the_law(
    measured: &Measured,
    evidence: &MethodEvidence,
    limit: &Limit,
) -> (Measured, Vec<String>) {
    let mut brought = measured.clone();
    let mut sentences = Vec::new();
    let lawful = matches!(&limit.authority, Authority::Law { jurisdiction, .. }
        if jurisdiction.treats_strips_as_screening());
    if !lawful || measured.method != Method::Confirmatory {
        return (brought, sentences);
    }
    if let Some(recovery) = evidence.recovery
        && CorrectionRule::default().corrects(recovery) == Ok(true)
        && let Ok((finding, uncertainty)) = corrected(measured, recovery)
    {
        sentences.push(format!(
            "The recovery of {recovery} lies outside 0.9 to 1.1: the result is divided by it once \
             (Implementing Regulation (EU) 2023/2782)."
        ));
        brought.finding = finding;
        brought.uncertainty = uncertainty;
    }
    if let (None, Some(asked), Finding::Quantified { value }) =
        (brought.uncertainty, evidence.uncertainty, brought.finding)
    {
        match expanded(asked, value.ug_per_kg()) {
            Ok(expanded) => {
                brought.uncertainty = Some(Uncertainty {
                    expanded: Concentration::from_ug_per_kg(computed(expanded)),
                    coverage_factor: Number(Decimal::TWO),
                });
                if let AnalyticalUncertainty::Default { .. } = asked {
                    let sentence = "The expanded uncertainty is the default of 50 % of the \
                        result, which the method's precision and proficiency tests allow.";
                    sentences.push(sentence.to_owned());
                }
            }
            Err(refused) => sentences.push(format!("No uncertainty is used: {refused}.")),
        }
    }
    (brought, sentences)
}

/// Finding and uncertainty divided by the recovery.
fn corrected(measured: &Measured, recovery: Number) -> Answer<(Finding, Option<Uncertainty>)> {
    let name = "corrected result";
    let divide = |value: Concentration| {
        over(name, value.ug_per_kg(), recovery.0)
            .map(|value| Concentration::from_ug_per_kg(computed(value)))
    };
    let finding = measured
        .finding
        .try_map(|value| {
            divide(value).map_err(|_too_large| crate::quantity::QuantityError::Overflow)
        })
        .map_err(|_too_large| crate::quantity::exact::too_large(name))?;
    let uncertainty = match measured.uncertainty {
        Some(known) => Some(Uncertainty {
            expanded: divide(known.expanded)?,
            ..known
        }),
        None => None,
    };
    Ok((finding, uncertainty))
}

/// The probability of conformity of a number with its uncertainty, on the limit's basis and for
/// the limit's own analyte. Nothing where the decision came to no comparison.
fn probability(measured: &Measured, limit: &Limit, decision: &Decision) -> Answer<Option<Decimal>> {
    if measured.analyte != limit.analyte || decision.compared.is_none() {
        return Ok(None);
    }
    let Ok(on_basis) = conversion::to_basis(measured, &limit.basis) else {
        return Ok(None);
    };
    let uncertainty = match (measured.uncertainty, on_basis.expanded) {
        (Some(known), Some(expanded)) => Some(Uncertainty {
            expanded: Concentration::from_ug_per_kg(expanded),
            ..known
        }),
        (_, _) => None,
    };
    calculated::probability(on_basis.finding, uncertainty, limit.value.ug_per_kg())
}

/// What the regulation has a screening say; the limit is the target where none is stated.
fn screened(decision: &Decision, limit: &Limit) -> Option<String> {
    let target = match &decision.rule {
        DecisionRule::Screening { target, .. } => target.unwrap_or(limit.value),
        DecisionRule::Simple
        | DecisionRule::Rounded { .. }
        | DecisionRule::GuardedAcceptance { .. }
        | DecisionRule::GuardedRejection { .. }
        | DecisionRule::NonBinary { .. } => limit.value,
    };
    let suspect = match decision.decision {
        Verdict::Negative => false,
        Verdict::Suspect => true,
        Verdict::Pass
        | Verdict::ConditionalPass
        | Verdict::ConditionalFail
        | Verdict::Fail
        | Verdict::Undecided { .. } => return None,
    };
    let words = screening_statement(suspect, Number(target.ug_per_kg()));
    Some(format!("In the words of the regulation: {words}."))
}

#[cfg(test)]
mod tests;
