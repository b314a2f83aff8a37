//! The demo's runs: most in a reader's export, some typed at the bench, with over-range readings
//! and their diluted second runs, blank and unknown samples. Values come from a fixed sequence.

use super::{
    bench::{AFLATOXIN_LOT, Bench, PAST_LOT, READERS, VOMITOXIN_LOT, signals},
    caller::text,
    controls,
    goods::{Sampled, at},
    people::People,
};
use crate::error::Answer;
use domain::time::Moment;
use serde_json::json;

/// A sequence of numbers that is the same each time (Knuth's MMIX generator).
struct Sequence(u64);

impl Sequence {
    fn below(&mut self, bound: u64) -> u64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33).checked_rem(bound).unwrap_or_default()
    }
}

struct Row {
    reader: usize,
    port: u64,
    read_at: String,
    sample: String,
    kit_lot: &'static str,
    analyte: &'static str,
    value: String,
    dilution: Option<(&'static str, &'static str)>,
}

/// Runs what is missing: the export first, then the bench.
pub(crate) async fn run(
    people: &People,
    bench: &Bench,
    goods: &[Sampled],
    now: Moment,
) -> Answer<()> {
    let mut sequence = Sequence(20_260_301);
    let worked: Vec<&Sampled> = goods.iter().filter(|one| one.number < 37).collect();
    let mut rows = Vec::new();
    for one in &worked {
        rows.extend(rows_of(one, now, &mut sequence));
    }
    rows.extend(strays(now));
    import(people, now, &rows).await?;
    controls::series(people, bench, goods, now).await
}

/// Five or six strips a sample: replicates, and for what is over range a diluted second run.
fn rows_of(one: &Sampled, now: Moment, sequence: &mut Sequence) -> Vec<Row> {
    let (analyte, top, lot) = if one.vomitoxin {
        ("DON", 5000, VOMITOXIN_LOT)
    } else if one.number == 8 {
        ("AFLA", 50, PAST_LOT)
    } else {
        ("AFLA", 50, AFLATOXIN_LOT)
    };
    let reader = usize::try_from(one.number % 2).unwrap_or_default();
    let over = one.number % 7 == 2;
    let level = if one.vomitoxin {
        300 + sequence.below(1500)
    } else {
        2 + sequence.below(24)
    };
    let dilution = if one.vomitoxin {
        ("200", "800")
    } else {
        ("100", "500")
    };
    let mut rows = Vec::new();
    let mut add = |minute: u64, port: u64, value: String, dilution| {
        rows.push(Row {
            reader,
            port,
            read_at: at(now, one.number, minute),
            sample: one.code.clone(),
            kit_lot: lot,
            analyte,
            value,
            dilution,
        });
    };
    if over {
        for port in 1..=2 {
            add(40 + port, port, format!(">{top}"), None);
        }
        // What is left of a level above the range, a few percent apart.
        let diluted = if one.vomitoxin {
            1400
        } else {
            14 + sequence.below(20)
        };
        for port in 1..=2 {
            let apart = if one.vomitoxin { port * 20 } else { 0 };
            add(
                60 + port,
                port,
                format!("{}.{}", diluted + apart, port),
                Some(dilution),
            );
        }
        add(63, 3, format!("{diluted}.0"), Some(dilution));
        return rows;
    }
    for port in 1..=3 {
        let apart = if one.vomitoxin { port * 8 } else { 0 };
        add(40 + port, port, format!("{}.{}", level + apart, port), None);
    }
    for port in 1..=3 {
        let apart = if one.vomitoxin { port * 5 } else { 0 };
        add(
            50 + port,
            port,
            format!("{}.{}", level + apart, port + 2),
            None,
        );
    }
    rows
}

/// What a reader exports that belongs to nothing: no sample typed, a sample nobody registered.
fn strays(now: Moment) -> Vec<Row> {
    ["", "", "MP-S9??", "TEST"]
        .into_iter()
        .zip(0_u64..)
        .map(|(sample, minute)| Row {
            reader: 0,
            port: 3,
            read_at: at(now, 3, 90 + minute),
            sample: sample.to_owned(),
            kit_lot: AFLATOXIN_LOT,
            analyte: "AFLA",
            value: format!("{}.5", 3 + minute),
            dilution: None,
        })
        .collect()
}

async fn import(people: &People, now: Moment, rows: &[Row]) -> Answer<()> {
    let map = column_map(people).await?;
    let mut export = String::from(
        "Reader;Port;Read;Sample;Kit lot;Curve;Matrix;Operator;Test;Result;Unit;Sample uL;Diluent uL;Test line;Control line\r\n",
    );
    for row in rows {
        let (sample_ul, diluent_ul) = row.dilution.unwrap_or_default();
        // Only the first reader exports what it measured on the strip.
        let (test_line, control_line) = if row.reader == 0 && row.kit_lot == AFLATOXIN_LOT {
            signals(&row.value, 2000 + 10 * row.port).unwrap_or_default()
        } else {
            Default::default()
        };
        let curve = row.kit_lot.replace("AF-", "C-").replace("DN-", "C-");
        let matrix = if row.analyte == "DON" {
            "wheat"
        } else {
            "maize"
        };
        let fields = [
            READERS
                .get(row.reader)
                .copied()
                .unwrap_or_default()
                .to_owned(),
            row.port.to_string(),
            row.read_at.trim_end_matches('Z').replace('T', " "),
            row.sample.clone(),
            row.kit_lot.to_owned(),
            curve,
            matrix.to_owned(),
            if row.reader == 0 { "IC" } else { "JV" }.to_owned(),
            row.analyte.to_owned(),
            row.value.replace('.', ","),
            "ppb".to_owned(),
            sample_ul.to_owned(),
            diluent_ul.to_owned(),
            test_line.replace('.', ","),
            control_line,
        ];
        export.push_str(&fields.join(";"));
        export.push_str("\r\n");
    }
    let path = format!("/imports?column_map={map}");
    let answered = people
        .integrator
        .post_bytes(&path, "text/csv", export.into_bytes())
        .await?;
    let counts = answered.get("counts").cloned().unwrap_or_default();
    tracing::info!(%counts, day = %now, "the demo's export was imported");
    Ok(())
}

async fn column_map(people: &People) -> Answer<String> {
    let name = "Export of the three-port readers";
    if let Some(found) = people.quality.by_code("/column-maps", "name", name).await? {
        return Ok(text(&found, "id"));
    }
    let map = json!({"name": name, "delimiter": "semicolon", "decimal_mark": "comma",
        "mode": "row_by_row", "time_zone": "UTC", "time_formats": ["%Y-%m-%d %H:%M:%S"],
        "columns": {"reader_serial": {"column": "Reader"}, "port": {"column": "Port"},
            "read_at": {"column": "Read"}, "sample_code": "Sample",
            "kit_lot_code": {"column": "Kit lot"}, "curve_lot_code": {"column": "Curve"},
            "matrix": {"column": "Matrix"},
            "operator": "Operator"},
        "readings": {"by_row": {"analyte": {"column": "Test"}, "value": "Result",
            "unit": {"column": "Unit"}, "test_line_signal": "Test line",
            "control_line_signal": "Control line"}},
        "analyte_names": {"AFLA": "aflatoxin-total", "DON": "deoxynivalenol"},
        "units_by_mass": ["ppb"],
        "dilution_volumes": [{"sample_volume": "Sample uL", "diluent_volume": "Diluent uL"}],
        "operators": {"IC": people.analyst_id, "JV": people.second_analyst_id}});
    let made = people.quality.post("/column-maps", &map).await?;
    Ok(text(&made, "id"))
}
