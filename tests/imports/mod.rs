//! Imports over HTTP: from a reader's export to runs, holds, refused rows and their mending.

mod bench_runs;
mod dialects;
mod import_readings;
mod interrupted;
mod many_rows;
mod mend_row;
mod signals;
mod twice;

use crate::harness::{
    callers::{Answered, Caller},
    fixtures::Bench,
};
use serde_json::{Value, json};

/// The header row of the invented export.
pub(crate) const HEADER: &str =
    "Reader;Port;Begun;Read;Sample;Lot;Kit lot;Curve;Matrix;Operator;Test;Result;Unit;Taken;Added";

/// How that export is read.
pub(crate) fn map(bench: &Bench, name: &str) -> Value {
    map_of(&bench.analyst, name)
}

/// How that export is read where `KM` is this analyst.
pub(crate) fn map_of(analyst: &Caller, name: &str) -> Value {
    json!({
        "name": name, "mode": "row_by_row", "time_zone": "Europe/Lisbon",
        "time_formats": ["%d.%m.%Y %H:%M:%S"],
        "columns": {"reader_serial": {"column": "Reader"}, "port": {"column": "Port"},
            "read_at": {"column": "Read"}, "started_at": {"column": "Begun"},
            "sample_code": "Sample", "lot_code": "Lot", "kit_lot_code": {"column": "Kit lot"},
            "curve_lot_code": {"column": "Curve"}, "matrix": {"column": "Matrix"},
            "operator": "Operator"},
        "readings": {"by_row": {"analyte": {"column": "Test"}, "value": "Result",
            "unit": {"column": "Unit"}}},
        "analyte_names": {"AFLA": "aflatoxin-total", "ZON": "zearalenone"},
        "units_by_mass": ["ppb"],
        "dilution_volumes": [{"sample_volume": "Taken", "diluent_volume": "Added"}],
        "operators": {"KM": analyst.id},
    })
}

/// A row of 1 March 2026: read six minutes after `minute` past eight, on port 1.
pub(crate) fn row(minute: u32, sample: &str, result: &str) -> String {
    format!(
        "R-1;1;01.03.2026 08:{minute:02}:00;01.03.2026 08:{:02}:00;{sample};L-1;AF-118;C-118;\
         maize;KM;AFLA;{result};ppb;;",
        minute + 6
    )
}

/// The rows under their header.
pub(crate) fn export(rows: &[String]) -> Vec<u8> {
    format!("{HEADER}\r\n{}\r\n", rows.join("\r\n")).into_bytes()
}

/// Drafts a map; its id.
pub(crate) async fn drafted(bench: &Bench, map: Value) -> String {
    bench
        .quality
        .post("/column-maps", map)
        .await
        .expect(201)
        .id()
}

/// Posts an export.
pub(crate) async fn import(by: &Caller, map: &str, bytes: Vec<u8>) -> Answered {
    let path = format!("/imports?column_map={map}");
    by.post_bytes(&path, "text/csv", bytes).await
}

/// What became of each row: line, outcome and the kinds of the holds.
pub(crate) fn outcomes(body: &Value) -> Vec<(u64, String, Vec<String>)> {
    let text = |value: &Value| value.as_str().unwrap().to_owned();
    body["rows"]
        .as_array()
        .unwrap()
        .iter()
        .map(|row| {
            let holds = row["holds"].as_array().cloned().unwrap_or_default();
            (
                row["line"].as_u64().unwrap(),
                text(&row["outcome"]),
                holds.iter().map(|hold| text(&hold["kind"])).collect(),
            )
        })
        .collect()
}

/// How many there are in a list.
pub(crate) async fn count(by: &Caller, path: &str) -> usize {
    let list = by.get(path).await.expect(200);
    list.body["items"].as_array().unwrap().len()
}
