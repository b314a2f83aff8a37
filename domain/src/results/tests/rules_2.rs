//! Results by rules number 2: budgets kept line by line, decisions with probabilities.

use rust_decimal::Decimal;
use serde_json::json;

use super::{Bench, amount, number};
use crate::procedures::PrecisionModel;
use crate::results::{BudgetEvidence, ComputedResult, compute_by, compute_by_rules_2};

fn by_rules_2(bench: &Bench, evidence: &BudgetEvidence) -> ComputedResult {
    let order: Vec<usize> = (0..bench.runs.len()).collect();
    bench.with_inputs(&order, |inputs| compute_by_rules_2(inputs, evidence))
}

fn precise(mut bench: Bench) -> Bench {
    bench.procedure.precision = Some(PrecisionModel {
        constant: amount("0.6"),
        proportional: number("0.04"),
    });
    bench.procedure.repeatability = None;
    bench
}

#[test]
fn a_result_keeps_its_budget_and_its_decision_its_probability() {
    let bench = precise(Bench::new().run(0, "18").limit_20());
    let result = by_rules_2(&bench, &BudgetEvidence::default());
    assert_eq!(result.rules, 2);
    let kept = result.uncertainty.unwrap();
    // u² = 0.6² + (0.04 · 18)² = 0.8784 (QUAM:2012.P1, appendix E.4); U = 2u = 1.874460...
    assert_eq!(kept.expanded.to_string(), "1.874460");
    let lines: Vec<_> = kept
        .lines
        .iter()
        .map(|line| line.contribution.to_string())
        .collect();
    assert_eq!(lines, ["0.600000", "0.720000"]);
    let likely = result.decisions[0].probability_of_conformity.unwrap();
    // Φ((20 - 18)/0.937230) = Φ(2.133948) = 0.983576 (JCGM 106:2012, 7.3).
    assert_eq!(likely.to_string(), "0.983576");
}

#[test]
fn a_dilution_scales_the_constant_part_and_adds_its_own_line() {
    let bench = precise(Bench::new().run(500, "12").limit_20());
    let evidence = BudgetEvidence {
        dilution: vec![
            serde_json::from_value(json!({
            "sample": {"volume": "100", "doubts": [{"source": "pipette",
                "doubt": {"kind": "half-width", "half_width": "0.8"}}]},
            "with": {"kind": "diluent", "volume": "500", "doubts": [{"source": "pipette",
                "doubt": {"kind": "half-width", "half_width": "8"}}]}}))
            .unwrap(),
        ],
        corrected_recovery: Some((number("0.8"), number("0.04"))),
        ..BudgetEvidence::default()
    };
    let result = by_rules_2(&bench, &evidence);
    let kept = result.uncertainty.unwrap();
    let lines: Vec<_> = kept
        .lines
        .iter()
        .map(|line| (line.source.as_str(), line.contribution.to_string()))
        .collect();
    // 72 µg/kg: 6 · 0.6; 0.04 · 72; 72/6 · 5 · 0.8/(100√3); 72/6 · 8/(100√3); 0.05 · 72.
    let expected = [
        ("precision, constant part", "3.600000"),
        ("precision, proportional part", "2.880000"),
        ("dilution, sample volume", "0.277128"),
        ("dilution, diluent", "0.554256"),
        ("recovery", "3.600000"),
    ];
    let expected: Vec<_> = expected
        .iter()
        .map(|(name, text)| (*name, (*text).to_owned()))
        .collect();
    assert_eq!(lines, expected);
}

#[test]
fn without_a_stated_precision_no_budget_is_made_up() {
    let mut bench = Bench::new().run(0, "18").limit_20();
    bench.procedure.repeatability = None;
    bench.procedure.precision = None;
    let result = by_rules_2(&bench, &BudgetEvidence::default());
    assert!(result.uncertainty.is_none());
    assert!(result.decisions[0].probability_of_conformity.is_none());
    let over = by_rules_2(
        &precise(Bench::new().run(0, ">50").limit_20()),
        &BudgetEvidence::default(),
    );
    assert!(over.uncertainty.is_none(), "a bound has no uncertainty");
}

#[test]
fn all_else_is_as_by_rules_number_1() {
    for bench in [
        Bench::new().run(0, "12.5").run(0, "12.9").limit_20(),
        Bench::new().run(0, ">50").limit("100"),
        Bench::new().run(0, "ND").limit_20(),
        Bench::new().limit_20(),
    ] {
        let order: Vec<usize> = (0..bench.runs.len()).collect();
        let by = |rules| bench.with_inputs(&order, |inputs| compute_by(rules, inputs).unwrap());
        let (one, mut two) = (by(1), by(2));
        for (first, second) in one.decisions.iter().zip(&two.decisions) {
            assert_eq!(first.decision, second.decision);
        }
        two.rules = 1;
        two.uncertainty = None;
        two.decisions.clone_from(&one.decisions);
        assert_eq!(one, two);
    }
}

#[test]
fn replicates_shrink_repeatability_alone() {
    let mut single = precise(Bench::new().run(0, "18"));
    single.procedure.repeatability = Some(PrecisionModel {
        constant: amount("0.6"),
        proportional: number("0.04"),
    });
    let mut double = precise(Bench::new().run(0, "18").run(0, "18"));
    double.procedure.repeatability = single.procedure.repeatability;
    let expanded = |bench: &Bench| {
        let kept = by_rules_2(bench, &BudgetEvidence::default()).uncertainty;
        kept.unwrap().expanded.ug_per_kg()
    };
    // All of it is repeatability here: u falls by √2.
    let ratio = expanded(&single) / expanded(&double);
    assert!(
        (ratio * ratio - Decimal::TWO).abs() < Decimal::new(1, 4),
        "{ratio}"
    );
}
