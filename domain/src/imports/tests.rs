//! Check values and properties of imports; sources stand in `tests/data/imports/README.md`.
#![expect(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::panic,
    reason = "tests may unwrap"
)]

mod dialects;
mod runs;

use serde_json::{Value, json};

use super::*;
use crate::column_maps::{ReadText, TimePattern, UnitByMass};
use crate::time::Moment;

pub(super) fn map(change: Value) -> CheckedColumnMap {
    let mut base = json!({
        "name": "invented", "mode": "row_by_row", "time_zone": "Europe/Vienna",
        "time_formats": ["%Y-%m-%d %H:%M:%S"],
        "columns": {
            "reader_serial": {"column": "reader"}, "port": {"column": "port"},
            "read_at": {"column": "read"}, "sample_code": "sample"
        },
        "readings": {"by_row": {"analyte": {"column": "test"}, "value": "value",
                                "unit": {"column": "unit"}}}
    });
    merge(&mut base, change);
    serde_json::from_value::<ColumnMap>(base)
        .unwrap()
        .check()
        .unwrap()
}

/// Member by member; of two alternatives, the change's one.
fn merge(base: &mut Value, change: Value) {
    match (base, change) {
        (Value::Object(base), Value::Object(change)) => {
            let alternatives = ["column", "fixed", "date_and_time", "by_row", "by_column"];
            if alternatives.iter().any(|name| change.contains_key(*name)) {
                base.clear();
            }
            for (name, value) in change {
                merge(base.entry(name).or_insert(Value::Null), value);
            }
        }
        (base, change) => *base = change,
    }
}

pub(super) const HEADER: &str = "reader,port,read,sample,test,value,unit\n";
pub(super) const ROW: &str = "R-1,2,2026-03-07 14:05:09,S-1,deoxynivalenol,820,ug/kg";

pub(super) fn rows(text: &str, map: &CheckedColumnMap) -> Vec<RowOutcome> {
    parse(text.as_bytes(), map).unwrap().rows
}

/// The codes of the faults of one row, with the columns.
fn faults(row: &str, map: &CheckedColumnMap) -> Vec<(String, FaultCode)> {
    let rows = rows(&format!("{HEADER}{row}\n"), map);
    match &rows[0].outcome {
        Ok(_) => Vec::new(),
        Err(faults) => {
            for fault in faults {
                assert!(fault.detail.len() > 20, "says what to do: {}", fault.detail);
            }
            faults
                .iter()
                .map(|fault| (fault.column.clone(), fault.code))
                .collect()
        }
    }
}

#[test]
fn records_are_those_of_rfc_4180() {
    let cases: Value =
        serde_json::from_str(include_str!("../../../tests/data/imports/csv_cases.json")).unwrap();
    for case in cases["cases"].as_array().unwrap() {
        let text = case["text"].as_str().unwrap();
        let delimiter = if case["name"].as_str().unwrap().starts_with("semicolon") {
            b';'
        } else {
            b','
        };
        let read: Vec<_> = records(text, delimiter).collect();
        let width = read[0].fields.as_ref().map(Vec::len);
        let whole = read
            .iter()
            .all(|record| record.fields.is_ok() && record.fields.as_ref().map(Vec::len) == width);
        if case["rows"].is_null() {
            assert!(!whole, "{}", case["name"]);
            continue;
        }
        let fields: Vec<Vec<String>> = read
            .into_iter()
            .map(|record| {
                let fields = record.fields.unwrap();
                fields
                    .into_iter()
                    .map(std::borrow::Cow::into_owned)
                    .collect()
            })
            .collect();
        assert_eq!(json!(fields), case["rows"], "{}", case["name"]);
    }
}

#[test]
fn times_are_those_of_rfc_3339() {
    let pattern: TimePattern = "rfc3339".parse().unwrap();
    let mut checked = 0;
    let table = include_str!("../../../tests/data/imports/time.csv");
    for record in records(table, b',').skip(1) {
        let fields = record.fields.unwrap();
        let read = pattern.read(&fields[0]).map(|read| match read {
            ReadText::WithOffset(time) => Moment::new(time.to_utc()).to_string(),
            ReadText::Local(_) => panic!("{} has an offset", fields[0]),
        });
        // Published instants have as many fraction digits as their text; moments have six.
        let expected = fields[3].trim_end_matches('Z');
        let (second, fraction) = expected.split_once('.').unwrap_or((expected, ""));
        let expected = format!("{second}.{:0<6.6}Z", fraction);
        match fields[1].as_ref() {
            "yes" => assert_eq!(read, Some(expected), "{}", fields[0]),
            "no" => assert_eq!(read, None, "{}", fields[0]),
            _ => assert!(read.is_none_or(|read| read == expected), "{}", fields[0]),
        }
        checked += 1;
    }
    assert_eq!(checked, 17);
}

#[test]
fn units_are_those_of_ucum_that_are_mass_fractions() {
    use UnitByMass::{Percent, Ppb, Ppm, Ppt, Ppth};
    let all = [Ppb, Ppm, Ppt, Ppth, Percent];
    let table = include_str!("../../../tests/data/imports/units.csv");
    for record in records(table, b',').skip(1) {
        let fields = record.fields.unwrap();
        let ways = std::iter::once(fields[0].as_ref()).chain(fields[1].split(", "));
        for written in ways {
            let factor = |by_mass: &[UnitByMass]| {
                mass_unit(written, by_mass)
                    .map(|unit| (unit.multiplier * unit.unit.in_ug_per_kg()).normalize())
                    .map_err(|(code, _)| code)
            };
            let expected = || Ok(fields[3].parse::<rust_decimal::Decimal>().unwrap());
            match fields[4].as_ref() {
                "yes" => assert_eq!(factor(&[]), expected(), "{written}"),
                "only if by mass" => {
                    assert_eq!(factor(&[]), Err(FaultCode::AmbiguousUnit), "{written}");
                    assert_eq!(factor(&all), expected(), "{written}");
                }
                _ => assert_eq!(factor(&all), Err(FaultCode::UnknownUnit), "{written}"),
            }
        }
    }
}

#[test]
fn what_cannot_be_read_names_column_and_code() {
    let map = map(json!({}));
    let mut kinds = std::collections::BTreeSet::new();
    let table = include_str!("tests/faulty_rows.txt");
    for line in table.lines().filter(|line| !line.starts_with('#')) {
        let [column, code, row] = line.splitn(3, " | ").collect::<Vec<_>>()[..] else {
            panic!("column | code | row: {line}");
        };
        let row = row.replace("\\n", "\n");
        let code: FaultCode = serde_json::from_value(json!(code)).unwrap();
        assert_eq!(faults(&row, &map), [(column.to_owned(), code)], "{row}");
        kinds.insert(code);
    }
    assert_eq!(kinds.len(), 15);
    assert_eq!(faults(ROW, &map), []);
    let all = faults("R-1,,nine,S-1,patulin,-1,ppb", &map);
    assert_eq!(all.len(), 5, "all faults of a row at once: {all:?}");
}

#[test]
fn a_faulty_row_leaves_its_neighbours_alone_and_keeps_its_line_and_text() {
    let map = map(json!({}));
    let text = format!(
        "{HEADER}\n{ROW}\nR-1,2,\"x\ny\",S-1,zearalenone,1,ug/kg\nR\"-1,2\n{ROW}\n,,,,,,\n"
    );
    let export = parse(text.as_bytes(), &map).unwrap();
    let lines: Vec<_> = export.rows.iter().map(|row| row.line).collect();
    assert_eq!(lines, [3, 4, 6, 7]);
    assert_eq!(export.rows[1].raw, "R-1,2,\"x\ny\",S-1,zearalenone,1,ug/kg");
    assert_eq!(export.rows[2].raw, "R\"-1,2");
    assert!(export.rows[3].outcome.is_ok());
    assert_eq!(export.blank_lines, [8]);
}

#[test]
fn an_export_that_was_cut_off_is_refused_whole() {
    let map = map(json!({}));
    for cut in [
        format!("{HEADER}{ROW}\nR-1,2,2026-03-07"),
        format!("{HEADER}{ROW}\nR-1,2,2026-03-07 14:05:09,\"S-2,zear"),
        format!("{HEADER}{ROW}\nR-1,2,2026-03-07 14:05:09,\"S-2,zear\nand more\n"),
    ] {
        let refusal = parse(cut.as_bytes(), &map).unwrap_err();
        assert!(
            matches!(refusal, ExportRefusal::Truncated { line: 3, .. }),
            "{refusal}"
        );
    }
    let whole = format!("{HEADER}{ROW}");
    assert_eq!(
        rows(&whole, &map).len(),
        1,
        "the last line break may be missing"
    );
}

#[test]
fn a_header_row_that_does_not_fit_says_all_that_is_missing_and_all_that_is_there() {
    let map = map(json!({"extra_columns": "reject"}));
    let refusal = parse(b"reader;read;weather\n", &map).unwrap_err();
    let ExportRefusal::MissingColumns { missing, found } = &refusal else {
        panic!("{refusal}");
    };
    assert_eq!(missing, &["port", "sample", "test", "value", "unit"]);
    assert_eq!(found, &["reader", "read", "weather"]);
    assert!(refusal.to_string().contains("\"sample\", \"test\""));
    let twice = parse(b"reader,port,read,sample,test,value,unit,Value \n", &map).unwrap_err();
    assert_eq!(
        twice,
        ExportRefusal::DuplicateColumns {
            names: vec!["Value".into()]
        }
    );
    let extra = parse(b"reader,port,read,sample,test,value,unit,weather\n", &map).unwrap_err();
    assert!(matches!(extra, ExportRefusal::ExtraColumns { names } if names == ["weather"]));
    for empty in ["", "\n\r\n", "\u{feff}"] {
        assert_eq!(parse(empty.as_bytes(), &map), Err(ExportRefusal::Empty));
    }
    assert!(matches!(
        parse(b"rea\"der,port\n", &map),
        Err(ExportRefusal::UnreadableHeader { line: 1, .. })
    ));
}

#[test]
fn values_that_are_no_plain_numbers_are_kept_as_what_they_say() {
    let map = map(json!({"units_by_mass": ["ppm"], "thousands_mark": "comma"}));
    for (value, unit, want) in [
        ("<2", "ug/kg", "<2"),
        ("\"> 5,000\"", "ug/kg", ">5000"),
        ("nd", "", "not-detected"),
        ("N.D.", "ug/kg", "not-detected"),
        ("Invalid", "", "invalid"),
        ("007.50", "ug/kg", "7.50"),
        (".5", "ppm", "0.5"),
        ("0", "ug/kg", "0"),
        ("2", "ng/kg", "0.002"),
    ] {
        let text = format!("{HEADER}R-1,2,2026-03-07 14:05:09,S-1,zearalenone,{value},{unit}\n");
        let rows = rows(&text, &map);
        let row = rows[0].outcome.as_ref().unwrap();
        assert_eq!(value_text(&row.readings[0].reading), want, "{value}");
        assert_eq!(row.readings[0].written, value.trim_matches('"'));
    }
}

#[test]
fn a_map_that_cannot_be_read_by_says_where() {
    let at = |change: Value| -> Vec<String> {
        let mut base = serde_json::to_value(map(json!({})).map()).unwrap();
        merge(&mut base, change);
        let map: ColumnMap = serde_json::from_value(base).unwrap();
        match map.check() {
            Ok(_) => Vec::new(),
            Err(faults) => faults.0.into_iter().map(|fault| fault.pointer).collect(),
        }
    };
    assert!(at(json!({})).is_empty());
    let account = "019ca869-5003-7d46-b59c-6cf85cca57e4";
    for (change, pointer) in [
        (json!({"name": " "}), "/name"),
        (json!({"time_zone": "Europe/Atlantis"}), "/time_zone"),
        (json!({"time_formats": []}), "/time_formats"),
        (
            json!({"time_formats": ["rfc3339", "%d.%m."]}),
            "/time_formats/1",
        ),
        (json!({"thousands_mark": "point"}), "/thousands_mark"),
        (
            json!({"join_tolerance_seconds": 3601}),
            "/join_tolerance_seconds",
        ),
        (json!({"units_by_mass": ["ppb", "ppb"]}), "/units_by_mass"),
        (
            json!({"columns": {"sample_code": ""}}),
            "/columns/sample_code",
        ),
        (
            json!({"columns": {"port": {"fixed": "left"}}}),
            "/columns/port/fixed",
        ),
        (json!({"register_samples": true}), "/columns/lot_code"),
        (
            json!({"readings": {"by_column": []}}),
            "/readings/by_column",
        ),
        (json!({"already_multiplied": true}), "/already_multiplied"),
        (json!({"words": {"below": ["<", "-"]}}), "/words/below/1"),
        (
            json!({"words": {"invalid": {"nd": "other"}, "not_detected": ["ND"]}}),
            "/words/invalid/nd",
        ),
        (json!({"operators": {"a/b": account}}), "/columns/operator"),
        (json!({"identity": ["reader_serial", "port"]}), "/identity"),
        (
            json!({"identity": ["read_at", "strip_barcode"]}),
            "/identity/1",
        ),
        (
            json!({"analyte_names": {"DON": "deoxynivalenol", "don ": "zearalenone"}}),
            "/analyte_names/don ",
        ),
        (
            json!({"dilution_volumes": [{"sample_volume": "a", "diluent_volume": "A"}]}),
            "/dilution_volumes/0/diluent_volume",
        ),
    ] {
        assert_eq!(at(change.clone()), [pointer], "{change}");
    }
}
