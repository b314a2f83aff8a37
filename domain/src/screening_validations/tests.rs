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
        joined_before: Vec::new(),
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

fn entry() -> ScreeningValidationEntry {
    serde_json::from_str(include_str!("example.json")).unwrap()
}

fn adoption(on: &str) -> ScreeningAdoption {
    ScreeningAdoption {
        on: on.parse().unwrap(),
        by: "019ca869-5003-7d46-b59c-6cf85cca57e6".parse().unwrap(),
    }
}

fn adopted(entry: ScreeningValidationEntry) -> ScreeningValidation {
    let draft = ScreeningValidation::draft(entry).unwrap();
    draft.adopt(adoption("2026-03-09"), None, vec![]).unwrap()
}

fn pointers(entry: &ScreeningValidationEntry) -> Vec<String> {
    let faults = entry.check().err().unwrap_or_default();
    faults.0.into_iter().map(|fault| fault.pointer).collect()
}

#[test]
fn every_fault_of_an_entry_is_told_with_its_pointer() {
    let run = "019ca869-5003-7d46-b59c-6cf85cca5701".parse().unwrap();
    let with = |change: fn(&mut ScreeningValidationEntry)| {
        let mut changed = entry();
        change(&mut changed);
        pointers(&changed)
    };
    assert!(with(|_as_it_is| {}).is_empty());
    assert_eq!(with(|one| one.code = " ".into()), ["/code"]);
    assert_eq!(
        with(|one| one.screening_target = number("0")),
        ["/screening_target"]
    );
    assert_eq!(
        with(|one| one.determinations[3].value = None),
        ["/determinations/3/value"]
    );
    assert_eq!(
        with(|one| one.determinations[3].below = Some(number("2"))),
        ["/determinations/3/below"]
    );
    assert_eq!(
        with(|one| one.determinations[3].laboratory = Some(1)),
        ["/determinations/3/laboratory"]
    );
    assert_eq!(
        with(|one| one.response = ScreeningResponse::FallingSignal),
        ["/determinations/2/below"]
    );
    assert_eq!(
        with(|one| one.study = ScreeningStudy::Verification {
            of: None,
            stated: None
        }),
        ["/study"]
    );
    let mut twice = entry();
    twice.determinations[0].run = Some(run);
    twice.determinations[5].run = Some(run);
    assert_eq!(pointers(&twice), ["/determinations/5/run"]);
}

#[test]
fn how_a_blank_below_a_bound_is_counted_bears_on_the_rate_and_is_said() {
    let rates = [
        BelowCountedAs::Zero,
        BelowCountedAs::Half,
        BelowCountedAs::Bound,
    ]
    .map(|counted_as| {
        let report = ScreeningValidationEntry {
            below_counted_as: Some(counted_as),
            ..entry()
        }
        .report(None)
        .unwrap();
        assert!(report.remarks[0].starts_with("Blanks that read below a bound"));
        report.validation.unwrap().blank_mean.0
    });
    assert!(rates[0] < rates[1] && rates[1] < rates[2], "{rates:?}");
    let mut positive = entry();
    positive.determinations[20].value = None;
    positive.determinations[20].below = Some(number("1"));
    let refusal = positive.report(None).unwrap_err();
    assert_eq!(refusal.quantity(), "control at the target");
}

#[test]
fn an_incomplete_or_outdated_study_is_not_adopted() {
    let mut quick = entry();
    let day = quick.determinations[0].on;
    for one in &mut quick.determinations {
        one.on = day;
    }
    let draft = ScreeningValidation::draft(quick).unwrap();
    let refusal = draft.adopt(adoption("2026-03-09"), None, vec![]);
    assert!(
        matches!(&refusal, Err(ScreeningValidationError::Incomplete(fault))
            if fault.quantity() == "days of the blanks"),
        "{refusal:?}"
    );
    let mut old = entry();
    old.law = ValidationLaw::Eu2014;
    for one in &mut old.determinations {
        one.on = one.on - chrono::Days::new(1000);
    }
    let draft = ScreeningValidation::draft(old).unwrap();
    let in_time = draft.adopt(adoption("2028-12-31"), None, vec![]).unwrap();
    let day = |text: &str| text.parse().unwrap();
    assert_eq!(in_time.not_usable_on(day("2028-12-31")), None);
    let ended = in_time.not_usable_on(day("2029-01-01")).unwrap();
    assert!(ended.ends_with("until 2028-12-31"), "{ended}");
    let late = draft.adopt(adoption("2029-01-01"), None, vec![]);
    assert!(matches!(
        late,
        Err(ScreeningValidationError::LawEnded { .. })
    ));
}

#[test]
fn a_commodity_is_added_by_the_cut_off_of_its_base() {
    let base = adopted(entry());
    let mut added = entry();
    added.study = ScreeningStudy::AddedCommodity {
        of: "019ca869-5003-7d46-b59c-6cf85cca57e8".parse().unwrap(),
    };
    added.determinations.retain(|one| one.value.is_some());
    added.below_counted_as = None;
    added.determinations.drain(..9);
    added.determinations.truncate(20);
    assert_eq!(added.report(None).unwrap_err().quantity(), "cut-off");
    let report = added.report(Some(&base)).unwrap();
    assert_eq!(report.cut_off, number("19"));
    // 18.9 and 18.6 are not over the cut-off of 19.
    assert!(!report.verification.as_ref().unwrap().passed);
    let draft = ScreeningValidation::draft(added.clone()).unwrap();
    let refusal = draft.adopt(adoption("2026-03-09"), Some(&base), vec![]);
    assert!(matches!(
        refusal,
        Err(ScreeningValidationError::Incomplete(_))
    ));
    for one in &mut added.determinations {
        if one.kind == ControlKind::Positive {
            one.value = Some(number("19.5"));
        }
    }
    let draft = ScreeningValidation::draft(added.clone()).unwrap();
    assert!(
        draft
            .adopt(adoption("2026-03-09"), Some(&base), vec![])
            .is_ok()
    );
    added.commodity_group = CommodityGroup::HighOil;
    let faults = added.check_base(&base).unwrap_err();
    assert_eq!(faults.0[0].pointer, "/commodity_group");
}

fn joined(on: &str, values: &[&str]) -> Vec<JoinedControl> {
    let one = |value: &&str| JoinedControl {
        batch: format!("S-{on}"),
        control_material: "019ca869-5003-7d46-b59c-6cf85cca5711".parse().unwrap(),
        determination: StudyDetermination {
            kind: ControlKind::Positive,
            on: on.parse().unwrap(),
            value: Some(number(value)),
            below: None,
            laboratory: None,
            content: None,
            run: None,
            sample: None,
        },
    };
    let mut all: Vec<JoinedControl> = values.iter().map(one).collect();
    all.reverse();
    all
}

fn draft_review(on: &str, joined: Vec<JoinedControl>) -> ReviewDraft {
    ReviewDraft {
        validation: "019ca869-5003-7d46-b59c-6cf85cca57e8".parse().unwrap(),
        period: ReviewPeriod {
            from: "2026-03-07".parse().unwrap(),
            to: on.parse().unwrap(),
        },
        on: on.parse().unwrap(),
        by: "019ca869-5003-7d46-b59c-6cf85cca57e6".parse().unwrap(),
        controls: vec![],
        joined,
        left_out: vec![],
        from: vec![],
    }
}

#[test]
fn a_second_review_builds_on_the_first_and_both_are_computed_again() {
    let validation = adopted(entry());
    let few = draft_review("2027-03-01", joined("2026-05-01", &["20.1"]));
    let refusal = ScreeningReview::of(few, &validation, &[]).unwrap_err();
    assert!(
        refusal.to_string().contains("2 are needed, 1 is there"),
        "{refusal}"
    );
    let first = draft_review("2027-03-01", joined("2026-05-01", &["20.1", "17.5"]));
    let first = ScreeningReview::of(first, &validation, &[]).unwrap();
    assert_eq!(first.report.before.positives, 20);
    assert_eq!(first.report.after.positives, 22);
    assert_eq!(first.report.missed_positives, 1);
    assert_eq!(first.cut_off(), number("18"));
    let second = draft_review("2028-04-01", joined("2027-05-01", &["20.0", "20.2"]));
    let second = ScreeningReview::of(second, &validation, &[&first]).unwrap();
    assert_eq!(second.reviewed_on, first.on);
    assert!(!second.report.in_time, "a month late");
    assert_eq!(second.report.before.positives, 22);
    assert_eq!(second.report.after.positives, 24);
    let mut beside = NamedBeside {
        validation: Some(&validation),
        ..NamedBeside::default()
    };
    assert_eq!(first.again(&beside), Ok(()));
    assert!(second.again(&beside).is_err(), "the first is missing");
    beside.reviews.push(&first);
    assert_eq!(second.again(&beside), Ok(()));
    let mut wrong = second.clone();
    wrong.report.after.target_mean = number("21");
    let differs = wrong.again(&beside).unwrap_err();
    assert!(differs.contains("/after/target_mean"), "{differs}");
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
