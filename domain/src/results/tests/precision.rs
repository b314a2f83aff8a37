//! Replicates, against ISO 5725-6 and published repeatability limits.

use rust_decimal::Decimal;

use super::{Bench, amount, number};
use crate::dilution::Factor;
use crate::procedures::PrecisionModel;
use crate::results::{Concern, Needs, Statistic, critical_range_factor, final_value};

fn sigma(constant: &str, proportional: &str) -> PrecisionModel {
    PrecisionModel {
        constant: amount(constant),
        proportional: number(proportional),
    }
}

fn numbers(list: &[&str]) -> Vec<Decimal> {
    list.iter().map(|text| number(text).0).collect()
}

#[test]
fn the_critical_range_factors_are_those_of_the_table() {
    // ISO 5725-6:1994, table 1 (from memory; 2.8 and 3.3 also read at
    // http://projects.bre.co.uk/aggregate/General/Formulae.htm).
    for (determinations, factor) in [
        (2, "2.8"),
        (3, "3.3"),
        (4, "3.6"),
        (5, "3.9"),
        (6, "4.0"),
        (7, "4.2"),
        (8, "4.3"),
        (9, "4.4"),
        (10, "4.5"),
    ] {
        assert_eq!(
            critical_range_factor(determinations),
            Some(number(factor).0)
        );
    }
}

#[test]
fn the_critical_range_of_two_is_the_repeatability_limit() {
    // Cross-testing of aggregates, total sulfur: s_r 0.021, 0.042, 0.047 give r 0.059, 0.118,
    // 0.131, printed to three places from unrounded figures
    // (http://projects.bre.co.uk/aggregate/TStest/TSrvals.htm).
    for (s_r, r) in [("0.021", "0.059"), ("0.042", "0.118"), ("0.047", "0.131")] {
        let (_, replicates) =
            final_value(&numbers(&["1", "1"]), Some(&sigma(s_r, "0")), Factor::ONE).unwrap();
        let critical = replicates.check.unwrap().critical_range.ug_per_kg();
        let apart = (critical - number(r).0).abs();
        assert!(apart <= number("0.002").0, "{critical} against {r}");
    }
}

#[test]
fn two_results_and_two_further_ones_give_the_final_quoted_value() {
    // ISO 5725-6:1994, 5.2.2.1: the rule from memory, the numbers constructed. s_r = 0.5.
    for (series, value, count, statistic) in [
        (&["10.0", "11.3"][..], "10.65", 2, Statistic::Mean),
        (
            &["10.0", "12.0", "10.6", "11.7"][..],
            "11.15",
            4,
            Statistic::Median,
        ),
        (
            &["10.0", "11.6", "10.6", "11.2"][..],
            "10.85",
            4,
            Statistic::Mean,
        ),
    ] {
        let (got, replicates) =
            final_value(&numbers(series), Some(&sigma("0.5", "0")), Factor::ONE).unwrap();
        assert_eq!(got, number(value).0);
        assert_eq!(replicates.determinations, count);
        assert_eq!(replicates.statistic, statistic);
        assert_eq!(replicates.further, 0);
    }
}

#[test]
fn equal_to_the_critical_range_is_within_it() {
    let within = |apart: &str| {
        let (_, replicates) = final_value(
            &[number("10").0, number("10").0 + number(apart).0],
            Some(&sigma("0.5", "0")),
            Factor::ONE,
        )
        .unwrap();
        replicates.further == 0
    };
    assert!(within("1.4"), "2.8 times 0.5");
    assert!(!within("1.400001"));
}

#[test]
fn the_constant_part_grows_with_the_dilution() {
    let six = Factor::new(6, 1).unwrap();
    let apart = numbers(&["60", "68"]);
    let (_, diluted) = final_value(&apart, Some(&sigma("0.5", "0")), six).unwrap();
    let (_, plain) = final_value(&apart, Some(&sigma("0.5", "0")), Factor::ONE).unwrap();
    assert_eq!((diluted.further, plain.further), (0, 2), "8.4 against 1.4");
}

#[test]
fn replicates_that_disagree_want_two_further_determinations() {
    // s_r = 0.5 + 0.05 × 12 = 1.1, critical range 3.08.
    let result = Bench::new().run(0, "10").run(0, "14").result();
    assert_eq!(
        result.needs,
        Some(Needs::FurtherDeterminations { further: 2 })
    );
    assert!(matches!(
        &result.concerns[..],
        [Concern::ReplicateDisagreement { runs, .. }] if runs.len() == 2
    ));
    let three = Bench::new().run(0, "10").run(0, "14").run(0, "10").result();
    assert_eq!(
        three.needs,
        Some(Needs::FurtherDeterminations { further: 1 })
    );
    let four = Bench::new()
        .run(0, "10")
        .run(0, "14.5")
        .run(0, "10.2")
        .run(0, "10.4")
        .result();
    assert_eq!(four.needs, None);
    assert!(four.concerns.is_empty());
    assert_eq!(four.replicates.unwrap().statistic, Statistic::Median);
    assert_eq!(four.reported.as_deref(), Some("10.3"));
}

#[test]
fn replicates_that_agree_have_their_mean() {
    let result = Bench::new().run(0, "10").run(0, "12.5").result();
    assert_eq!(result.needs, None);
    assert_eq!(result.concentration, Some(amount("11.250000")));
    assert_eq!(result.reported.as_deref(), Some("11.2"), "half to even");
}

#[test]
fn a_number_beside_less_than_quantification_is_not_averaged() {
    let result = Bench::new().run(0, "2.4").run(0, "1.5").result();
    assert_eq!(result.reported.as_deref(), Some("2.4"), "not understated");
    let below = Bench::new()
        .run(0, "2.4")
        .run(0, "1.5")
        .run(0, "ND")
        .result();
    assert_eq!(below.reported.as_deref(), Some("< 2"));
    assert_eq!(below.concentration, None);
    let nothing = Bench::new().run(0, "ND").run(0, "1.5").result();
    assert_eq!(nothing.reported.as_deref(), Some("< 2"), "the weaker claim");
}
