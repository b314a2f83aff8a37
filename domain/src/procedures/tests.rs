//! Procedures: what is refused field by field.
#![expect(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "tests may panic"
)]

use super::{Procedure, ProcedureEntry, ProcedureError, ProcedureState};

fn with(pointer: &str, value: serde_json::Value) -> ProcedureEntry {
    let mut json: serde_json::Value = serde_json::from_str(include_str!("example.json")).unwrap();
    let (parent, member) = pointer.rsplit_once('/').unwrap();
    let parent = json.pointer_mut(parent).unwrap();
    if let Some(list) = parent.as_array_mut() {
        list[member.parse::<usize>().unwrap()] = value;
    } else {
        parent.as_object_mut().unwrap().insert(member.into(), value);
    }
    serde_json::from_value(json).unwrap()
}

fn pointers(entry: &ProcedureEntry) -> Vec<String> {
    let faults = entry.check().err().unwrap_or_default();
    faults.0.into_iter().map(|fault| fault.pointer).collect()
}

#[test]
fn every_fault_is_told_with_its_pointer() {
    let text = |text: &str| serde_json::json!(text);
    for (pointer, value, fault) in [
        ("/code", text(" "), "/code"),
        ("/commodities", serde_json::json!([]), "/commodities"),
        ("/commodities/0", text("Maize grain"), "/commodities/0"),
        ("/analytes/0/lod", text("3"), "/analytes/0/loq"),
        ("/analytes/0/lod", text("-1"), "/analytes/0/lod"),
        ("/analytes/0/upper", text("2"), "/analytes/0/upper"),
        (
            "/dilutions/0/steps",
            serde_json::json!([]),
            "/dilutions/0/steps",
        ),
        (
            "/dilutions/0/steps/0/diluent_volume_ul",
            text("0"),
            "/dilutions/0/steps/0/diluent_volume_ul",
        ),
        (
            "/dilutions/0/steps/0/pipette",
            text("019ca869-5003-7d46-b59c-6cf85cca57e4"),
            "/dilutions/0/steps/0/pipette",
        ),
        (
            "/tolerances/test_portion_mass_g",
            text("0"),
            "/tolerances/test_portion_mass_g",
        ),
        (
            "/tolerances/read_tolerance_s",
            serde_json::json!(30),
            "/tolerances/read_tolerance_s",
        ),
        (
            "/repeatability/constant",
            text("-0.5"),
            "/repeatability/constant",
        ),
        (
            "/repeatability/proportional",
            text("5"),
            "/repeatability/proportional",
        ),
        (
            "/controls/maximum_runs_between",
            serde_json::json!(0),
            "/controls/maximum_runs_between",
        ),
        (
            "/screening",
            serde_json::json!([{"analyte": "zearalenone", "cut_off": "60"}]),
            "/screening/0/analyte",
        ),
    ] {
        assert_eq!(pointers(&with(pointer, value)), [fault], "{pointer}");
    }
    let mut twice = with("/code", text("P-07"));
    twice.analytes.extend(twice.analytes.clone());
    assert_eq!(pointers(&twice), ["/analytes/1/analyte"]);
}

#[test]
fn states_go_one_way_and_a_revision_is_a_draft() {
    let entry = with("/code", serde_json::json!("P-07"));
    let draft = Procedure::draft(entry.clone()).unwrap();
    assert!(matches!(draft.retire(), Err(ProcedureError::Not { .. })));
    let adopted = draft.adopt().unwrap();
    assert_eq!(
        adopted.revise(entry.clone()).unwrap().state,
        ProcedureState::Draft
    );
    let retired = adopted.retire().unwrap();
    assert!(!retired.in_force("2027-01-01".parse().unwrap()));
    assert!(retired.adopt().is_err());
    assert!(retired.revise(entry).is_err());
}

#[test]
fn the_record_has_one_level_and_unknown_members_are_refused() {
    let draft = Procedure::draft(with("/code", serde_json::json!("P-07"))).unwrap();
    let value = serde_json::to_value(&draft).unwrap();
    assert_eq!(value["state"], "draft");
    assert_eq!(value["analytes"][0]["upper"], "50");
    assert_eq!(serde_json::from_value::<Procedure>(value).unwrap(), draft);
    let odd = include_str!("example.json").replacen("\"code\"", "\"colour\": 1, \"code\"", 1);
    assert!(serde_json::from_str::<ProcedureEntry>(&odd).is_err());
}
