//! Validations against constructed check values and the rules of the regulation.
#![expect(clippy::unwrap_used, clippy::indexing_slicing, reason = "tests may")]

use chrono::NaiveDate;
use proptest::prelude::*;
use rust_decimal::Decimal;

use super::*;
use crate::quantity::Number;
use crate::statistics::screening::{ResponseDirection, TableOfT};

fn number(text: &str) -> Number {
    text.parse().unwrap()
}

/// Controls over five days whose responses go up and down about a middle.
fn set(blanks: usize, positives: usize, days: u32) -> ValidationInputs {
    let one = |place: usize, kind, middle: i64| {
        let place = i64::try_from(place).unwrap();
        let day = u32::try_from(place).unwrap() % days + 1;
        ControlDetermination {
            kind,
            on: NaiveDate::from_ymd_opt(2026, 3, day).unwrap(),
            laboratory: None,
            content: None,
            response: Number(Decimal::new(middle + (place * 7) % 11 - 5, 2)),
        }
    };
    let negative = (0..blanks).map(|place| one(place, ControlKind::Negative, 90));
    let positive = (0..positives).map(|place| one(place, ControlKind::Positive, 60));
    ValidationInputs {
        law: ValidationLaw::Eu2023,
        kind: ValidationKind::WithinLaboratory,
        response: ResponseDirection::Falling,
        screening_target: number("20"),
        table: TableOfT::Exact,
        determinations: negative.chain(positive).collect(),
    }
}

#[test]
fn a_whole_set_is_validated_and_reported() {
    let report = validate(&set(20, 24, 5)).unwrap();
    assert_eq!((report.blanks, report.positives, report.days), (20, 24, 5));
    assert_eq!(report.false_suspects, 0);
    assert!(report.cut_off.cut_off > report.target_mean);
    assert!(report.rate_obtained_by.contains("19 degrees of freedom"));
    // To two figures, as the target of 20 is written.
    assert_eq!(report.rounded_cut_off.0.scale(), 2);
}

#[test]
fn sets_that_are_too_small_or_too_quick_are_refused() {
    for (inputs, quantity) in [
        (set(19, 20, 5), "blanks"),
        (set(20, 19, 5), "controls at the target"),
        (set(20, 20, 4), "days of the blanks"),
    ] {
        assert_eq!(validate(&inputs).unwrap_err().quantity(), quantity);
    }
    let mut dirty = set(20, 20, 5);
    dirty.determinations[0].content = Some(number("4.1"));
    assert_eq!(
        validate(&dirty).unwrap_err().quantity(),
        "content of a blank"
    );
    dirty.determinations[0].content = Some(number("4"));
    assert!(validate(&dirty).is_ok(), "a fifth of the target is free");
    let mut flat = set(20, 20, 5);
    for one in &mut flat.determinations {
        one.response = number("0.5");
    }
    assert!(validate(&flat).is_err());
    let late = ValidationInputs {
        law: ValidationLaw::Eu2014,
        ..set(20, 20, 5)
    };
    assert_eq!(
        validate(&late).unwrap_err().quantity(),
        "last day of the validation"
    );
}

#[test]
fn a_collaborative_validation_needs_eight_laboratories() {
    let mut inputs = set(24, 24, 5);
    inputs.kind = ValidationKind::BetweenLaboratories;
    assert_eq!(validate(&inputs).unwrap_err().quantity(), "laboratory");
    let number_them = |inputs: &mut ValidationInputs, of: u32| {
        for (place, one) in inputs.determinations.iter_mut().enumerate() {
            one.laboratory = Some(u32::try_from(place).unwrap() % of);
        }
    };
    number_them(&mut inputs, 7);
    assert_eq!(validate(&inputs).unwrap_err().quantity(), "laboratories");
    number_them(&mut inputs, 8);
    assert_eq!(validate(&inputs).unwrap().laboratories, 8);
}

#[test]
fn a_review_joins_the_routine_controls_in_and_says_what_they_missed() {
    let validation = set(20, 20, 5);
    let mut routine = Vec::new();
    for (batch, response) in [("B-1", "0.60"), ("B-1", "0.62"), ("B-2", "0.95")] {
        routine.push(DeterminationOfBatch {
            batch: batch.into(),
            control: ControlDetermination {
                kind: ControlKind::Positive,
                on: NaiveDate::from_ymd_opt(2026, 9, 1).unwrap(),
                laboratory: None,
                content: None,
                response: number(response),
            },
        });
    }
    let inputs = ReviewInputs {
        validation,
        routine,
        reviewed_on: NaiveDate::from_ymd_opt(2026, 3, 5).unwrap(),
        on: NaiveDate::from_ymd_opt(2027, 3, 6).unwrap(),
    };
    let report = review(&inputs).unwrap();
    assert_eq!(report.missed_positives, 1);
    assert_eq!(report.batches_without_positives, ["B-2"]);
    assert!(!report.in_time, "a day late");
    assert_eq!(report.after.positives, 23);
    assert!(report.cut_off_moved.0 > Decimal::ZERO);
}

proptest! {
    #[test]
    fn the_order_of_controls_does_not_matter(seed in any::<u64>()) {
        let inputs = set(22, 21, 6);
        let mut shuffled = inputs.clone();
        let length = shuffled.determinations.len();
        let mut state = seed | 1;
        for place in (1..length).rev() {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
            let other = usize::try_from(state >> 33).unwrap() % (place + 1);
            shuffled.determinations.swap(place, other);
        }
        prop_assert_eq!(validate(&inputs).unwrap(), validate(&shuffled).unwrap());
    }
}
