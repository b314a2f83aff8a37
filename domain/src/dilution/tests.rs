//! Dilution factors, by properties and by hand.
#![expect(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "tests may panic"
)]

use proptest::prelude::*;
use rust_decimal::Decimal;

use super::{
    DilutionError, DilutionStep, Factor, agrees_at_its_places, check_stated_factor, check_steps,
    check_values, factor_of,
};
use crate::quantity::Number;

fn step(sample: &str, diluent: &str) -> DilutionStep {
    DilutionStep {
        sample_volume_ul: sample.parse().unwrap(),
        diluent_volume_ul: diluent.parse().unwrap(),
        diluent: "water".into(),
        pipette: None,
        diluent_pipette: None,
    }
}

fn factor(steps: &[(&str, &str)]) -> String {
    let steps: Vec<DilutionStep> = steps.iter().map(|(s, d)| step(s, d)).collect();
    factor_of(&steps).unwrap().to_string()
}

#[test]
fn factors_follow_from_volumes() {
    // F = (V_s + V_d)/V_s, JCGM 100:2008 5.1.2 as applied in a constructed example: 6.
    assert_eq!(factor(&[("100", "500")]), "6");
    assert_eq!(factor(&[("150", "500")]), "13/3");
    assert_eq!(factor(&[("100.00", "500.0")]), "6", "places change nothing");
    assert_eq!(factor(&[("0.1", "0.25")]), "7/2");
    assert_eq!(factor(&[("100", "500"), ("100", "300")]), "24");
    assert_eq!(factor(&[]), "1");
}

#[test]
fn volumes_that_cannot_be_delivered_are_refused() {
    for (sample, diluent) in [("0", "500"), ("100", "0"), ("-100", "500"), ("100", "-1")] {
        let refused = factor_of(&[step("100", "500"), step(sample, diluent)]);
        assert!(matches!(
            refused,
            Err(DilutionError::NotAVolume { step: 2, .. })
        ));
        let faults = check_steps(&[step(sample, diluent)]).unwrap_err();
        assert!(faults.0[0].pointer.starts_with("/0/"));
    }
}

#[test]
fn factors_too_large_to_be_kept_are_refused() {
    let huge = step("0.000000001", "9999999999");
    assert_eq!(
        factor_of(&[huge.clone(), huge]),
        Err(DilutionError::TooLarge)
    );
    let digits = step(
        "0.0000000000000000000000000001",
        "79228162514264337593543950335",
    );
    assert_eq!(factor_of(&[digits]), Err(DilutionError::TooLarge));
    let many = vec![step("1", "999"); 40];
    assert_eq!(check_steps(&many).unwrap_err().0[0].pointer, "");
    let six = Factor::new(6, 1).unwrap();
    assert_eq!(six.apply(Decimal::MAX), Err(DilutionError::ValueTooLarge));
}

#[test]
fn a_stated_factor_is_compared_at_its_own_places() {
    let thirds = factor_of(&[step("150", "500")]).unwrap();
    for (stated, agrees) in [
        ("4.33", true),
        ("4.3", true),
        ("4", true),
        ("4.333", true),
        ("4.4", false),
        ("4.34", false),
        ("4.330", false),
        ("13", false),
    ] {
        let stated: Number = stated.parse().unwrap();
        assert_eq!(agrees_at_its_places(thirds, stated), agrees, "{stated}");
        assert_eq!(check_stated_factor(thirds, stated).is_none(), agrees);
    }
}

#[test]
fn a_multiplied_value_is_compared_at_the_places_of_both() {
    let thirds = factor_of(&[step("150", "500")]).unwrap();
    let agrees = |value: &str, multiplied: &str| {
        check_values(thirds, value.parse().unwrap(), multiplied.parse().unwrap()).is_none()
    };
    assert!(agrees("3.6", "15.6"));
    assert!(agrees("3.6", "15.8"), "3.6 may have been 3.64");
    assert!(!agrees("3.6", "16.0"));
    assert!(!agrees("3.6", "3.6"), "not multiplied");
    assert!(!agrees("3.6", "67.6"), "multiplied twice");
}

#[test]
fn a_written_factor_is_in_lowest_terms() {
    let read = |text: &str| serde_json::from_str::<Factor>(text);
    assert!(read(r#"{"denominator":"3","numerator":"13"}"#).is_ok());
    for wrong in [
        r#"{"denominator":"6","numerator":"26"}"#,
        r#"{"denominator":"03","numerator":"13"}"#,
        r#"{"denominator":"13","numerator":"3"}"#,
        r#"{"denominator":"0","numerator":"3"}"#,
        r#"{"denominator":3,"numerator":13}"#,
    ] {
        assert!(read(wrong).is_err(), "{wrong}");
    }
}

fn any_volume() -> impl Strategy<Value = Number> {
    (1_i64..100_000, 0_u32..3).prop_map(|(digits, places)| Number(Decimal::new(digits, places)))
}

fn any_steps() -> impl Strategy<Value = Vec<DilutionStep>> {
    let step = (any_volume(), any_volume()).prop_map(|(sample, diluent)| DilutionStep {
        sample_volume_ul: sample,
        diluent_volume_ul: diluent,
        ..step("1", "1")
    });
    prop::collection::vec(step, 0..3)
}

proptest! {
    #[test]
    fn the_order_of_steps_does_not_matter(steps in any_steps()) {
        let mut reversed = steps.clone();
        reversed.reverse();
        prop_assert_eq!(factor_of(&steps), factor_of(&reversed));
    }

    #[test]
    fn a_factor_is_one_or_more_and_comes_back_from_json(steps in any_steps()) {
        if let Ok(factor) = factor_of(&steps) {
            prop_assert!(factor >= Factor::ONE);
            let text = serde_json::to_string(&factor).unwrap();
            prop_assert_eq!(serde_json::from_str::<Factor>(&text).unwrap(), factor);
        }
    }

    #[test]
    fn applying_and_undoing_gives_the_value_back(steps in any_steps(), digits in 0_i64..1_000_000) {
        if let Ok(factor) = factor_of(&steps) {
            let value = Decimal::new(digits, 3);
            let there = factor.apply(value).and_then(|diluted| factor.undo(diluted));
            if let Ok(back) = there {
                prop_assert_eq!(back.round_dp(9), value.round_dp(9));
            }
        }
    }

    #[test]
    fn a_factor_agrees_with_itself_rounded(steps in any_steps(), places in 0_u32..6) {
        if let Ok(factor) = factor_of(&steps) {
            let exact = factor.apply(Decimal::ONE).unwrap();
            let mut written = exact.round_dp(places);
            written.rescale(places);
            prop_assert!(agrees_at_its_places(factor, Number(written)));
        }
    }
}
