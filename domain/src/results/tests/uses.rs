//! Which runs a result stands on.

use super::{Bench, amount, entry, number};
use crate::decisions::Finding;
use crate::id::ProcedureId;
use crate::results::{Concern, Needs, Use};

#[test]
fn an_invalid_reading_is_kept_and_never_used() {
    let result = Bench::new().run(0, "!").run(0, "12").result();
    let uses: Vec<(bool, Use)> = result
        .runs
        .iter()
        .map(|run| (run.standing, run.why))
        .collect();
    assert_eq!(uses, [(false, Use::Invalid), (true, Use::Stands)]);
    assert_eq!(result.reported.as_deref(), Some("12.0"));
    assert_eq!(Bench::new().run(0, "!").result().needs, Some(Needs::Run));
}

#[test]
fn a_withdrawn_run_is_not_used() {
    let bench = Bench::new()
        .run(0, "30")
        .last(|run| *run = run.withdraw().unwrap())
        .run(0, "12");
    let result = bench.result();
    assert_eq!(result.runs[0].why, Use::Withdrawn);
    assert_eq!(result.reported.as_deref(), Some("12.0"));
    assert_eq!(result.from.len(), 3, "both runs and the procedure");
}

#[test]
fn a_run_by_another_procedure_is_not_used() {
    let bench = Bench::new()
        .run(0, "30")
        .last(|run| run.entry.procedure = Some(ProcedureId(super::uuid(0xabc))));
    let result = bench.result();
    assert_eq!(result.runs[0].why, Use::AnotherProcedure);
    assert_eq!(result.needs, Some(Needs::Run));
}

#[test]
fn the_kit_lots_narrower_range_wins() {
    // The procedure quantifies from 2, the lot from 2.5.
    let mut bench = Bench::new().run(0, "2.2");
    assert_eq!(bench.result().reported.as_deref(), Some("2.2"));
    bench.kit_lot =
        Some(serde_json::from_str(include_str!("../../kit_lots/example.json")).unwrap());
    let result = bench.result();
    assert_eq!(result.reported.as_deref(), Some("< 2.5"));
    assert_eq!(result.from.len(), 3, "run, procedure and kit lot");
}

#[test]
fn readings_below_the_range_give_bounds() {
    let finding = |diluent, text| Bench::new().run(diluent, text).result().finding.unwrap();
    let below = |text| Finding::NotDetected {
        below: amount(text),
    };
    assert_eq!(finding(0, "0.4"), below("1.000000"));
    assert_eq!(finding(0, "ND"), below("1.000000"));
    assert_eq!(finding(0, "<1"), below("1.000000"));
    assert_eq!(finding(500, "0.4"), below("6.000000"));
    assert_eq!(
        finding(0, "<2"),
        Finding::Below {
            bound: amount("2.000000")
        }
    );
    let detected = Finding::DetectedBelow {
        lod: amount("6.000000"),
        loq: amount("12.000000"),
    };
    assert_eq!(
        finding(500, "1"),
        detected,
        "the limit of detection itself is detected"
    );
    let value = amount("12.000000");
    assert_eq!(finding(500, "2"), Finding::Quantified { value });
}

#[test]
fn a_value_that_includes_the_factor_is_not_multiplied_again() {
    let bench = Bench::new()
        .run(500, "75")
        .last(|run| run.entry.value_includes_factor = true);
    let result = bench.result();
    assert_eq!(result.reported.as_deref(), Some("75.0"));
    let over = Bench::new()
        .run(500, "300.1")
        .last(|run| run.entry.value_includes_factor = true);
    let bound = amount("300.000000");
    assert_eq!(over.result().finding, Some(Finding::Above { bound }));
}

#[test]
fn volumes_that_disagree_with_the_factor_are_said_and_not_repaired() {
    let bench = Bench::new()
        .run(500, "12.5")
        .last(|run| run.entry.stated_factor = Some(number("5")));
    let result = bench.result();
    assert_eq!(result.reported.as_deref(), Some("75.0"), "by the volumes");
    assert!(matches!(
        &result.concerns[..],
        [Concern::DilutionDisagreement { .. }]
    ));
}

#[test]
fn a_run_without_a_range_waits() {
    let mut bench = Bench::new().run(0, "12");
    bench.procedure.analytes.clear();
    let result = bench.result();
    assert_eq!(result.runs[0].why, Use::NoRange);
    assert_eq!(result.needs, Some(Needs::Run));
}

#[test]
fn the_result_is_the_same_after_a_journey_through_json() {
    let result = Bench::new().limit_20().run(0, ">50").run(500, "8").result();
    let text = serde_json::to_string(&result).unwrap();
    let back: crate::results::ComputedResult = serde_json::from_str(&text).unwrap();
    assert_eq!(back, result);
    assert!(!text.contains("null"));
    assert_eq!(back.sample, entry().sample.unwrap());
}
