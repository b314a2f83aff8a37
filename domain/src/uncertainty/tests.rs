//! Budgets as a whole: order, scale, parts that shrink and parts that do not.
#![expect(clippy::unwrap_used, clippy::indexing_slicing, reason = "tests may")]

use proptest::prelude::*;
use rust_decimal::Decimal;
use serde_json::json;

use super::combination::{WeightedMeanInputs, weighted_mean};
use super::of_result::{ResultBudget, ResultBudgetInputs, result_budget};

fn budget(inputs: serde_json::Value) -> ResultBudget {
    result_budget(&serde_json::from_value(inputs).unwrap()).unwrap()
}

#[test]
fn a_diluted_result_has_a_line_for_each_part() {
    let found = budget(json!({
        "found_ug_per_kg": "60", "dilution_factor": "6", "determinations": 2,
        "precision": {"constant_ug_per_kg": "0.5", "proportional": "0.08"},
        "repeatability": {"constant_ug_per_kg": "0.3", "proportional": "0.05"},
        "bias": {"mean_found": "19.8", "standard_deviation": "1.2", "determinations": 9,
            "assigned_value": "20", "assigned_standard_uncertainty": "0.6"},
        "dilution": [{"sample": {"volume": "100", "doubts": [{"source": "pipette",
            "doubt": {"kind": "half-width", "half_width": "0.8"}}]},
            "with": {"kind": "diluent", "volume": "500"}}],
        "test_portion": {"mass_g": "10", "doubts": [{"source": "balance",
            "doubt": {"kind": "half-width", "half_width": "0.1"}}]},
        "lot": {"sampling": "100", "preparation": "20"}}));
    let sources: Vec<_> = found
        .analysis
        .lines
        .iter()
        .map(|line| line.source.as_str())
        .collect();
    assert_eq!(
        sources,
        [
            "precision, constant part",
            "precision, proportional part",
            "bias, mean of the control material",
            "bias, assigned value",
            "dilution, sample volume",
            "test portion: balance",
        ]
    );
    // s² = 0.5² - 0.3²·(1 - 1/2), times the factor 6: 6·√0.205 = 2.7166.
    assert_eq!(
        found.analysis.lines[0]
            .contribution
            .0
            .round_dp(4)
            .to_string(),
        "2.7166"
    );
    // 60 · √(0.08² - 0.05²/2) = 60 · √0.00515 = 4.3058.
    assert_eq!(
        found.analysis.lines[1]
            .contribution
            .0
            .round_dp(4)
            .to_string(),
        "4.3058"
    );
    assert!(!found.bias.unwrap().significant);
    let lot = found.lot.unwrap();
    assert_eq!(lot.lines.len(), sources.len() + 2);
    assert!(lot.combined > found.analysis.combined);
    let shares: Decimal = found
        .analysis
        .lines
        .iter()
        .map(|line| line.share_percent.0)
        .sum();
    assert!((shares - Decimal::ONE_HUNDRED).abs() < Decimal::new(1, 6));
}

#[test]
fn a_bias_that_is_significant_and_not_corrected_is_a_line_of_its_own() {
    let evidence = |corrected: bool| {
        json!({"found_ug_per_kg": "10", "bias": {"mean_found": "23", "standard_deviation": "0.6",
            "determinations": 9, "assigned_value": "20", "assigned_standard_uncertainty": "0.2",
            "corrected": corrected}})
    };
    let lines = |corrected| budget(evidence(corrected)).analysis.lines.len();
    assert_eq!((lines(false), lines(true)), (3, 2));
}

#[test]
fn a_recovery_is_corrected_for_once_and_adds_its_line() {
    // 8.4 / 0.84 = 10, and u(R)/R = 0.03/0.84 of it.
    let found = budget(json!({"found_ug_per_kg": "8.4",
        "precision": {"constant_ug_per_kg": "0.6", "proportional": "0"},
        "recovery": {"recovery": "0.84", "standard_uncertainty": "0.03"}}));
    assert!(found.corrected_for_recovery);
    assert_eq!(found.value_ug_per_kg.to_string(), "10");
    assert_eq!(
        found.analysis.combined.0.round_dp(7).to_string(),
        "0.7985957"
    );
}

/// ISO 5725-2:2019, relation II: s_r = a + b m, here (0.3 + 0.05 × 20) µg/kg.
#[test]
fn repeatability_alone_is_a_straight_line_of_the_value() {
    let combined = |runs: u32| {
        let inputs: ResultBudgetInputs = serde_json::from_value(json!({
            "found_ug_per_kg": "20", "determinations": runs,
            "repeatability": {"constant_ug_per_kg": "0.3", "proportional": "0.05"}}))
        .unwrap();
        result_budget(&inputs).unwrap().analysis.combined
    };
    assert_eq!(combined(1).to_string(), "1.3");
    assert_eq!(combined(4).to_string(), "0.65");
}

proptest! {
    #[test]
    fn the_order_of_results_does_not_matter(
        values in prop::collection::vec((1_i64..10_000, 1_i64..1_000), 2..8), turn in 0_usize..8,
    ) {
        let results: Vec<_> = values.iter().map(|(value, u)| json!({
            "value": Decimal::new(*value, 2).to_string(),
            "standard_uncertainty": Decimal::new(*u, 3).to_string()})).collect();
        let mut turned = results.clone();
        turned.rotate_left(turn % results.len());
        let mean = |results: Vec<serde_json::Value>| {
            let inputs: WeightedMeanInputs =
                serde_json::from_value(json!({"results": results})).unwrap();
            let mean = weighted_mean(&inputs).unwrap();
            (mean.mean, mean.standard_uncertainty, mean.largest_difference)
        };
        prop_assert_eq!(mean(results), mean(turned));
    }

    #[test]
    fn more_runs_never_make_a_result_less_sure(
        constant in 0_i64..100, proportional in 1_i64..300, part in 0_i64..100, runs in 1_u32..9,
    ) {
        let with = |runs: u32| {
            let inputs: ResultBudgetInputs = serde_json::from_value(json!({
                "found_ug_per_kg": "25", "determinations": runs,
                "precision": {"constant_ug_per_kg": Decimal::new(constant, 2).to_string(),
                    "proportional": Decimal::new(proportional, 3).to_string()},
                "repeatability": {
                    "constant_ug_per_kg": Decimal::new(constant * part / 100, 2).to_string(),
                    "proportional": Decimal::new(proportional * part / 100, 3).to_string()}}))
            .unwrap();
            result_budget(&inputs).unwrap().analysis.combined
        };
        prop_assert!(with(runs + 1) <= with(runs));
    }
}
