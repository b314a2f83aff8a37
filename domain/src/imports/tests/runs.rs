//! Runs of several rows, repetitions, conflicts, and the example export.

use serde_json::json;

use super::super::*;
use super::{HEADER, ROW, map};
use crate::analytes::Analyte;
use crate::quantity::Unit;
use crate::runs::{InvalidReason, Reading, ReadingKind, RunContext};

fn grouped(text: &str, map: &CheckedColumnMap) -> GroupedExport {
    group(parse(text.as_bytes(), map).unwrap())
}

#[test]
fn the_example_export_reads_as_its_readme_says() {
    let map: ColumnMap = serde_json::from_str(include_str!(
        "../../../../tests/data/imports/reader_export_map.json"
    ))
    .unwrap();
    let text = include_str!("../../../../tests/data/imports/reader_export.csv");
    let export = grouped(text, &map.check().unwrap());
    let told: Vec<_> = export
        .runs
        .iter()
        .map(|run| {
            let readings: Vec<_> = run
                .readings
                .iter()
                .map(|reading| value_text(&reading.reading.reading))
                .collect();
            (run.lines.clone(), readings.join(" "))
        })
        .collect();
    assert_eq!(
        told,
        [
            (vec![2, 3], "820 <25".to_owned()),
            (vec![4], ">5000".to_owned()),
            (vec![5], "1320.5".to_owned()),
            (vec![7], "not-detected".to_owned()),
            (vec![8], "invalid".to_owned()),
        ]
    );
    for run in &export.runs {
        assert_eq!(run.entry("water").check(&RunContext::default()), Ok(()));
    }
    let torn = &export.runs[4].readings[0].reading.reading;
    assert_eq!(torn.reason, Some(InvalidReason::NoControlLine));
    let diluted = &export.runs[2];
    let factor = crate::dilution::factor_of(&diluted.entry("water").dilution).unwrap();
    assert_eq!(factor, crate::dilution::Factor::new(6, 1).unwrap());
    assert_eq!(diluted.run.volumes.len(), 1);
    assert_eq!(diluted.run.volumes[0].diluent_volume_ul.to_string(), "500");
    assert_eq!(
        diluted.readings[0].comment.as_deref(),
        Some("diluted, second run")
    );
    assert_eq!(
        diluted.run.read_at.at.to_string(),
        "2026-03-02T07:41:55.000000Z"
    );
    assert_eq!(diluted.run.read_at.written, "02.03.2026 08:41:55");
    assert_eq!(diluted.run.read_at.zone, "Europe/Vienna");
    assert!(diluted.run.operator_account.is_some());
    assert_eq!(export.runs[3].run.sample_code, None);
    assert_eq!(export.runs[3].run.operator, None);
    let faulty: Vec<_> = export
        .faulty
        .iter()
        .map(|row| (row.line, row.faults.len()))
        .collect();
    assert_eq!(faulty, [(9, 1), (10, 4)]);
}

#[test]
fn a_run_is_told_by_its_identity_and_only_the_same_reading_is_skipped() {
    let map = map(json!({}));
    let other = ROW.replace("deoxynivalenol,820", "zearalenone,52");
    let next = ROW.replace("14:05:09", "14:05:10");
    let text = format!(
        "{HEADER}{ROW}\n{other}\n{next}\n{ROW}\n{}\n",
        ROW.replace("S-1", "S-2")
    );
    let export = grouped(&text, &map);
    let lines: Vec<_> = export.runs.iter().map(|run| run.lines.clone()).collect();
    assert_eq!(lines, [vec![2, 3], vec![4]]);
    assert_eq!(
        (export.repeated[0].line, export.repeated[0].first_line),
        (5, 2)
    );
    let conflict = &export.conflicting[0];
    assert_eq!(
        (conflict.line, conflict.first_line, conflict.analyte),
        (6, 2, None)
    );
    assert_eq!(
        conflict.differences,
        [FieldDifference {
            field: "sample".into(),
            recorded: Some("S-1".into()),
            imported: Some("S-2".into()),
        }]
    );
    assert_eq!(export.recordable().len(), 2);
}

#[test]
fn all_or_nothing_records_nothing_beside_a_refused_row() {
    let map = map(json!({"mode": "all_or_nothing"}));
    let whole = grouped(&format!("{HEADER}{ROW}\n"), &map);
    assert_eq!(whole.recordable().len(), 1);
    let faulty = grouped(&format!("{HEADER}{ROW}\n,,,,,,x\n"), &map);
    assert_eq!((faulty.runs.len(), faulty.recordable().len()), (1, 0));
    let contradicted = format!("{HEADER}{ROW}\n{}\n", ROW.replace("820", "821"));
    assert!(grouped(&contradicted, &map).recordable().is_empty());
}

#[test]
fn the_same_fields_in_another_dialect_are_the_same_reading() {
    let point = grouped(
        &format!("{HEADER}{}\n", ROW.replace("820", "820.5")),
        &map(json!({})),
    );
    let comma = format!("{HEADER}{ROW}\n")
        .replace(',', ";")
        .replace("820", "820,5");
    let comma = grouped(&comma, &map(json!({"decimal_mark": "comma"})));
    let (first, again) = (&point.runs[0], &comma.runs[0]);
    assert_eq!(first.identity, again.identity);
    let (first, again) = (
        &first.readings[0].fingerprint,
        &again.readings[0].fingerprint,
    );
    assert_eq!(
        compare(&first.open, Some(&first.personal), again),
        Comparison::Same
    );
    let canonical = serde_json_canonicalizer::to_string(
        &serde_json::from_str::<serde_json::Value>(&first.open).unwrap(),
    )
    .unwrap();
    assert_eq!(first.open, canonical);
    assert_eq!(
        point.runs[0].identity,
        r#"{"port":"2","read_at":"2026-03-07T13:05:09.000000Z","reader_serial":"R-1"}"#
    );
}

#[test]
fn operator_and_comment_stand_apart_from_what_may_enter_a_record() {
    let map = map(json!({"columns": {"operator": "who", "comment": "said"}}));
    let header = HEADER.replace("unit\n", "unit,who,said\n");
    let of = |who: &str, said: &str| {
        let export = grouped(&format!("{header}{ROW},{who},{said}\n"), &map);
        export.runs[0].readings[0].fingerprint.clone()
    };
    let first = of("Invented Person", "wet lot");
    assert!(!first.open.contains("Invented") && !first.open.contains("wet"));
    let again = of("Another Person", "wet lot");
    assert_eq!(
        compare(&first.open, None, &again),
        Comparison::Same,
        "erased: not compared"
    );
    let Comparison::Conflict(differences) = compare(&first.open, Some(&first.personal), &again)
    else {
        panic!("another operator is another field");
    };
    assert_eq!(differences[0].field, "operator");
}

#[test]
fn value_columns_are_readings_of_one_run_and_blank_ones_are_none() {
    let wide = map(json!({"readings": {"by_column": [
        {"column": "DON", "analyte": "deoxynivalenol", "unit": {"fixed": "mg/kg"}},
        {"column": "ZON", "analyte": "zearalenone", "unit": {"fixed": "ug/kg"}}
    ]}}));
    let text = "reader,port,read,sample,DON,ZON\n\
        R-1,1,2026-03-07 14:05:09,S-1,0.82,<25\n\
        R-1,2,2026-03-07 14:05:09,S-2,,30\n\
        R-1,3,2026-03-07 14:05:09,S-3,,\n\
        R-1,1,2026-03-07 14:05:09,S-1,0.82,26\n";
    let export = grouped(text, &wide);
    let readings: Vec<_> = export.runs.iter().map(|run| run.readings.len()).collect();
    assert_eq!(readings, [2, 1]);
    assert_eq!(
        export.runs[0].readings[0].reading.reading.unit,
        Unit::MgPerKg
    );
    assert_eq!(export.faulty[0].line, 4);
    assert_eq!(export.conflicting[0].analyte, Some(Analyte::Zearalenone));
    assert!(
        export.repeated.is_empty(),
        "a row is taken whole or refused whole"
    );
}

#[test]
fn dilution_volumes_and_factor_are_read_as_stated_or_not_at_all() {
    let map = map(json!({
        "columns": {"stated_factor": "factor", "started_at": {"column": "start"}},
        "dilution_volumes": [{"sample_volume": "s", "diluent_volume": "d"}],
        "volume_unit": "ml"
    }));
    let header = HEADER.replace("unit\n", "unit,factor,start,s,d\n");
    let of = |rest: &str| {
        let export = parse(format!("{header}{ROW},{rest}\n").as_bytes(), &map).unwrap();
        match export.rows[0].outcome.clone() {
            Ok(row) => Ok((
                row.run.stated_factor.map(|factor| factor.to_string()),
                row.run
                    .volumes
                    .first()
                    .map(|step| step.diluent_volume_ul.to_string()),
            )),
            Err(faults) => Err(faults[0].code),
        }
    };
    assert_eq!(of(",,,"), Ok((None, None)));
    assert_eq!(
        of("6.0,,0.1,0.5"),
        Ok((Some("6.0".into()), Some("500.0".into())))
    );
    assert_eq!(
        of(",,0.1,0"),
        Ok((None, None)),
        "nothing was added: no step"
    );
    assert_eq!(of(",,0,0"), Ok((None, None)));
    assert_eq!(of(",,0.1,"), Err(FaultCode::HalfADilution));
    assert_eq!(of(",,,0.5"), Err(FaultCode::HalfADilution));
    assert_eq!(of(",,0,0.5"), Err(FaultCode::HalfADilution));
    assert_eq!(of("0,,,"), Err(FaultCode::Absurd));
    assert_eq!(of("-6,,,"), Err(FaultCode::Negative));
    assert_eq!(
        of(",2026-03-07 14:05:10,,"),
        Err(FaultCode::ReadBeforeBegun)
    );
    assert_eq!(of(",2026-03-07 13:59:00,,"), Ok((None, None)));
}

#[test]
fn a_bench_run_is_joined_to_the_nearest_whose_sample_agrees() {
    let map = map(json!({}));
    let export = grouped(&format!("{HEADER}{ROW}\n"), &map);
    let run = &export.runs[0];
    let bench = |last: char, sample: Option<&str>, time: &str| BenchRun {
        id: format!("019ca869-5003-7d46-b59c-6cf85cca57e{last}")
            .parse()
            .unwrap(),
        reader_serial: "R-1".into(),
        port: 2,
        sample_code: sample.map(str::to_owned),
        read_at: format!("2026-03-07T{time}Z").parse().unwrap(),
        kit_lot_code: None,
        readings: vec![Reading {
            analyte: Analyte::Deoxynivalenol,
            kind: ReadingKind::Number,
            value: Some("0.82".parse().unwrap()),
            multiplied_value: None,
            unit: Unit::MgPerKg,
            reason: None,
            signals: None,
        }],
    };
    let blank = bench('1', None, "13:05:09");
    let agrees = bench('2', Some("S-1"), "13:06:00");
    let later = bench('3', Some("S-1"), "13:07:10");
    let other = bench('4', Some("S-9"), "13:05:09");
    let port = BenchRun {
        port: 3,
        ..agrees.clone()
    };
    let all = [
        blank.clone(),
        agrees.clone(),
        later.clone(),
        other.clone(),
        port.clone(),
    ];
    assert_eq!(join(run, &all, 120), Join::Same(agrees.id));
    assert_eq!(
        join(run, std::slice::from_ref(&blank), 120),
        Join::Same(blank.id)
    );
    assert_eq!(
        join(run, &[later, other, port], 120),
        Join::New,
        "121 s is too far"
    );
    let twin = BenchRun {
        id: blank.id,
        ..agrees.clone()
    };
    assert_eq!(
        join(run, &[agrees.clone(), twin.clone()], 120),
        Join::Several(vec![agrees.id, twin.id])
    );
    assert!(
        differences(&agrees, run).is_empty(),
        "0.82 mg/kg is 820 ug/kg"
    );
    let mut typed = agrees;
    typed.readings[0].kind = ReadingKind::Above;
    assert_eq!(
        differences(&typed, run)[0].recorded.as_deref(),
        Some(">0.82 mg/kg")
    );
    typed.readings.clear();
    assert_eq!(
        differences(&typed, run)[0].imported.as_deref(),
        Some("820 ug/kg")
    );
}

#[test]
fn a_value_given_twice_keeps_both_for_the_arithmetic_to_be_checked() {
    let map = map(json!({"readings": {"by_row": {
        "analyte": {"column": "test"}, "value": "value", "multiplied_value": "times",
        "unit": {"column": "unit"}
    }}}));
    let header = HEADER.replace("unit\n", "unit,times\n");
    let of = |value: &str, times: &str| {
        let row = ROW.replace("820", value);
        let export = grouped(&format!("{header}{row},{times}\n"), &map);
        match export.runs.first() {
            Some(run) => {
                let value = run.entry("water").readings[0].multiplied_value;
                Ok(value.map(|value| value.to_string()))
            }
            None => Err(export.faulty[0].faults[0].code),
        }
    };
    assert_eq!(of("820", "4920"), Ok(Some("4920".into())));
    assert_eq!(of("820", ""), Ok(None));
    assert_eq!(of("ND", "ND"), Ok(None));
    assert_eq!(of(">5", ">30"), Ok(Some("30".into())));
    assert_eq!(of("820", ">4920"), Err(FaultCode::NotANumber));
    assert_eq!(of("820", "-1"), Err(FaultCode::Negative));
}

#[test]
fn signals_are_read_with_the_decimal_mark_of_the_map_and_a_blank_is_none() {
    let map = map(json!({"decimal_mark": "comma", "delimiter": "semicolon",
    "readings": {"by_row": {
        "analyte": {"column": "test"}, "value": "value", "unit": {"column": "unit"},
        "test_line_signal": "T", "control_line_signal": "C"
    }}}));
    let header = HEADER.replace("unit\n", "unit,T,C\n").replace(',', ";");
    let of = |signals: &str| {
        let row = ROW.replace(',', ";");
        let export = grouped(&format!("{header}{row};{signals}\n"), &map);
        match export.runs.first() {
            Some(run) => Ok(serde_json::to_value(run.entry("water").readings[0].signals).unwrap()),
            None => {
                let fault = &export.faulty[0].faults[0];
                Err((fault.column.clone(), fault.code))
            }
        }
    };
    let both = json!({"test_line": "1840.50", "control_line": "2000"});
    assert_eq!(of("1840,50;2000"), Ok(both));
    assert_eq!(of("0;"), Ok(json!({"test_line": "0"})));
    assert_eq!(of(";"), Ok(serde_json::Value::Null));
    assert_eq!(of("dark;2000"), Err(("T".into(), FaultCode::NotANumber)));
    assert_eq!(of("1840;-1"), Err(("C".into(), FaultCode::Negative)));
    assert_eq!(of("1840.5;2000"), Err(("T".into(), FaultCode::NotANumber)));

    let row = ROW.replace(',', ";");
    let twice = grouped(&format!("{header}{row};1840;2000\n{row};1841;2000\n"), &map);
    let differences = &twice.conflicting[0].differences;
    assert_eq!(differences[0].field, "test_line_signal");
    assert_eq!(differences[0].imported.as_deref(), Some("1841"));
}

#[test]
fn signals_of_two_lines_need_two_columns() {
    let maps = |readings: serde_json::Value| -> Vec<String> {
        let map: crate::column_maps::ColumnMap = serde_json::from_value(json!({
            "name": "invented", "mode": "row_by_row", "time_zone": "UTC",
            "time_formats": ["rfc3339"],
            "columns": {"reader_serial": {"column": "reader"}, "port": {"column": "port"},
                "read_at": {"column": "read"}},
            "readings": readings
        }))
        .unwrap();
        let faults = map.check().err().unwrap_or_default();
        faults.0.into_iter().map(|fault| fault.pointer).collect()
    };
    let of = |test: &str, control: &str| {
        maps(
            json!({"by_column": [{"column": "DON", "analyte": "deoxynivalenol",
            "unit": {"fixed": "ug/kg"}, "test_line_signal": test,
            "control_line_signal": control}]}),
        )
    };
    let none: [&str; 0] = [];
    assert_eq!(of("T", "C"), none);
    assert_eq!(of("T", " t"), ["/readings/by_column/0/control_line_signal"]);
    assert_eq!(of(" ", "C"), ["/readings/by_column/0/test_line_signal"]);
    let by_row = json!({"by_row": {"analyte": {"column": "test"}, "value": "value",
        "unit": {"fixed": "ug/kg"}, "test_line_signal": "T", "control_line_signal": "T"}});
    assert_eq!(maps(by_row), ["/readings/by_row/control_line_signal"]);
}
