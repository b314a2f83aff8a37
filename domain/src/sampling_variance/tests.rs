//! Variances and curves against published numbers and computed check values.
#![expect(clippy::unwrap_used, clippy::indexing_slicing, reason = "tests may")]

use proptest::prelude::*;
use serde_json::json;

use super::*;
use crate::statistics::skewed::SkewedDistribution;

fn plan(model: &str, sample_kg: &str, portion_g: &str, readings: u32) -> TestPlan {
    serde_json::from_value(
        json!({"model": {"model": model}, "sample_mass_kg": sample_kg,
        "test_portion_g": portion_g, "readings": readings}),
    )
    .unwrap()
}

fn at(plan: &TestPlan, concentration: &str) -> LotVariance {
    let inputs = VarianceInputs {
        concentration_ug_per_kg: concentration.parse().unwrap(),
        plan: plan.clone(),
    };
    variance(&inputs).unwrap()
}

fn places(value: Number, places: u32) -> String {
    let mut shown = value.0.round_dp(places);
    shown.rescale(places);
    shown.to_string()
}

#[test]
fn published_variances_of_aflatoxin_in_corn_come_out() {
    // Abstract of Johansson's thesis, NC State University: C = 20, 1.13 kg, 50 g, one reading.
    let found = at(&plan("aflatoxin-shelled-corn", "1.13", "50", 1), "20");
    let parts = [found.sampling, found.preparation, found.analysis];
    let shown = |figure: fn(&VariancePart) -> Number| {
        parts
            .iter()
            .map(|part| places(figure(part), 1))
            .collect::<Vec<_>>()
    };
    assert_eq!(shown(|part| part.variance), ["214.0", "56.3", "4.6"]);
    assert_eq!(shown(|part| part.share_percent), ["77.8", "20.5", "1.7"]);
    // The thesis prints 82.9, 73.1, 37.5 and 10.7; unrounded the last is 10.75.
    assert_eq!(shown(|part| part.cv_percent), ["73.1", "37.5", "10.7"]);
    assert_eq!(places(found.cv_percent_of_one_sample, 1), "82.9");
    assert_eq!(places(found.of_one_sample, 3), "274.919");
}

#[test]
fn published_coefficients_of_variation_of_deoxynivalenol_in_wheat_come_out() {
    // Whitaker et al., J AOAC Int 83 (2000) 1285: 0.454 kg, 25 g, 5 mg/kg.
    let found = at(&plan("deoxynivalenol-wheat", "0.454", "25", 1), "5000");
    let shown = [found.sampling, found.preparation, found.analysis];
    let shown: Vec<_> = shown
        .iter()
        .map(|part| places(part.cv_percent, 1))
        .collect();
    assert_eq!(shown, ["6.3", "10.0", "6.3"]);
    assert_eq!(places(found.cv_percent_of_one_sample, 1), "13.4");
    // Computed with the stated formula: 0.45095 (mg/kg)².
    assert_eq!(places(found.of_one_sample, 0), "450945");
}

#[test]
fn variances_of_fumonisin_in_corn_have_the_shares_of_the_abstract() {
    // Whitaker et al., J AOAC Int 81 (1998) 1162: 61, 18 and 21 % at 2 mg/kg (from memory).
    let found = at(&plan("fumonisin-shelled-corn", "1.1", "25", 1), "2000");
    let shown = [found.sampling, found.preparation, found.analysis];
    let shown: Vec<_> = shown
        .iter()
        .map(|part| places(part.share_percent, 0))
        .collect();
    assert_eq!(shown, ["61", "18", "21"]);
    let total = found.of_one_sample.0 / rust_decimal::Decimal::from(1_000_000);
    assert_eq!(places(Number(total), 5), "0.18210");
}

fn curve(
    plan: &TestPlan,
    distribution: SkewedDistribution,
    concentrations: &[&str],
) -> Vec<CharacteristicPoint> {
    let inputs = CharacteristicInputs {
        plan: plan.clone(),
        accept_limit_ug_per_kg: "20".parse().unwrap(),
        legal_limit_ug_per_kg: None,
        concentrations: Concentrations::Listed {
            values: concentrations
                .iter()
                .map(|one| one.parse().unwrap())
                .collect(),
        },
        distribution: Some(distribution),
        rule: SampleRule::Mean,
    };
    characteristic(&inputs).unwrap().points
}

#[test]
fn acceptance_probabilities_are_those_computed_by_a_general_library() {
    // Computed with the stated formulae by a general numeric library: accept limit 20 µg/kg,
    // 1.13 kg, 50 g, one reading; gamma, negative binomial, lognormal.
    let concentrations = ["5", "10", "15", "20", "30", "40", "60", "80", "100"];
    let expected = [
        [
            "0.9442", "0.8523", "0.7361", "0.6100", "0.3746", "0.2023", "0.0434", "0.0068",
            "0.0008",
        ],
        [
            "0.9465", "0.8564", "0.7420", "0.6174", "0.3843", "0.2124", "0.0494", "0.0088",
            "0.0013",
        ],
        [
            "0.9632", "0.8874", "0.7763", "0.6412", "0.3648", "0.1631", "0.0167", "0.0008",
            "0.0000",
        ],
    ];
    let one = plan("aflatoxin-shelled-corn", "1.13", "50", 1);
    let distributions = [
        SkewedDistribution::Gamma,
        SkewedDistribution::NegativeBinomial,
        SkewedDistribution::Lognormal,
    ];
    for (distribution, expected) in distributions.into_iter().zip(expected) {
        let found: Vec<_> = curve(&one, distribution, &concentrations)
            .iter()
            .map(|point| places(point.probability_accepted, 4))
            .collect();
        assert_eq!(found, expected, "{}", distribution.name());
    }
}

#[test]
fn larger_samples_follow_the_general_form() {
    // Computed with 12.95/ms as above: gamma at 10, 20, 40 and 60 µg/kg, and V at 20.
    for (sample, portion, readings, expected, variance) in [
        (
            "0.91",
            "50",
            1,
            ["0.8467", "0.6201", "0.2331", "0.0611"],
            "328.9950",
        ),
        (
            "2.27",
            "50",
            1,
            ["0.8770", "0.5863", "0.1255", "0.0133"],
            "168.3930",
        ),
        (
            "4.54",
            "50",
            1,
            ["0.9047", "0.5712", "0.0769", "0.0039"],
            "114.6622",
        ),
        (
            "4.54",
            "100",
            2,
            ["0.9249", "0.5610", "0.0409", "0.0006"],
            "84.1965",
        ),
    ] {
        let plan = plan("aflatoxin-shelled-corn", sample, portion, readings);
        let points = curve(&plan, SkewedDistribution::Gamma, &["10", "20", "40", "60"]);
        let found: Vec<_> = points
            .iter()
            .map(|point| places(point.probability_accepted, 4))
            .collect();
        assert_eq!(found, expected);
        assert_eq!(places(points[1].variance, 4), variance);
        // At C = L it is above one half: the median lies below the mean.
        assert!(points[1].probability_accepted.0 > rust_decimal::Decimal::new(5, 1));
    }
}

#[test]
fn models_decline_what_lies_outside_their_range() {
    let inputs = |concentration: &str, sample: &str, portion: &str| VarianceInputs {
        concentration_ug_per_kg: concentration.parse().unwrap(),
        plan: plan("deoxynivalenol-wheat", sample, portion, 1),
    };
    for (given, quantity) in [
        (inputs("100", "1", "25"), "concentration"),
        (inputs("1000", "0.01", "25"), "sample mass"),
        (inputs("1000", "1", "1"), "test portion"),
    ] {
        let refused = variance(&given).unwrap_err();
        assert_eq!(refused.quantity(), quantity);
        assert!(
            refused.to_string().contains("deoxynivalenol in wheat"),
            "{refused}"
        );
    }
}

#[test]
fn buyer_and_seller_bear_the_risks_on_their_own_side_of_the_limit() {
    let one = plan("aflatoxin-shelled-corn", "4.54", "50", 1);
    let points = curve(&one, SkewedDistribution::Gamma, &["20", "20.1"]);
    let (good, bad) = (points[0], points[1]);
    assert!(good.seller_risk.is_some() && good.buyer_risk.is_none());
    assert_eq!(bad.buyer_risk, Some(bad.probability_accepted));
    let each = CharacteristicInputs {
        plan: TestPlan { samples: 2, ..one },
        accept_limit_ug_per_kg: "20".parse().unwrap(),
        legal_limit_ug_per_kg: None,
        concentrations: Concentrations::Listed {
            values: vec!["20".parse().unwrap()],
        },
        distribution: None,
        rule: SampleRule::Each,
    };
    let both = characteristic(&each).unwrap().points[0]
        .probability_accepted
        .0;
    let squared = good.probability_accepted.0 * good.probability_accepted.0;
    assert!((both - squared).abs() < rust_decimal::Decimal::new(1, 10));
}

#[test]
fn a_lot_is_likelier_over_the_limit_the_higher_its_result() {
    let chance = |seen: &str| {
        let inputs: ChanceInputs = serde_json::from_value(json!({
            "plan": {"model": {"model": "aflatoxin-shelled-corn"}, "sample_mass_kg": "4.54",
                "test_portion_g": "50"},
            "seen": {"kind": "value", "of": seen}, "limit_ug_per_kg": "20",
            "before": {"prior": "lognormal", "median": "8", "geometric_standard_deviation": "3"}}))
        .unwrap();
        chance_above(&inputs).unwrap().probability_above.0
    };
    let found: Vec<_> = ["2", "10", "20", "40", "80"]
        .iter()
        .map(|seen| chance(seen))
        .collect();
    assert!(found.is_sorted(), "{found:?}");
    assert!(
        found[0] < rust_decimal::Decimal::new(2, 1) && found[4] > rust_decimal::Decimal::new(8, 1)
    );
}

#[test]
fn earlier_lots_are_weighed_by_how_well_they_explain_the_result() {
    // Two lots, 10 and 40 µg/kg, normal with variance 16 at both: the likelihoods of 30 are those
    // of 5 and 2.5 standard deviations, so the odds are e^(25/2 - 6.25/2) = e^9.375.
    let inputs: ChanceInputs = serde_json::from_value(json!({
        "plan": {"model": {"model": "own", "name": "constant",
                "sampling": {"coefficient": "16", "exponent": "0"},
                "preparation": {"coefficient": "0", "exponent": "0"},
                "analysis": {"coefficient": "0", "exponent": "0"},
                "reference_sample_mass_kg": "1", "reference_test_portion_g": "50",
                "concentration_ug_per_kg": ["1", "100"], "distribution": "normal"},
            "sample_mass_kg": "1", "test_portion_g": "50"},
        "seen": {"kind": "value", "of": "30"}, "limit_ug_per_kg": "20",
        "before": {"prior": "lots", "concentrations": ["10", "40"]}}))
    .unwrap();
    let chance = chance_above(&inputs).unwrap();
    // 1/(1 + e^9.375) = 0.0000848086...
    assert_eq!(places(chance.probability_not_above, 7), "0.0000848");
}

proptest! {
    #[test]
    fn acceptance_falls_with_concentration(
        low in 50_u32..6_000, more in 1_u32..800, kilograms in 100_u32..999, model in 0_usize..3,
        gamma in any::<bool>(),
    ) {
        let (model, unit) = [
            ("aflatoxin-shelled-corn", 1_u32), ("fumonisin-shelled-corn", 100),
            ("deoxynivalenol-wheat", 100),
        ][model];
        let one = plan(model, &format!("0.{kilograms:03}"), "25", 1);
        let tenth = |value: u32| format!("{}.{}", value * unit / 10, value * unit % 10);
        let (low, high) = (tenth(low), tenth(low + more));
        let most = one.model.facts().unwrap().concentration_ug_per_kg;
        let inside = |text: &str| {
            let value: Number = text.parse().unwrap();
            value >= most[0] && value <= most[1]
        };
        prop_assume!(inside(&low) && inside(&high));
        let distribution = if gamma {
            SkewedDistribution::Gamma
        } else {
            SkewedDistribution::Lognormal
        };
        let points = curve(&one, distribution, &[&low, &high]);
        prop_assert!(points[0].probability_accepted >= points[1].probability_accepted);
    }
}
