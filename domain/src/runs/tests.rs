//! Runs: what is refused, and how their states follow.
#![expect(clippy::unwrap_used, reason = "tests may unwrap")]

use super::{Origin, Run, RunContext, RunEntry, RunError, RunState};

fn entry() -> RunEntry {
    serde_json::from_str(include_str!("example.json")).unwrap()
}

fn with(member: &str, value: serde_json::Value) -> RunEntry {
    let mut json: serde_json::Value = serde_json::from_str(include_str!("example.json")).unwrap();
    json.as_object_mut().unwrap().insert(member.into(), value);
    serde_json::from_value(json).unwrap()
}

fn pointers(entry: &RunEntry) -> Vec<String> {
    let context = RunContext { ports: Some(3) };
    let faults = entry.check(&context).err().unwrap_or_default();
    faults.0.into_iter().map(|fault| fault.pointer).collect()
}

fn reading(value: &str, unit: &str) -> serde_json::Value {
    serde_json::json!(
        {"analyte": "aflatoxin-total", "kind": "number", "value": value, "unit": unit}
    )
}

#[test]
fn what_cannot_be_true_is_refused_with_its_pointer() {
    assert!(pointers(&entry()).is_empty());
    let wrong = [
        ("port", serde_json::json!(0), "/port"),
        ("port", serde_json::json!(4), "/port"),
        ("readings", serde_json::json!([]), "/readings"),
        (
            "readings",
            serde_json::json!([reading("-1", "ug/kg")]),
            "/readings/0/value",
        ),
        (
            "readings",
            serde_json::json!([reading("1000000001", "ug/kg")]),
            "/readings/0/value",
        ),
        (
            "readings",
            serde_json::json!([reading("1000001", "mg/kg")]),
            "/readings/0/value",
        ),
        (
            "readings",
            serde_json::json!([reading("79228162514264337593543950335", "mg/kg")]),
            "/readings/0/value",
        ),
        (
            "readings",
            serde_json::json!([reading("1", "ug/kg"), reading("2", "ug/kg")]),
            "/readings/1/analyte",
        ),
        (
            "read_at",
            serde_json::json!("2026-03-01T08:09:29Z"),
            "/read_at",
        ),
        ("operator", serde_json::json!("two\nlines"), "/operator"),
        ("stated_factor", serde_json::json!("0"), "/stated_factor"),
    ];
    for (member, value, pointer) in wrong {
        assert_eq!(pointers(&with(member, value)), [pointer]);
    }
}

#[test]
fn every_fault_is_told_at_once() {
    let mut run = with("readings", serde_json::json!([reading("-1", "ug/kg")]));
    run.port = 0;
    run.read_at = None;
    assert_eq!(pointers(&run), ["/port", "/read_at", "/readings/0/value"]);
}

#[test]
fn a_reading_has_a_value_where_its_kind_has_one() {
    let faults = |json: &str| {
        let reading: super::Reading = serde_json::from_str(json).unwrap();
        reading.check().is_err()
    };
    let base = r#""analyte":"zearalenone","unit":"ug/kg""#;
    assert!(faults(&format!(r#"{{{base},"kind":"number"}}"#)));
    assert!(faults(&format!(
        r#"{{{base},"kind":"not-detected","value":"1"}}"#
    )));
    assert!(
        faults(&format!(r#"{{{base},"kind":"invalid"}}"#)),
        "no reason"
    );
    assert!(faults(&format!(r#"{{{base},"kind":"below","value":"0"}}"#)));
    assert!(!faults(&format!(
        r#"{{{base},"kind":"invalid","reason":"port-fault"}}"#
    )));
    assert!(!faults(&format!(r#"{{{base},"kind":"not-detected"}}"#)));
}

#[test]
fn a_clock_ahead_a_blank_sample_and_an_unknown_kit_are_recorded() {
    let late = RunEntry {
        sample: None,
        kit_lot: None,
        reader: None,
        begun_at: None,
        read_at: Some("2999-01-01T00:00:00Z".parse().unwrap()),
        ..entry()
    };
    let run = Run::record(late, &RunContext::default(), vec![]).unwrap();
    assert_eq!(run.state, RunState::Unassigned);
}

#[test]
fn a_correction_moves_a_run_and_refuses_to_change_nothing() {
    let context = RunContext::default();
    let run = Run::record(entry(), &context, vec![Origin::bench()]).unwrap();
    assert_eq!(
        run.correct(entry(), &context),
        Err(RunError::NothingChanges)
    );
    let elsewhere = RunEntry {
        sample: Some("019ca869-5999-7d46-b59c-6cf85cca57e4".parse().unwrap()),
        ..entry()
    };
    let moved = run.correct(elsewhere.clone(), &context).unwrap();
    assert_eq!(moved.entry.sample, elsewhere.sample);
    assert_eq!(moved.origins, [Origin::bench()]);
    let nowhere = RunEntry {
        sample: None,
        ..entry()
    };
    let state = run.correct(nowhere, &context).unwrap().state;
    assert_eq!(state, RunState::Unassigned);
    let undiluted = RunEntry {
        dilution: vec![],
        ..entry()
    };
    assert!(run.correct(undiluted, &context).unwrap().factor.is_one());
    let gone = run.withdraw().unwrap();
    assert!(matches!(
        gone.correct(elsewhere, &context),
        Err(RunError::Not { .. })
    ));
    assert!(gone.withdraw().is_err());
}

#[test]
fn a_run_met_again_keeps_both_origins_once() {
    let run = Run::record(entry(), &RunContext::default(), vec![Origin::bench()]).unwrap();
    let line: Origin = serde_json::from_value(serde_json::json!({
        "import": "019ca869-5999-7d46-b59c-6cf85cca57e4",
        "digest": "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
        "line": 7
    }))
    .unwrap();
    let both = run.met_again(line.clone()).met_again(line.clone());
    assert_eq!(both.origins, [Origin::bench(), line]);
}

#[test]
fn the_record_has_one_level_and_comes_back() {
    let run = Run::record(entry(), &RunContext::default(), vec![Origin::bench()]).unwrap();
    let value = serde_json::to_value(&run).unwrap();
    assert_eq!(value.get("state").unwrap(), "recorded");
    assert_eq!(value.get("port").unwrap(), 2);
    assert_eq!(value.pointer("/factor/numerator").unwrap(), "6");
    assert_eq!(value.pointer("/readings/0/value").unwrap(), "12.5");
    assert_eq!(serde_json::from_value::<Run>(value).unwrap(), run);
}

#[test]
fn pipettes_at_hand_stay_with_a_run_until_it_moves_to_another_sample() {
    let pipette = "019ca869-5015-7d46-b59c-6cf85cca57e4".parse().unwrap();
    let other = "019ca869-5016-7d46-b59c-6cf85cca57e4".parse().unwrap();
    let context = RunContext { ports: Some(3) };
    let run = Run::record(entry(), &context, vec![Origin::bench()]).unwrap();
    let run = run.with_pipettes(&[pipette]).with_pipettes(&[other]);
    assert_eq!(
        run.pipettes_at_hand,
        [pipette],
        "those that stood there first"
    );
    let corrected = run.correct(with("matrix", "barley".into()), &context);
    assert_eq!(corrected.unwrap().pipettes_at_hand, [pipette]);
    let elsewhere = "019ca869-5017-7d46-b59c-6cf85cca57e4";
    let moved = run.correct(with("sample", elsewhere.into()), &context);
    assert!(moved.unwrap().pipettes_at_hand.is_empty());
    let named = serde_json::json!([{"sample_volume_ul": "100", "diluent_volume_ul": "500",
        "diluent": "water", "pipette": pipette}]);
    let named = Run::record(with("dilution", named), &context, vec![]).unwrap();
    assert!(named.with_pipettes(&[other]).pipettes_at_hand.is_empty());
}
