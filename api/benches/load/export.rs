//! The export: what a reader of three ports writes in a long season, invented.

use crate::{READINGS_A_SAMPLE, cluster::Failure};
use serde_json::{Value, json};
use std::fmt::Write as _;

/// The column map that it is read by.
pub(crate) fn map(analyst: &str) -> Value {
    json!({
        "name": "Reader of bay 1", "mode": "row_by_row",
        "time_zone": "UTC", "time_formats": ["%d.%m.%Y %H:%M:%S"],
        "columns": {"reader_serial": {"column": "Reader"}, "port": {"column": "Port"},
            "read_at": {"column": "Read"}, "started_at": {"column": "Begun"},
            "sample_code": "Sample", "kit_lot_code": {"column": "Kit lot"},
            "curve_lot_code": {"column": "Curve"}, "matrix": {"column": "Matrix"},
            "operator": "Operator"},
        "readings": {"by_row": {"analyte": {"fixed": "aflatoxin-total"}, "value": "Result",
            "unit": {"fixed": "ug/kg"}}},
        "operators": {"op1": analyst},
    })
}

/// A value of a sample, in tenths of µg/kg: in range, below the limit, its replicates close.
fn tenths(sample: u32, replicate: u32) -> u32 {
    sample % 120 + 40 + replicate
}

/// So many rows: each sample is read once in each of five passes.
pub(crate) fn rows(readings: u32) -> Result<String, Failure> {
    let samples = readings.div_ceil(READINGS_A_SAMPLE);
    let mut text =
        String::from("Reader;Port;Begun;Read;Sample;Kit lot;Curve;Matrix;Operator;Result\r\n");
    for row in 0..readings {
        let (sample, replicate) = (row % samples, row / samples);
        let (port, second) = (row % 3 + 1, row / 3);
        let value = tenths(sample, replicate);
        writeln!(
            text,
            "R-1;{port};{};{};S-{sample};AF-118;C-118;maize;op1;{}.{}\r",
            moment(second),
            moment(second + 360),
            value / 10,
            value % 10
        )?;
    }
    Ok(text)
}

/// A second of a season that begins on 2 March 2026 at six.
fn moment(second: u32) -> String {
    let (day, of_day) = (second / 43_200, second % 43_200);
    format!(
        "{:02}.03.2026 {:02}:{:02}:{:02}",
        day % 28 + 2,
        of_day / 3600 + 6,
        of_day / 60 % 60,
        of_day % 60
    )
}

/// A single run of a sample, as a program at the bench posts it.
pub(crate) fn run(laboratory: &crate::laboratory::Laboratory, sample: &str, number: u32) -> String {
    let value = tenths(number, 0);
    json!({"sample": sample, "kit_lot": laboratory.kit_lot, "reader": laboratory.reader,
        "procedure": laboratory.procedure, "port": number % 3 + 1,
        "begun_at": "2026-03-01T08:00:00Z", "read_at": "2026-03-01T08:06:00Z",
        "curve_lot": "C-118", "matrix": "maize",
        "readings": [{"analyte": "aflatoxin-total", "kind": "number",
            "value": format!("{}.{}", value / 10, value % 10), "unit": "ug/kg"}]})
    .to_string()
}
