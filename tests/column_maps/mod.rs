//! Column maps over HTTP.

mod draft_column_map;
mod revise_column_map;

use serde_json::{Value, json};

/// A map of one reader, by rows.
pub(crate) fn plain(name: &str) -> Value {
    json!({
        "name": name, "mode": "row_by_row",
        "time_zone": "Europe/Vienna", "time_formats": ["%d.%m.%Y %H:%M:%S"],
        "columns": {"reader_serial": {"column": "Reader"}, "port": {"column": "Port"},
                    "read_at": {"column": "Time"}, "sample_code": "Sample",
                    "operator": "Operator"},
        "readings": {"by_row": {"analyte": {"fixed": "deoxynivalenol"}, "value": "Result",
                                "unit": {"fixed": "ug/kg"}}},
    })
}
