//! Over range: bounds, plans, contradictions.

use super::{Bench, amount};
use crate::decisions::{Finding, Verdict};
use crate::holds::{HoldKind, evaluate_result};
use crate::results::{Concern, Needs, NoDilution, Use, compute_by};

#[test]
fn a_bound_that_decides_every_limit_stands() {
    // >50 against 20 fails.
    let result = Bench::new().limit_20().run(0, ">50").result();
    assert_eq!(result.needs, None);
    assert_eq!(result.next_dilution, None);
    assert_eq!(result.reported.as_deref(), Some("> 50"));
    assert_eq!(result.concentration, None, "a bound is no number");
    assert_eq!(result.over_range_bound, Some(amount("50.000000")));
    assert_eq!(result.decisions.len(), 1);
    assert_eq!(result.decisions[0].decision, Verdict::Fail);
}

#[test]
fn a_bound_is_not_enough_where_a_number_is_wanted_or_a_limit_is_left_open() {
    let mut wanted = Bench::new().limit_20().run(0, ">50");
    wanted.number_wanted = true;
    let open = Bench::new().limit_20().limit("300").run(0, ">50");
    let no_limit = Bench::new().run(0, ">50");
    for bench in [wanted, open, no_limit] {
        let result = bench.result();
        assert_eq!(result.needs, Some(Needs::Dilution));
        let next = result.next_dilution.unwrap();
        assert_eq!(
            next.factor.to_string(),
            "6",
            "nothing to expect: the next one"
        );
        assert_eq!(next.expected, None);
    }
}

#[test]
fn an_expected_value_chooses_the_smallest_dilution_that_reaches_it() {
    let factor = |text| {
        let result = Bench::new().run(0, text).result();
        result.next_dilution.map(|next| next.factor.to_string())
    };
    assert_eq!(factor("50"), None, "the upper end is in range");
    assert_eq!(factor("62").as_deref(), Some("6"));
    assert_eq!(factor("300").as_deref(), Some("6"));
    assert_eq!(factor("301").as_deref(), Some("20"));
    assert_eq!(factor("1000").as_deref(), Some("20"));
    let result = Bench::new().run(0, "1001").result();
    assert_eq!(
        result.needs, None,
        "nobody can do more: the bound is what there is"
    );
    assert_eq!(
        result.concerns,
        [Concern::NoDilution {
            reason: NoDilution::NoneFits {
                expected: amount("1001.000000")
            }
        }]
    );
}

#[test]
fn the_plan_is_in_volumes_that_the_pipettes_deliver() {
    let small = Bench::new().run(0, ">50").pipette("20", "200", "1");
    let result = small.result();
    assert_eq!(
        result.concerns,
        [Concern::NoDilution {
            reason: NoDilution::NotDeliverable {
                volume_ul: super::number("500")
            }
        }]
    );
    let both = Bench::new()
        .run(0, ">50")
        .pipette("100", "1000", "5")
        .pipette("20", "200", "1");
    let step = both.result().next_dilution.unwrap().steps.remove(0);
    assert_eq!(
        step.pipette.unwrap().0,
        super::uuid(0xe01),
        "the smaller one"
    );
    assert_eq!(step.diluent_pipette.unwrap().0, super::uuid(0xe00));
    // 500 µL cannot be delivered, but both volumes of the next validated dilution can.
    let odd = Bench::new()
        .run(0, ">50")
        .pipette("100", "100", "1")
        .pipette("1900", "1900", "1");
    let next = odd.result().next_dilution.unwrap();
    assert_eq!(next.factor.to_string(), "20");
}

#[test]
fn a_diluted_run_in_range_gives_the_number() {
    // Common practice, no source: 100 µL + 500 µL is a factor of 6.
    let result = Bench::new()
        .limit_20()
        .run(0, ">50")
        .run(500, "12.5")
        .result();
    assert_eq!(result.reported.as_deref(), Some("75.0"));
    assert_eq!(result.factor.unwrap().to_string(), "6");
    assert_eq!(result.range.unwrap().upper, amount("300.000000"));
    let uses: Vec<Use> = result.runs.iter().map(|run| run.why).collect();
    assert_eq!(uses, [Use::OverRange, Use::Stands]);
    assert!(result.concerns.is_empty());
}

#[test]
fn the_lowest_dilution_in_range_stands() {
    let result = Bench::new().run(500, "5").run(0, "29").result();
    assert_eq!(result.reported.as_deref(), Some("29.0"));
    let uses: Vec<Use> = result.runs.iter().map(|run| run.why).collect();
    assert_eq!(uses, [Use::LowerDilutionInRange, Use::Stands]);
}

#[test]
fn a_diluted_run_over_range_raises_the_bound_and_plans_on() {
    let result = Bench::new().run(0, ">50").run(500, ">50").result();
    assert_eq!(
        result.finding,
        Some(Finding::Above {
            bound: amount("300.000000")
        })
    );
    assert_eq!(result.next_dilution.unwrap().factor.to_string(), "20");
    let uses: Vec<Use> = result.runs.iter().map(|run| run.why).collect();
    assert_eq!(uses, [Use::OverRange, Use::Stands]);
    let last = Bench::new().run(0, ">50").run(1900, ">50").result();
    assert!(matches!(
        &last.concerns[..],
        [Concern::NoDilution {
            reason: NoDilution::NoneValidated { .. }
        }]
    ));
}

#[test]
fn a_diluted_run_below_the_bound_contradicts_it() {
    let by_rules_1 =
        |bench: &Bench| bench.with_inputs(&[0, 1], |inputs| compute_by(1, inputs).unwrap());
    let mut bench = Bench::new().run(0, ">50").run(500, "8");
    assert!(matches!(
        &by_rules_1(&bench).concerns[..],
        [Concern::Contradiction { most, .. }] if *most == amount("48.000000")
    ));
    // With an expanded uncertainty of 3 it may lie above 50.
    bench.runs.last_mut().unwrap().2 = Some(amount("3"));
    assert!(by_rules_1(&bench).concerns.is_empty());
}

#[test]
fn by_rules_number_2_its_own_uncertainty_decides_whether_it_does() {
    // 48 µg/kg: U = 2 (6 · 0.5 + 0.05 · 48) = 10.8 (ISO 5725-2:2019, relation II).
    let unsure = Bench::new().run(0, ">50").run(500, "8").result();
    assert!(unsure.concerns.is_empty());
    // 36 µg/kg: U = 2 (6 · 0.5 + 0.05 · 36) = 9.6.
    let result = Bench::new().run(0, ">50").run(500, "6").result();
    assert!(matches!(
        &result.concerns[..],
        [Concern::Contradiction { most, .. }] if *most == amount("45.6")
    ));
}

#[test]
fn every_concern_of_a_result_is_a_hold_of_it() {
    let holds = |bench: Bench| {
        let drafts = evaluate_result(&bench.result());
        drafts
            .into_iter()
            .map(|draft| draft.kind)
            .collect::<Vec<_>>()
    };
    let contradiction = Bench::new().run(0, ">50").run(500, "6");
    assert_eq!(holds(contradiction), [HoldKind::Contradiction]);
    let apart = Bench::new().run(0, "10").run(0, "14");
    assert_eq!(holds(apart), [HoldKind::ReplicateDisagreement]);
    let no_dilution = Bench::new().run(1900, ">50");
    assert_eq!(holds(no_dilution), [HoldKind::NoDilution]);
    assert_eq!(holds(Bench::new().run(0, "12")), []);
}

#[test]
fn a_dilution_that_sees_nothing_is_not_in_range() {
    let result = Bench::new()
        .limit("60")
        .run(0, ">50")
        .run(500, "ND")
        .result();
    assert_eq!(result.reported.as_deref(), Some("> 50"));
    let uses: Vec<Use> = result.runs.iter().map(|run| run.why).collect();
    assert_eq!(uses, [Use::Stands, Use::DilutedTooFar]);
    assert!(matches!(
        &result.concerns[..],
        [Concern::Contradiction { .. }]
    ));
}

#[test]
fn replicates_on_both_sides_of_the_upper_end_disagree() {
    let result = Bench::new()
        .limit("300")
        .run(0, ">50")
        .run(0, "44")
        .result();
    assert!(
        result.concerns.iter().any(
            |one| matches!(one, Concern::ReplicateDisagreement { runs, .. } if runs.len() == 2)
        )
    );
    assert_eq!(result.needs, Some(Needs::Dilution));
    let uses: Vec<Use> = result.runs.iter().map(|run| run.why).collect();
    assert_eq!(uses, [Use::Stands, Use::ReplicateOverRange]);
}
