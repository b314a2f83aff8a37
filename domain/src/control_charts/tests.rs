//! Charts of published sequences, what stands beside them, and what is in doubt around a failure.
#![expect(clippy::unwrap_used, reason = "tests may unwrap")]

use std::collections::BTreeSet;

use super::{
    ChartInput, ChartSettings, ControlChart, JudgedControl, control_chart, control_found, stretches,
};
use crate::control_materials::{AssignedValue, ControlMaterial};
use crate::id::RunId;
use crate::quality_control::{
    ControlExclusion, ControlGroup, ControlValue, control_values, why_excluded,
};
use crate::quantity::Number;
use crate::results::Facts;
use crate::runs::{Run, RunState};
use crate::statistics::control::ControlRule;
use crate::versions::SubjectVersion;

const THING: &str = "019ca869-5003-7d46-b59c-6cf85cca57e4";

fn id(number: usize) -> RunId {
    format!("019ca869-5003-7d46-b59c-00000000{number:04}")
        .parse()
        .unwrap()
}

fn assigned(text: &str) -> AssignedValue {
    serde_json::from_str(&format!(r#"{{"analyte":"zearalenone",{text}}}"#)).unwrap()
}

fn values(of: &AssignedValue, values: &[&str]) -> Vec<ControlValue> {
    let lines = super::assigned_lines(of).unwrap();
    let one = |(number, value): (usize, &&str)| ControlValue {
        run: id(number + 1),
        read_at: format!("2026-03-01T08:{number:02}:00Z").parse().unwrap(),
        group: ControlGroup {
            material: THING.parse().unwrap(),
            procedure: THING.parse().unwrap(),
            analyte: of.analyte,
            kit_lot: THING.parse().unwrap(),
            reader: THING.parse().unwrap(),
        },
        value: value.parse().unwrap(),
        mean: lines.assigned_value.0,
        deviation: lines.standard_deviation.0,
        from: Vec::new(),
    };
    values.iter().enumerate().map(one).collect()
}

fn chart(of: &AssignedValue, values: &[ControlValue], charted: &BTreeSet<RunId>) -> ControlChart {
    control_chart(&ChartInput {
        material: THING.parse().unwrap(),
        assigned: of,
        values,
        charted,
        settings: ChartSettings::default(),
    })
}

fn all(values: &[ControlValue]) -> BTreeSet<RunId> {
    values.iter().map(|one| one.run).collect()
}

fn completing(chart: &ControlChart, rule: ControlRule) -> Vec<usize> {
    let completes = |one: &&super::ChartedControl| one.rules.iter().any(|done| done.rule == rule);
    let points = chart.points.iter().filter(completes);
    points.map(|one| one.number).collect()
}

/// Clinical Chemistry 27 (1981) 493, as in the worked example `multirule-sequence-first-part`.
const SEQUENCE: [&str; 33] = [
    "42.5", "55.1", "46.4", "47.0", "43.1", "56.9", "41.3", "44.9", "45.5", "41.3", "47.0", "37.7",
    "41.6", "53.3", "55.4", "44.6", "47.3", "48.2", "41.3", "42.8", "44.3", "47.6", "44.3", "45.8",
    "47.6", "39.8", "39.8", "50.9", "49.7", "45.5", "45.2", "47.3", "47.9",
];

#[test]
fn the_rules_of_a_chart_are_those_of_the_published_sequence() {
    let of =
        assigned(r#""assigned_value":"47","standard_deviation":"3","lower":"38","upper":"56""#);
    let values = values(&of, &SEQUENCE);
    let chart = chart(&of, &values, &all(&values));
    assert_eq!(completing(&chart, ControlRule::OneBeyondThree), [6, 12]);
    assert_eq!(completing(&chart, ControlRule::TwoBeyondTwo), [15, 27]);
    assert!(completing(&chart, ControlRule::FourBeyondOne).is_empty());
    let warnings = chart.points.iter().filter(|one| one.warning);
    let warnings: Vec<usize> = warnings.map(|one| one.number).collect();
    assert_eq!(warnings, [2, 6, 12, 14, 15, 26, 27]);
    let two = chart.points.get(14).unwrap().rules.first().unwrap();
    assert_eq!(two.runs, [id(14), id(15)]);
}

#[test]
fn what_lies_before_a_chart_counts_for_its_rules_and_for_nothing_else() {
    let of =
        assigned(r#""assigned_value":"47","standard_deviation":"3","lower":"38","upper":"56""#);
    let values = values(&of, &SEQUENCE);
    let late: BTreeSet<RunId> = all(&values).into_iter().skip(14).collect();
    let chart = chart(&of, &values, &late);
    assert_eq!(chart.points.len(), 19);
    assert_eq!(completing(&chart, ControlRule::TwoBeyondTwo), [1, 13]);
    assert_eq!(chart.found.unwrap().determinations, 19);
}

// NIST/SEMATECH e-Handbook, 6.3.2.2, as in the worked example `nist-individuals-chart-flowrate`.
#[test]
fn the_limits_found_are_those_of_the_handbook() {
    let of = assigned(r#""assigned_value":"50","lower":"45","upper":"55""#);
    let flow = [
        "49.6", "47.6", "49.9", "51.3", "47.8", "51.2", "52.6", "52.4", "53.6", "52.1",
    ];
    let values = values(&of, &flow);
    let chart = chart(&of, &values, &all(&values));
    let found = chart.individuals.unwrap();
    let at = |number: Number| number.0.round_dp(4).to_string();
    assert_eq!(at(found.individuals.centre), "50.81");
    assert_eq!(at(found.individuals.upper), "55.8041");
    assert_eq!(at(found.individuals.lower), "45.8159");
    assert_eq!(found.ranges.upper.0.round_dp(3).to_string(), "6.135");
    let lines = chart.lines.unwrap();
    assert_eq!(
        lines.upper_three.to_string(),
        "57.5",
        "a quarter of the window"
    );
}

#[test]
fn the_bias_has_its_interval_and_the_doubt_of_the_assigned_value() {
    let of =
        assigned(r#""assigned_value":"50","expanded_uncertainty":"2","lower":"40","upper":"60""#);
    let values: Vec<Number> = ["48", "52", "53"].map(|one| one.parse().unwrap()).into();
    let found = control_found(THING.parse().unwrap(), &of, &values).unwrap();
    // s = root 7; Student's t at 0.975 with 2 degrees of freedom is 4.303 (ISO 3534-1, tables).
    let [low, high] = found.bias.interval;
    assert_eq!(low.0.round_dp(2).to_string(), "-5.57");
    assert_eq!(high.0.round_dp(2).to_string(), "7.57");
    // root(7/3 + 1)
    let doubt = found.standard_uncertainty.unwrap();
    assert_eq!(doubt.0.round_dp(4).to_string(), "1.8257");
    let stated = found.for_procedure.unwrap();
    assert_eq!(
        (stated.mean_found.to_string(), stated.determinations),
        ("51".into(), 3)
    );
    assert_eq!(stated.standard_deviation.to_string(), "2.64575");
    let silent = assigned(r#""assigned_value":"50","lower":"40","upper":"60""#);
    let found = control_found(THING.parse().unwrap(), &silent, &values).unwrap();
    assert_eq!(found.standard_uncertainty, None);
}

#[test]
fn what_cannot_be_computed_is_named_with_its_reason() {
    let of = assigned(r#""assigned_value":"50","lower":"40","upper":"60""#);
    let one = values(&of, &["51"]);
    let alone = chart(&of, &one, &all(&one));
    assert_eq!(alone.points.len(), 1);
    assert!(alone.ewma.is_some() && alone.individuals.is_none() && alone.found.is_none());
    let named: Vec<&str> = alone
        .not_computed
        .iter()
        .map(|one| one.what.as_str())
        .collect();
    assert_eq!(named, ["limits from the values", "mean found"]);
    let flat = values(&of, &["51", "51"]);
    let flat = chart(&of, &flat, &all(&flat));
    assert!(
        flat.not_computed
            .iter()
            .any(|one| one.why.contains("do not scatter"))
    );
}

#[test]
fn a_control_run_is_charted_or_left_out_with_a_reason_never_both() {
    let material: ControlMaterial = serde_json::from_str(
        r#"{"code":"CM-1","name":"maize","commodity":"maize-grain","lot":"A","analytes":[
            {"analyte":"zearalenone","assigned_value":"40","lower":"30","upper":"50"},
            {"analyte":"deoxynivalenol","assigned_value":"0","lower":"0","upper":"50"}],
            "expires_on":"2027-01-31"}"#,
    )
    .unwrap();
    let facts = Facts {
        source: SubjectVersion {
            subject: THING.parse().unwrap(),
            version: 1,
        },
        content: &material,
    };
    let run = |analyte: &str, kind: &str, more: &str| -> Run {
        serde_json::from_str(&format!(
            r#"{{"state":"recorded","factor":{{"numerator":"1","denominator":"1"}},"port":1,"procedure":"{THING}","kit_lot":"{THING}",
                "read_at":"2026-03-01T08:15:00Z",{more}
                "readings":[{{"analyte":"{analyte}","kind":"{kind}","value":"41","unit":"ug/kg"}}]}}"#
        ))
        .unwrap()
    };
    let reader = format!(r#""reader":"{THING}","#);
    let mut diluted = run("zearalenone", "number", &reader);
    diluted.factor = crate::dilution::Factor::new(6, 1).unwrap();
    let mut withdrawn = run("zearalenone", "number", &reader);
    withdrawn.state = RunState::Withdrawn;
    use ControlExclusion as Why;
    for (run, why) in [
        (run("zearalenone", "number", &reader), None),
        (run("zearalenone", "above", &reader), Some(Why::NoNumber)),
        (run("zearalenone", "number", ""), Some(Why::UnknownReader)),
        (
            run("ochratoxin-a", "number", &reader),
            Some(Why::NothingAssigned),
        ),
        (
            run("deoxynivalenol", "number", &reader),
            Some(Why::NoScatter),
        ),
        (diluted, Some(Why::Diluted)),
        (withdrawn, Some(Why::Withdrawn)),
    ] {
        let analyte = run.entry.readings.first().unwrap().analyte;
        assert_eq!(why_excluded(&run, analyte, &material), why);
        let counted = control_values(id(1), &run, facts, &[]).len();
        // Withdrawn ones are not asked for.
        let charted = usize::from(why.is_none() || why == Some(Why::Withdrawn));
        assert_eq!(counted, charted, "{why:?}");
    }
}

#[test]
fn a_failure_puts_the_time_between_passing_controls_in_doubt_on_its_own_reader_alone() {
    let other = "019ca869-5003-7d46-b59c-6cf85cca57e5";
    let control = |number: usize, reader: &str, failed: bool| JudgedControl {
        run: id(number),
        read_at: format!("2026-03-01T{number:02}:00:00Z").parse().unwrap(),
        kit_lot: THING.parse().unwrap(),
        reader: reader.parse().unwrap(),
        failed_by: failed.then(|| "out".to_owned()).into_iter().collect(),
    };
    let controls = [
        control(1, THING, false),
        control(2, other, false),
        control(3, THING, true),
        control(4, other, false),
        control(5, THING, true),
        control(6, THING, false),
        control(7, other, true),
    ];
    let found = stretches(&controls);
    let ends: Vec<_> = found
        .iter()
        .map(|one| {
            let failed: Vec<RunId> = one.failed.iter().map(|one| one.run).collect();
            (
                one.after.map(|one| one.run),
                failed,
                one.before.map(|one| one.run),
            )
        })
        .collect();
    assert_eq!(
        ends,
        [
            (Some(id(1)), vec![id(3), id(5)], Some(id(6))),
            (Some(id(4)), vec![id(7)], None),
        ]
    );
}
