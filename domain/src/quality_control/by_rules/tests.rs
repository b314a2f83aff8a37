//! Rules over control runs: which fire, over which runs, and which runs of a series they bracket.
#![expect(clippy::unwrap_used, reason = "tests may unwrap")]

use rust_decimal::Decimal;

use super::super::{ControlVerdict, SeriesRun};
use super::{
    CONTROLS_LOOKED_AT, ControlGroup, ControlValue, JudgedByRules, judge_by_rules, judge_series,
    rules_bearing, signals_for,
};
use crate::analytes::Analyte;
use crate::id::RunId;
use crate::versions::SubjectVersion;

const DON: Analyte = Analyte::Deoxynivalenol;

fn id(number: usize) -> RunId {
    format!("019ca869-5003-7d46-b59c-0000000001{number:02}")
        .parse()
        .unwrap()
}

fn from(number: usize) -> SubjectVersion {
    SubjectVersion {
        subject: id(number).0,
        version: 1,
    }
}

fn group(reader: &str) -> ControlGroup {
    let thing = "019ca869-5003-7d46-b59c-6cf85cca57e4";
    ControlGroup {
        material: thing.parse().unwrap(),
        procedure: thing.parse().unwrap(),
        analyte: DON,
        kit_lot: thing.parse().unwrap(),
        reader: reader.parse().unwrap(),
    }
}

/// Control runs of one group with these z, about 1000 µg/kg with a standard deviation of 100.
fn controls(z: &[&str]) -> Vec<ControlValue> {
    let hundred = Decimal::ONE_HUNDRED;
    z.iter()
        .enumerate()
        .map(|(number, z)| ControlValue {
            run: id(number),
            read_at: format!("2026-03-01T08:{number:02}:00Z").parse().unwrap(),
            group: group("019ca869-5003-7d46-b59c-6cf85cca57e4"),
            value: Decimal::from(1000) + z.parse::<Decimal>().unwrap() * hundred,
            mean: Decimal::from(1000),
            deviation: hundred,
            from: vec![from(number)],
        })
        .collect()
}

/// The rules that the last of the control runs completes.
fn fired(z: &[&str]) -> Vec<String> {
    let mut values = controls(z);
    values.reverse();
    let judged = judge_by_rules(id(z.len() - 1), &values);
    let rule = |detail: &str| detail.split(':').next().unwrap().replace("rule ", "");
    let signals = judged.signals.iter();
    signals.map(|signal| rule(&signal.detail)).collect()
}

// The rules: Westgard, Barry, Hunt and Groth, Clinical Chemistry 27 (1981) 493.
#[test]
fn each_rule_fires_at_the_control_run_that_completes_it() {
    assert_eq!(fired(&["2.1"]), Vec::<String>::new(), "1-2s only warns");
    assert_eq!(fired(&["3.1"]), ["1-3s"]);
    assert_eq!(
        fired(&["3"]),
        Vec::<String>::new(),
        "exactly 3 s is not beyond"
    );
    assert_eq!(fired(&["2.1", "2.2"]), ["2-2s"]);
    assert_eq!(fired(&["2.1", "-2.2"]), ["R-4s"]);
    assert_eq!(fired(&["2.1", "0", "2.2"]), Vec::<String>::new());
    assert_eq!(fired(&["1.1", "1.2", "1.1", "1.3"]), ["4-1s"]);
    assert_eq!(fired(&["-0.1"; 10]), ["10-x"]);
    assert_eq!(fired(&["-0.1"; 9]), Vec::<String>::new());
    assert_eq!(
        fired(&["2.1", "2.2", "0"]),
        Vec::<String>::new(),
        "it fired before"
    );
    assert_eq!(fired(&["2.1", "3.2"]), ["1-3s", "2-2s"]);
}

#[test]
fn the_detail_says_the_rule_its_figures_and_its_runs() {
    let judged = judge_by_rules(id(1), &controls(&["2.1", "2.25"]));
    let expected = format!(
        "rule 2-2s: the control run read at 2026-03-01T08:01:00.000000Z gave 1225.00 µg/kg against \
         1000 with a standard deviation of 100, z = 2.25: runs {}, {}",
        id(0),
        id(1)
    );
    let details: Vec<&str> = judged
        .signals
        .iter()
        .map(|one| one.detail.as_str())
        .collect();
    assert_eq!(details, [expected]);
    assert_eq!(judged.from, [from(0), from(1)]);
}

#[test]
fn the_newest_twelve_of_the_group_are_looked_at_and_no_others() {
    let mut values = controls(&["0.5"; 15]);
    let judged = judge_by_rules(id(13), &values);
    assert_eq!(judged.from.len(), CONTROLS_LOOKED_AT);
    assert_eq!(
        judged.from.first(),
        Some(&from(2)),
        "and none that was read later"
    );
    assert_eq!(judged.from.last(), Some(&from(13)));
    // From the versions that were named alone it is the same.
    let named: Vec<ControlValue> = values
        .iter()
        .filter(|value| judged.from.contains(&from_of(value)))
        .cloned()
        .collect();
    assert_eq!(judge_by_rules(id(13), &named), judged);
    // Another reader's control runs are another group.
    let other = group("019ca869-5003-7d46-b59c-6cf85cca57e5");
    values
        .iter_mut()
        .take(10)
        .for_each(|value| value.group = other);
    let judged = judge_by_rules(id(13), &values);
    assert_eq!((judged.from.len(), judged.signals.len()), (4, 0));
}

fn from_of(value: &ControlValue) -> SubjectVersion {
    SubjectVersion {
        subject: value.run.0,
        version: 1,
    }
}

/// A series of sample runs `s` and control runs; the control runs have these z in their order.
fn series(plan: &str, z: &[&str]) -> Vec<SeriesRun> {
    let mut values = controls(z).into_iter();
    let mut kept = Vec::new();
    let mut runs: Vec<SeriesRun> = plan
        .chars()
        .enumerate()
        .map(|(number, letter)| {
            let read_at = format!("2026-03-01T09:{number:02}:00Z").parse().unwrap();
            let control = (letter == 'c').then(|| {
                let value = ControlValue {
                    run: id(number),
                    read_at,
                    from: vec![from(number)],
                    ..values.next().unwrap()
                };
                kept.push(value);
                vec![(DON, ControlVerdict::Accepted)]
            });
            SeriesRun {
                as_read: None,
                run: id(number),
                read_at,
                control,
                from: vec![from(number)],
                rules: JudgedByRules::default(),
            }
        })
        .collect();
    judge_series(&mut runs, &kept);
    runs
}

#[test]
fn a_rule_that_fires_brackets_the_runs_between_its_control_and_those_beside_it() {
    // 0 c, 1 s, 2 c, 3 s, 4 c (completes 2-2s), 5 s, 6 c, 7 s
    let runs = series("cscscscs", &["0", "2.1", "2.2", "0"]);
    let held: Vec<usize> = [1, 3, 5, 7]
        .into_iter()
        .filter(|number| !signals_for(id(*number), &runs, &[DON]).is_empty())
        .collect();
    assert_eq!(held, [3, 5]);
    assert!(signals_for(id(3), &runs, &[Analyte::Zearalenone]).is_empty());
    let named = rules_bearing(id(3), &runs, &[DON]);
    assert_eq!(
        named,
        [from(0), from(2), from(4)],
        "what the rules looked at"
    );
}
