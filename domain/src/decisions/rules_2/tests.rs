//! What rules number 2 add to those of number 1, and what they leave alone.
#![expect(clippy::unwrap_used, reason = "tests may unwrap")]

use proptest::prelude::*;
use rust_decimal::Decimal;

use super::*;
use crate::analytes::Analyte;
use crate::limits::{AuthorityKind, Basis, Jurisdiction, LimitState, shipped_limits};
use crate::rounding::TieRule;

fn concentration(value: Decimal) -> Concentration {
    Concentration::from_ug_per_kg(value)
}

fn decimal(text: &str) -> Decimal {
    crate::quantity::parse_decimal(text).unwrap()
}

/// The general US action level for aflatoxins, adopted; or a maximum level of EU law.
fn limit(value: &str, jurisdiction: &str) -> Limit {
    let shipped = shipped_limits().unwrap();
    let mut limit = shipped
        .into_iter()
        .find(|l| l.id == "us-food-general-afla")
        .unwrap();
    limit.state = LimitState::Adopted;
    limit.value = concentration(decimal(value));
    limit.basis = Basis::PlacedOnMarket;
    limit.authority = Authority::Law {
        jurisdiction: jurisdiction.parse::<Jurisdiction>().unwrap(),
        authority_kind: AuthorityKind::MaximumLevel,
    };
    limit
}

fn measured(value: &str, expanded: Option<&str>, method: Method) -> Measured {
    Measured {
        analyte: Analyte::AflatoxinTotal,
        finding: Finding::Quantified {
            value: concentration(decimal(value)),
        },
        uncertainty: expanded.map(|expanded| Uncertainty {
            expanded: concentration(decimal(expanded)),
            coverage_factor: Number(Decimal::TWO),
        }),
        method,
        moisture_percent: None,
        recorded_bases: Vec::new(),
        cut_off: None,
    }
}

fn doubt() -> DecisionRule {
    DecisionRule::GuardedRejection {
        guard_factor: Number(Decimal::ONE),
    }
}

fn decide(measured: &Measured, evidence: &MethodEvidence, limit: &Limit) -> Decision {
    decide_by_rules_2(measured, evidence, &doubt(), limit, &ConditionState::None)
}

#[test]
fn the_eu_rule_rejects_only_beyond_reasonable_doubt() {
    // Computed with the rule of Implementing Regulation (EU) 2023/2782, Annex I, part II.A:
    // 1900 - 380 = 1520 > 1500, 1800 - 360 = 1440.
    let evidence = MethodEvidence::default();
    let limit = limit("1500", "EU");
    for (value, expanded, verdict) in [
        ("1900", "380", Verdict::Fail),
        ("1800", "360", Verdict::Pass),
    ] {
        let decision = decide(
            &measured(value, Some(expanded), Method::Confirmatory),
            &evidence,
            &limit,
        );
        assert_eq!(decision.decision, verdict);
    }
}

#[test]
fn the_default_uncertainty_accepts_up_to_twice_the_limit() {
    // As above: limit 20, x = 40, U = 50 % of x: 20 is not above 20.
    let evidence = |mean_absolute_z: &str| MethodEvidence {
        recovery: None,
        uncertainty: Some(AnalyticalUncertainty::Default {
            precision_criteria_met: true,
            mean_absolute_z: mean_absolute_z.parse().unwrap(),
        }),
    };
    let decided = |value: &str, z: &str| {
        let measured = measured(value, None, Method::Confirmatory);
        decide(&measured, &evidence(z), &limit("20", "EU"))
    };
    assert_eq!(decided("40", "2").decision, Verdict::Pass);
    assert_eq!(decided("40.1", "2").decision, Verdict::Fail);
    let refused = decided("40.1", "2.1");
    assert!(matches!(refused.decision, Verdict::Undecided { .. }));
    assert!(
        refused
            .reasons
            .iter()
            .any(|reason| reason.contains("No uncertainty is used"))
    );
}

#[test]
fn a_recovery_outside_the_window_is_divided_by_once() {
    // As above: limit 4, 5.2 at 80 % recovery is 6.5; U = 3.25 leaves 3.25, not above 4.
    let evidence = MethodEvidence {
        recovery: "0.8".parse().ok(),
        uncertainty: Some(AnalyticalUncertainty::Default {
            precision_criteria_met: true,
            mean_absolute_z: Number(Decimal::ONE),
        }),
    };
    let decision = decide(
        &measured("5.2", None, Method::Confirmatory),
        &evidence,
        &limit("4", "EU"),
    );
    assert_eq!(decision.decision, Verdict::Pass);
    assert_eq!(
        decision.compared.unwrap().quantified().unwrap().ug_per_kg(),
        decimal("6.5")
    );
    // A strip is not corrected, and US law does not ask for it.
    for (method, law) in [(Method::Strip, "EU"), (Method::Confirmatory, "US")] {
        let decision = decide(
            &measured("5.2", Some("1"), method),
            &evidence,
            &limit("4", law),
        );
        let compared = decision.compared.unwrap().quantified().unwrap();
        assert_eq!(compared.ug_per_kg(), decimal("5.2"));
    }
}

#[test]
fn a_screening_is_worded_as_the_regulation_words_it() {
    let evidence = MethodEvidence::default();
    let words = |value: &str| {
        let mut measured = measured(value, None, Method::Strip);
        measured.cut_off = Some(concentration(decimal("16")));
        decide(&measured, &evidence, &limit("20", "EU"))
            .reasons
            .join(" ")
    };
    assert!(words("12").contains("compliant: < STC (20 µg/kg)"));
    assert!(words("17").contains("suspected to be non-compliant (STC 20 µg/kg)"));
}

#[test]
fn the_last_reason_still_closes_the_decision() {
    let evidence = MethodEvidence::default();
    let decision = decide(
        &measured("19", Some("2"), Method::Confirmatory),
        &evidence,
        &limit("20", "US"),
    );
    assert!(
        decision
            .reasons
            .last()
            .unwrap()
            .starts_with("19 µg/kg against the limit")
    );
    // Φ((20 - 19)/1), JCGM 106:2012, 7.3.
    assert_eq!(
        decision.probability_of_conformity.unwrap().to_string(),
        "0.841345"
    );
}

fn any_rule() -> impl Strategy<Value = DecisionRule> {
    let factor = (0_u32..30).prop_map(|tenths| Number(Decimal::new(tenths.into(), 1)));
    prop_oneof![
        Just(DecisionRule::Simple),
        Just(DecisionRule::Rounded {
            tie: TieRule::HalfEven
        }),
        factor
            .clone()
            .prop_map(|guard_factor| DecisionRule::GuardedAcceptance { guard_factor }),
        factor
            .clone()
            .prop_map(|guard_factor| DecisionRule::GuardedRejection { guard_factor }),
        factor.prop_map(|guard_factor| DecisionRule::NonBinary { guard_factor }),
    ]
}

/// How sure a statement is: a pass under guarded acceptance, a fail under guarded rejection, and
/// both under a non-binary rule are stated only a guard band away from the limit.
fn is_guarded(rule: &DecisionRule, verdict: &Verdict) -> bool {
    match rule {
        DecisionRule::GuardedAcceptance { .. } => *verdict == Verdict::Pass,
        DecisionRule::GuardedRejection { .. } => *verdict == Verdict::Fail,
        DecisionRule::NonBinary { .. } => matches!(verdict, Verdict::Pass | Verdict::Fail),
        DecisionRule::Simple | DecisionRule::Rounded { .. } | DecisionRule::Screening { .. } => {
            false
        }
    }
}

proptest! {
    #[test]
    fn a_decision_never_gets_surer_when_the_uncertainty_grows(
        rule in any_rule(), value in 0_i64..60_000, small in 0_i64..20_000, more in 0_i64..20_000,
    ) {
        let limit = limit("20", "US");
        let decided = |expanded: i64| {
            let mut measured = measured("1", Some("1"), Method::Confirmatory);
            measured.finding = Finding::Quantified { value: concentration(Decimal::new(value, 3)) };
            measured.uncertainty = Some(Uncertainty {
                expanded: concentration(Decimal::new(expanded, 3)),
                coverage_factor: Number(Decimal::TWO),
            });
            let evidence = MethodEvidence::default();
            decide_by_rules_2(&measured, &evidence, &rule, &limit, &ConditionState::None)
        };
        let (sure, unsure) = (decided(small), decided(small + more));
        // A guarded statement that stands with the larger uncertainty stands with the smaller.
        if is_guarded(&rule, &unsure.decision) {
            prop_assert_eq!(&sure.decision, &unsure.decision);
        }
        // Under rules that guard acceptance, nothing gets better for the goods.
        if matches!(rule, DecisionRule::GuardedAcceptance { .. } | DecisionRule::Simple) {
            prop_assert!(sure.decision.rank() <= unsure.decision.rank());
        }
        let half = Decimal::new(5, 1);
        let likely = |one: &Decision| (one.probability_of_conformity.unwrap().0 - half).abs();
        prop_assert!(likely(&sure) >= likely(&unsure) || value == 20_000);
    }

    #[test]
    fn conformity_is_less_likely_the_higher_the_value(
        value in 0_i64..60_000, more in 0_i64..20_000, expanded in 0_i64..20_000,
    ) {
        let limit = limit("20", "US");
        let likely = |value: i64| {
            let mut measured = measured("1", Some("1"), Method::Confirmatory);
            measured.finding = Finding::Quantified { value: concentration(Decimal::new(value, 3)) };
            measured.uncertainty = Some(Uncertainty {
                expanded: concentration(Decimal::new(expanded, 3)),
                coverage_factor: Number(Decimal::TWO),
            });
            let decision = decide(&measured, &MethodEvidence::default(), &limit);
            decision.probability_of_conformity.unwrap().0
        };
        let (low, high) = (likely(value), likely(value + more));
        prop_assert!(low >= high);
        prop_assert!(high >= Decimal::ZERO && low <= Decimal::ONE);
    }

    #[test]
    fn verdicts_are_those_of_rules_number_1(
        rule in any_rule(), value in 0_i64..60_000, expanded in 0_i64..20_000,
    ) {
        let limit = limit("20", "US");
        let mut measured = measured("1", Some("1"), Method::Strip);
        measured.finding = Finding::Quantified { value: concentration(Decimal::new(value, 3)) };
        measured.uncertainty = Some(Uncertainty {
            expanded: concentration(Decimal::new(expanded, 3)),
            coverage_factor: Number(Decimal::TWO),
        });
        let by_1 = super::super::decide(&measured, &rule, &limit, &ConditionState::None);
        let evidence = MethodEvidence::default();
        let by_2 = decide_by_rules_2(&measured, &evidence, &rule, &limit, &ConditionState::None);
        prop_assert_eq!(by_1.decision, by_2.decision);
        prop_assert_eq!(by_1.guard_band, by_2.guard_band);
        prop_assert!(by_1.probability_of_conformity.is_none());
    }
}
