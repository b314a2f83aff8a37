//! Decisions at, near and around limits, by published examples.
#![expect(clippy::unwrap_used, clippy::indexing_slicing, reason = "tests may")]
use proptest::prelude::*;
use rust_decimal::Decimal;

use super::*;
use crate::limits::{Jurisdiction, shipped_limits};
use crate::quantity::parse_decimal;
use crate::rounding::TieRule;

fn decimal(text: &str) -> Decimal {
    parse_decimal(text).unwrap()
}

fn concentration(text: &str) -> Concentration {
    Concentration::from_ug_per_kg(decimal(text))
}

/// The general US action level for aflatoxins, adopted, with another number.
fn limit(value: &str) -> Limit {
    let mut limit = shipped_limits()
        .unwrap()
        .into_iter()
        .find(|l| l.id == "us-food-general-afla")
        .unwrap();
    limit.state = LimitState::Adopted;
    limit.value = concentration(value);
    limit
}

/// A limit of EU law, as placed on the market.
fn eu_limit(value: &str) -> Limit {
    let mut limit = limit(value);
    limit.authority = Authority::Law {
        jurisdiction: "EU".parse::<Jurisdiction>().unwrap(),
        authority_kind: crate::limits::AuthorityKind::MaximumLevel,
    };
    limit.basis = Basis::PlacedOnMarket;
    limit
}

fn finding(text: &str) -> Finding {
    if let Some(bound) = text.strip_prefix('<') {
        Finding::Below {
            bound: concentration(bound),
        }
    } else if let Some(bound) = text.strip_prefix('>') {
        Finding::Above {
            bound: concentration(bound),
        }
    } else {
        Finding::Quantified {
            value: concentration(text),
        }
    }
}

fn measured(text: &str, expanded: Option<&str>) -> Measured {
    Measured {
        analyte: Analyte::AflatoxinTotal,
        finding: finding(text),
        uncertainty: expanded.map(|expanded| Uncertainty {
            expanded: concentration(expanded),
            coverage_factor: Number(Decimal::TWO),
        }),
        method: Method::Strip,
        moisture_percent: None,
        recorded_bases: Vec::new(),
        cut_off: None,
    }
}

fn term(measured: &Measured, rule: &DecisionRule, limit: &Limit) -> Verdict {
    decide(measured, rule, limit, &ConditionState::None).decision
}

fn reason(measured: &Measured, rule: &DecisionRule, limit: &Limit) -> Undecided {
    let verdict = term(measured, rule, limit);
    let Verdict::Undecided { reason } = verdict else {
        unreachable!("{verdict:?} where nothing should be decided")
    };
    reason
}

fn factor(text: &str) -> Number {
    text.parse().unwrap()
}

fn guarded_acceptance() -> DecisionRule {
    DecisionRule::GuardedAcceptance {
        guard_factor: factor("1"),
    }
}

fn guarded_rejection() -> DecisionRule {
    DecisionRule::GuardedRejection {
        guard_factor: factor("1"),
    }
}

fn non_binary() -> DecisionRule {
    DecisionRule::NonBinary {
        guard_factor: factor("1"),
    }
}

fn rounded() -> DecisionRule {
    DecisionRule::Rounded {
        tie: TieRule::HalfEven,
    }
}

fn screening(target: &str, cut_off: &str) -> DecisionRule {
    DecisionRule::Screening {
        target: Some(concentration(target)),
        cut_off: concentration(cut_off),
    }
}

#[test]
fn ilac_g8_four_statements_around_a_limit() {
    // ILAC-G8:09/2019, 4.2.3: rule; numbers constructed: limit 20, U 3.
    let expected = [
        ("16.9", Verdict::Pass),
        ("17.1", Verdict::ConditionalPass),
        ("19.9", Verdict::ConditionalPass),
        ("20.1", Verdict::ConditionalFail),
        ("22.9", Verdict::ConditionalFail),
        ("23.1", Verdict::Fail),
        // On the boundaries themselves, as this rule is defined here.
        ("17", Verdict::Pass),
        ("20", Verdict::ConditionalPass),
        ("23", Verdict::ConditionalFail),
    ];
    for (value, verdict) in expected {
        assert_eq!(
            term(&measured(value, Some("3")), &non_binary(), &limit("20.0")),
            verdict
        );
    }
}

#[test]
fn eu_rejection_beyond_reasonable_doubt() {
    // Implementing Regulation (EU) 2023/2782, Annex I and Annex II 4.3: x - U > ML; numbers
    // constructed.
    let cases = [
        ("5", "6.0", "1.2", false),
        ("5", "7.0", "1.4", true),
        ("5", "10.0", "5.0", false),
        ("5", "10.1", "5.05", true),
        ("1500", "1900", "380", true),
        ("1500", "1800", "360", false),
        ("20", "40", "20", false),
        ("4", "6.5", "3.25", false),
    ];
    for (level, value, expanded, rejects) in cases {
        let mut result = measured(value, Some(expanded));
        result.method = Method::Confirmatory;
        let expected = if rejects {
            Verdict::Fail
        } else {
            Verdict::Pass
        };
        assert_eq!(
            term(&result, &guarded_rejection(), &eu_limit(level)),
            expected,
            "{value}"
        );
    }
}

#[test]
fn guarded_acceptance_takes_the_guard_band_off_the_limit() {
    // ILAC-G8:09/2019 4.2.2 with r = 0.83 as in ISO 14253-1:2017; numbers constructed.
    let rule = DecisionRule::GuardedAcceptance {
        guard_factor: factor("0.83"),
    };
    let decided = decide(
        &measured("17.51", Some("3")),
        &rule,
        &limit("20"),
        &ConditionState::None,
    );
    assert_eq!(decided.decision, Verdict::Pass);
    assert_eq!(decided.guard_band, Some(concentration("2.49")));
    assert_eq!(
        term(&measured("17.52", Some("3")), &rule, &limit("20")),
        Verdict::Fail
    );
}

#[test]
fn astm_e29_absolute_and_rounding_method() {
    // ASTM E29: rules; numbers constructed: limit 20, largest allowed.
    let cases = [
        ("19.6", true, true),
        ("20.0", true, true),
        ("20.1", false, true),
        ("20.4", false, true),
        ("20.5", false, true),
        ("20.6", false, false),
    ];
    let passes = |rule: &DecisionRule, value: &str, at: &str| {
        term(&measured(value, None), rule, &limit(at)) == Verdict::Pass
    };
    for (value, absolute, by_rounding) in cases {
        assert_eq!(
            passes(&DecisionRule::Simple, value, "20"),
            absolute,
            "{value}"
        );
        assert_eq!(passes(&rounded(), value, "20"), by_rounding, "{value}");
    }
    // A limit written 20.0 instead of 20 changes the verdict of 20.1.
    assert!(!passes(&rounded(), "20.1", "20.0"));
    // ASTM E29, table of examples: water extract conductivity, at most 40 (from memory).
    for (value, conforms) in [("40.4", true), ("40.5", true), ("40.6", false)] {
        assert_eq!(passes(&rounded(), value, "40"), conforms, "{value}");
    }
    // By ISO 80000-1 rule B the tie goes up: 40.5 becomes 41.
    let away = DecisionRule::Rounded {
        tie: TieRule::HalfAway,
    };
    assert!(!passes(&away, "40.5", "40"));
}

#[test]
fn the_rounded_value_is_what_is_shown() {
    let decided = decide(
        &measured("20.45", None),
        &rounded(),
        &limit("20"),
        &ConditionState::None,
    );
    assert_eq!(decided.compared, Some(finding("20")));
    assert!(
        decided
            .reasons
            .iter()
            .any(|text| text.contains("20.45 µg/kg rounded"))
    );
}

#[test]
fn a_bound_decides_only_what_it_can() {
    let simple = DecisionRule::Simple;
    assert_eq!(
        term(&measured(">50", None), &simple, &limit("20")),
        Verdict::Fail
    );
    assert_eq!(
        term(&measured(">20", None), &simple, &limit("20")),
        Verdict::Fail
    );
    assert_eq!(
        term(&measured("<5", None), &simple, &limit("20")),
        Verdict::Pass
    );
    assert_eq!(
        term(&measured("<5", None), &simple, &limit("5")),
        Verdict::Pass
    );
    assert_eq!(
        reason(&measured("<5", None), &simple, &limit("2")),
        Undecided::CannotSeeThatLow {
            bound: concentration("5")
        }
    );
    assert_eq!(
        reason(&measured(">50", None), &simple, &limit("100")),
        Undecided::OverRangeTooEarly {
            bound: concentration("50")
        }
    );
    let mut seen = measured("1", None);
    seen.finding = Finding::DetectedBelow {
        lod: concentration("3"),
        loq: concentration("5"),
    };
    assert_eq!(term(&seen, &simple, &limit("20")), Verdict::Pass);
    assert!(matches!(
        reason(&seen, &simple, &limit("2")),
        Undecided::CannotSeeThatLow { .. }
    ));
    seen.finding = Finding::NotDetected {
        below: concentration("3"),
    };
    assert_eq!(term(&seen, &simple, &limit("3")), Verdict::Pass);
}

#[test]
fn a_bound_must_clear_the_guard_band_too() {
    let rule = guarded_rejection();
    assert_eq!(
        term(&measured(">50", Some("20")), &rule, &limit("20")),
        Verdict::Fail
    );
    let open = reason(&measured(">35", Some("20")), &rule, &limit("20"));
    assert_eq!(
        open,
        Undecided::OverRangeTooEarly {
            bound: concentration("35")
        }
    );
    let rule = guarded_acceptance();
    assert_eq!(
        term(&measured("<5", Some("3")), &rule, &limit("8")),
        Verdict::Pass
    );
    let open = reason(&measured("<5", Some("3")), &rule, &limit("7"));
    assert_eq!(
        open,
        Undecided::CannotSeeThatLow {
            bound: concentration("5")
        }
    );
    let open = reason(&measured("<5", Some("8")), &rule, &limit("7"));
    assert_eq!(open, Undecided::GuardBandTooWide);
}

#[test]
fn a_guard_band_without_uncertainty_is_never_assumed() {
    for rule in [guarded_acceptance(), guarded_rejection(), non_binary()] {
        let open = reason(&measured("10", None), &rule, &limit("20"));
        assert_eq!(open, Undecided::NoUncertainty);
    }
    let negative = DecisionRule::NonBinary {
        guard_factor: factor("-1"),
    };
    let open = reason(&measured("10", Some("3")), &negative, &limit("20"));
    assert!(matches!(open, Undecided::UnusableRule { .. }));
    let open = reason(&measured("10", Some("-3")), &non_binary(), &limit("20"));
    assert_eq!(open, Undecided::Uncomputable);
}

#[test]
fn at_or_above_is_over_when_it_is_reached() {
    let mut reached = limit("20");
    reached.comparison = Comparison::AtOrAbove;
    let simple = DecisionRule::Simple;
    assert_eq!(
        term(&measured("19.9", None), &simple, &reached),
        Verdict::Pass
    );
    assert_eq!(
        term(&measured("20.0", None), &simple, &reached),
        Verdict::Fail
    );
    assert_eq!(
        term(&measured("<20", None), &simple, &reached),
        Verdict::Pass
    );
    // 19.5 rounds to the even 20, which reaches the limit; 19.4 does not.
    assert_eq!(
        term(&measured("19.5", None), &rounded(), &reached),
        Verdict::Fail
    );
    assert_eq!(
        term(&measured("19.4", None), &rounded(), &reached),
        Verdict::Pass
    );
    assert_eq!(
        term(&measured("20", None), &simple, &limit("20")),
        Verdict::Pass
    );
}

#[test]
fn a_total_passes_its_part_and_a_part_fails_its_total() {
    let simple = DecisionRule::Simple;
    let mut on_part = limit("5");
    on_part.analyte = Analyte::AflatoxinB1;
    assert_eq!(term(&measured("5", None), &simple, &on_part), Verdict::Pass);
    assert_eq!(
        term(&measured("<2", None), &simple, &on_part),
        Verdict::Pass
    );
    assert_eq!(
        reason(&measured("6", None), &simple, &on_part),
        Undecided::TotalAboveLimit
    );
    assert_eq!(
        reason(&measured(">50", None), &simple, &on_part),
        Undecided::TotalAboveLimit
    );
    let mut part = measured("25", None);
    part.analyte = Analyte::AflatoxinB1;
    assert_eq!(term(&part, &simple, &limit("20")), Verdict::Fail);
    part.finding = finding("15");
    assert_eq!(
        reason(&part, &simple, &limit("20")),
        Undecided::PartWithinLimit
    );
    part.analyte = Analyte::FumonisinB1B2;
    let mut fumonisins = limit("4000");
    fumonisins.analyte = Analyte::FumonisinTotalB1B2B3;
    part.finding = finding(">5000");
    assert_eq!(term(&part, &simple, &fumonisins), Verdict::Fail);
    assert_eq!(
        reason(&part, &simple, &limit("20")),
        Undecided::OtherAnalyte
    );
}

#[test]
fn moisture_brings_a_value_to_the_basis_of_the_limit() {
    let simple = DecisionRule::Simple;
    let mut dry = limit("3.4");
    dry.basis = Basis::DryMatter;
    let mut result = measured("1", None);
    assert_eq!(reason(&result, &simple, &dry), Undecided::NoMoisture);
    // 1 mg/kg at 30 % dry matter is 3.3 mg/kg on dry matter: Ontario ministry page on mycotoxin
    // levels, http://ontario.ca/page/mycotoxin-levels-and-interpretation
    result.moisture_percent = Some(factor("70"));
    let decided = decide(&result, &simple, &dry, &ConditionState::None);
    assert_eq!(decided.compared, Some(finding("3.333333")));
    assert_eq!(decided.decision, Verdict::Pass);
    // 12 % moisture basis, arithmetic of the dry-matter fractions (from memory): 20 at 16 %.
    dry.basis = Basis::Moisture(decimal("12"));
    dry.value = concentration("20");
    result.finding = finding("20");
    result.moisture_percent = Some(factor("16"));
    let decided = decide(&result, &simple, &dry, &ConditionState::None);
    assert_eq!(decided.compared, Some(finding("20.952381")));
    assert_eq!(decided.decision, Verdict::Fail);
    assert!(
        decided.reasons[0].contains("16 % moisture"),
        "{:?}",
        decided.reasons
    );
    dry.basis = Basis::DryMatterPercent(decimal("88"));
    assert_eq!(
        decide(&result, &simple, &dry, &ConditionState::None).compared,
        decided.compared
    );
    result.moisture_percent = Some(factor("100"));
    assert_eq!(reason(&result, &simple, &dry), Undecided::AbsurdMoisture);
}

#[test]
fn the_uncertainty_goes_to_the_basis_with_the_value() {
    let mut dry = limit("20");
    dry.basis = Basis::DryMatter;
    let mut result = measured("8", Some("1"));
    result.moisture_percent = Some(factor("50"));
    let decided = decide(&result, &non_binary(), &dry, &ConditionState::None);
    assert_eq!(decided.guard_band, Some(concentration("2.000000")));
    assert_eq!(decided.decision, Verdict::Pass);
}

#[test]
fn a_basis_that_nothing_recorded_answers_leaves_it_open() {
    let simple = DecisionRule::Simple;
    let mut kernels = limit("15");
    let mut result = measured("10", None);
    for basis in [
        Basis::KernelMass,
        Basis::ReadyToUse,
        Basis::Other("per litre".into()),
    ] {
        kernels.basis = basis.clone();
        result.recorded_bases.clear();
        let open = reason(&result, &simple, &kernels);
        assert_eq!(
            open,
            Undecided::NotOnBasis {
                basis: basis.clone()
            }
        );
        result.recorded_bases = vec![basis];
        assert_eq!(term(&result, &simple, &kernels), Verdict::Pass);
    }
    kernels.basis = Basis::EdiblePart;
    let decided = decide(&result, &simple, &kernels, &ConditionState::None);
    assert_eq!(decided.decision, Verdict::Pass);
    assert!(
        decided.reasons[0].contains("without shells"),
        "what is taken for granted is said"
    );
}

#[test]
fn a_strip_never_rejects_a_lot_under_eu_law() {
    // Implementing Regulation (EU) 2023/2782, Annex II: screening says negative or suspect.
    let every = [
        DecisionRule::Simple,
        rounded(),
        guarded_acceptance(),
        guarded_rejection(),
        non_binary(),
        screening("20", "15"),
    ];
    for rule in &every {
        for value in ["0", "16", "19.5", "20", "20.4", "25", "500", ">50", "<5"] {
            let verdict = term(&measured(value, Some("3")), rule, &eu_limit("20"));
            assert!(
                matches!(verdict, Verdict::Negative | Verdict::Suspect),
                "{value}"
            );
        }
        let over = term(&measured("20.4", Some("3")), rule, &eu_limit("20"));
        assert_eq!(
            over,
            Verdict::Suspect,
            "nothing above the limit is called negative"
        );
    }
    let mut confirmed = measured("25", None);
    confirmed.method = Method::Confirmatory;
    assert_eq!(
        term(&confirmed, &DecisionRule::Simple, &eu_limit("20")),
        Verdict::Fail
    );
    assert_eq!(
        term(&measured("25", None), &DecisionRule::Simple, &limit("20")),
        Verdict::Fail
    );
}

#[test]
fn the_code_of_a_rule_is_how_it_is_written() {
    for rule in [
        DecisionRule::Simple,
        rounded(),
        guarded_acceptance(),
        guarded_rejection(),
        non_binary(),
        screening("20", "15"),
    ] {
        let written = serde_json::to_value(&rule).unwrap();
        assert_eq!(written["rule"], rule.code());
        assert_eq!(
            serde_json::from_value::<DecisionRule>(written).unwrap(),
            rule
        );
    }
}

#[test]
fn a_validated_cut_off_takes_the_place_of_the_agreed_rule_under_eu_law() {
    let mut result = measured("16", None);
    result.cut_off = Some(concentration("15"));
    let simple = DecisionRule::Simple;
    let decided = decide(&result, &simple, &eu_limit("20"), &ConditionState::None);
    assert_eq!(decided.decision, Verdict::Suspect);
    assert_eq!(decided.rule.code(), "screening");
    assert_eq!(
        term(&result, &simple, &limit("20")),
        Verdict::Pass,
        "other law keeps the rule"
    );
    result.finding = finding("15");
    assert_eq!(
        term(&result, &guarded_acceptance(), &eu_limit("20")),
        Verdict::Negative
    );
    assert_eq!(
        reason(&result, &simple, &eu_limit("10")),
        Undecided::ScreenedTooHigh
    );
}

#[test]
fn screening_draws_its_line_at_the_cut_off() {
    let rule = screening("20", "15");
    assert_eq!(
        term(&measured("15", None), &rule, &eu_limit("20")),
        Verdict::Negative
    );
    assert_eq!(
        term(&measured("15.1", None), &rule, &eu_limit("20")),
        Verdict::Suspect
    );
    let open = reason(&measured("4", None), &rule, &eu_limit("10"));
    assert_eq!(open, Undecided::ScreenedTooHigh);
    let open = reason(
        &measured("4", None),
        &screening("10", "11"),
        &eu_limit("10"),
    );
    assert!(matches!(open, Undecided::UnusableRule { .. }));
    let untold = DecisionRule::Screening {
        target: None,
        cut_off: concentration("15"),
    };
    assert_eq!(
        term(&measured("15", None), &untold, &eu_limit("20")),
        Verdict::Negative
    );
    let open = reason(&measured("4", None), &untold, &eu_limit("10"));
    assert_eq!(open, Undecided::ScreenedTooHigh);
}

#[test]
fn only_an_adopted_limit_whose_condition_is_met_decides() {
    let simple = DecisionRule::Simple;
    let result = measured("10", None);
    for state in [LimitState::Proposed, LimitState::Retired] {
        let mut other = limit("20");
        other.state = state;
        assert_eq!(
            reason(&result, &simple, &other),
            Undecided::LimitNotAdopted { state }
        );
    }
    let condition = "share-of-diet-at-most-20-percent".to_owned();
    let with = |state| decide(&result, &simple, &limit("20"), &state).decision;
    assert_eq!(with(ConditionState::Met(condition.clone())), Verdict::Pass);
    let open = Verdict::Undecided {
        reason: Undecided::ConditionUnknown {
            condition: condition.clone(),
        },
    };
    assert_eq!(with(ConditionState::Unknown(condition)), open);
}

#[test]
fn a_contract_keeps_its_own_rule_and_an_unmet_condition_its_limit_away() {
    let mut contract = limit("20");
    contract.authority = Authority::Contract {
        parties: vec![],
        rule: Some(rounded()),
    };
    let mut conditional = limit("20");
    conditional.id = "with-condition".into();
    let applied = [
        Applied {
            limit: &contract,
            why: String::new(),
            condition: None,
        },
        Applied {
            limit: &conditional,
            why: String::new(),
            condition: Some("cleaned".into()),
        },
    ];
    let facts = ConditionFacts::from([("with-condition".to_owned(), false)]);
    let result = measured("20.4", None);
    let decisions = decide_each(&result, &DecisionRule::Simple, &applied, &facts);
    assert_eq!(decisions.len(), 1);
    assert_eq!(decisions[0].rule, rounded());
    assert_eq!(decisions[0].decision, Verdict::Pass);
}

#[test]
fn a_decision_is_recorded_with_decimals_as_text_and_comes_back() {
    let decided = decide(
        &measured("19.50", Some("3")),
        &non_binary(),
        &limit("20"),
        &ConditionState::None,
    );
    let json = serde_json::to_value(&decided).unwrap();
    assert_eq!(
        json["decision"],
        serde_json::json!({"term": "conditional-pass"})
    );
    assert_eq!(
        json["compared"],
        serde_json::json!({"kind": "quantified", "value": "19.50"})
    );
    assert_eq!(
        json["rule"],
        serde_json::json!({"rule": "non-binary", "guard_factor": "1"})
    );
    assert_eq!(json["limit_value"], "20");
    assert_eq!(json["guard_band"], "3");
    assert!(
        json.get("probability_of_conformity").is_none(),
        "absent, never null"
    );
    assert_eq!(serde_json::from_value::<Decision>(json).unwrap(), decided);
    assert_eq!(
        decided.reasons.join(" "),
        "Rule: non-binary statement (ILAC-G8), guard band 3 µg/kg: pass up to 17 µg/kg, \
         conditional pass up to 20 µg/kg, conditional fail up to 23 µg/kg, fail above. \
         19.5 µg/kg against the limit of 20 µg/kg on aflatoxins, sum of B1, B2, G1 and G2 \
         (as-is, over when exceeded): conditional pass."
    );
}

#[test]
fn what_cannot_be_computed_is_left_open() {
    let mut dry = limit("20");
    dry.basis = Basis::DryMatter;
    let mut result = measured("1", None);
    result.finding = Finding::Quantified {
        value: Concentration::from_ug_per_kg(Decimal::MAX),
    };
    result.moisture_percent = Some(factor("12"));
    assert_eq!(
        reason(&result, &DecisionRule::Simple, &dry),
        Undecided::Uncomputable
    );
}

fn any_rule() -> impl Strategy<Value = DecisionRule> {
    let guard = || (0i64..300).prop_map(|n| Number(Decimal::new(n, 2)));
    prop_oneof![
        Just(DecisionRule::Simple),
        any::<bool>().prop_map(|even| DecisionRule::Rounded {
            tie: if even {
                TieRule::HalfEven
            } else {
                TieRule::HalfAway
            },
        }),
        guard().prop_map(|guard_factor| DecisionRule::GuardedAcceptance { guard_factor }),
        guard().prop_map(|guard_factor| DecisionRule::GuardedRejection { guard_factor }),
        guard().prop_map(|guard_factor| DecisionRule::NonBinary { guard_factor }),
        (0i64..400).prop_map(|n| DecisionRule::Screening {
            target: (n % 3 > 0).then(|| Concentration::from_ug_per_kg(Decimal::new(n, 1))),
            cut_off: Concentration::from_ug_per_kg(Decimal::new(n / 2, 1)),
        }),
    ]
}

fn any_limit() -> impl Strategy<Value = Limit> {
    (
        0i64..4000,
        0u32..3,
        any::<bool>(),
        any::<bool>(),
        any::<bool>(),
    )
        .prop_map(|(n, scale, reached, eu, on_part)| {
            let mut limit = if eu { eu_limit("20") } else { limit("20") };
            limit.value = Concentration::from_ug_per_kg(Decimal::new(n, scale));
            if reached {
                limit.comparison = Comparison::AtOrAbove;
            }
            if on_part {
                limit.analyte = Analyte::AflatoxinB1;
            }
            limit
        })
}

fn result_of(finding: Finding) -> Measured {
    let mut result = measured("0", Some("3"));
    result.finding = finding;
    result
}

proptest! {
    #[test]
    fn a_decision_never_improves_as_the_value_grows(
        rule in any_rule(), limit in any_limit(), a in 0i64..60_000, b in 0i64..60_000,
    ) {
        let verdict = |n: i64| {
            let value = Concentration::from_ug_per_kg(Decimal::new(n, 2));
            term(&result_of(Finding::Quantified { value }), &rule, &limit).rank()
        };
        if let (Some(low), Some(high)) = (verdict(a.min(b)), verdict(a.max(b))) {
            prop_assert!(low <= high);
        }
    }

    #[test]
    fn a_bound_that_decides_agrees_with_every_value_that_it_leaves_open(
        rule in any_rule(), limit in any_limit(), n in 1i64..60_000, inside in 1i64..60_000,
    ) {
        let at = |n: i64| Concentration::from_ug_per_kg(Decimal::new(n, 2));
        let exact = |n: i64| term(&result_of(Finding::Quantified { value: at(n) }), &rule, &limit);
        let below = term(&result_of(Finding::Below { bound: at(n) }), &rule, &limit);
        if below.rank().is_some() {
            prop_assert_eq!(&below, &exact(inside % n));
        }
        let above = term(&result_of(Finding::Above { bound: at(n) }), &rule, &limit);
        if above.rank().is_some() {
            prop_assert_eq!(&above, &exact(n + inside));
        }
    }

    #[test]
    fn the_rounded_rule_is_rounding_then_comparing(
        limit in any_limit(), n in 0i64..60_000, even in any::<bool>(),
    ) {
        let tie = if even { TieRule::HalfEven } else { TieRule::HalfAway };
        let mut limit = limit;
        limit.authority = Authority::Intake { site: None };
        limit.analyte = Analyte::AflatoxinTotal;
        let value = Concentration::from_ug_per_kg(Decimal::new(n, 2));
        let result = result_of(Finding::Quantified { value });
        let decided =
            decide(&result, &DecisionRule::Rounded { tie }, &limit, &ConditionState::None);
        let shown = result_of(decided.compared.unwrap());
        prop_assert_eq!(decided.decision, term(&shown, &DecisionRule::Simple, &limit));
    }

    #[test]
    fn every_decision_explains_itself(
        rule in any_rule(), limit in any_limit(), n in 0i64..60_000,
    ) {
        let value = Concentration::from_ug_per_kg(Decimal::new(n, 2));
        let result = result_of(Finding::Quantified { value });
        let decided = decide(&result, &rule, &limit, &ConditionState::None);
        prop_assert!(decided.reasons.iter().all(|text| text.ends_with('.')));
        let last = decided.reasons.last().unwrap().to_lowercase();
        prop_assert!(last.contains(decided.decision.name()), "{}", last);
    }
}
