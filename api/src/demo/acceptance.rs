//! The demo's new kit lot: six samples on it and on the lot in use, and its acceptance on the
//! comparison. All invented.

use super::{
    bench::{Bench, day, later},
    caller::{text, version},
    people::People,
};
use crate::error::Answer;
use domain::time::Moment;
use serde_json::{Value, json};

/// The new lot.
const NEW_LOT: &str = "AF-131";

/// What each sample gave on the lot in use and on the new one, µg/kg.
const PAIRS: [(&str, &str); 6] = [
    ("4.8", "5.0"),
    ("9.6", "9.3"),
    ("14.9", "15.4"),
    ("21.2", "21.0"),
    ("30.5", "31.3"),
    ("41.0", "41.9"),
];

/// Registers the new lot, compares it and accepts it, as far as that is not done.
pub(crate) async fn accept(people: &People, bench: &Bench, now: Moment) -> Answer<()> {
    let body = json!({"code": NEW_LOT, "name": "Strips for aflatoxin-total",
        "analytes": [{"analyte": "aflatoxin-total", "upper": "50"}], "curve_lot": "C-118",
        "matrices": ["maize", "wheat", "groundnut"], "expires_on": later(now, 250),
        "storage": {"minimum_c": "2", "maximum_c": "25"}, "procedure": bench.aflatoxin_procedure,
        "receipts": [{"received_on": day(now, 3), "tests": 96, "storage_kept": true}]});
    let made = people.quality.ensure("/kit-lots", NEW_LOT, &body).await?;
    let lot = text(&made, "id");
    if text(&made, "state") != "quarantined" {
        return Ok(());
    }
    if made.get("tests_used").and_then(Value::as_u64) == Some(0) {
        for (number, values) in (1_u64..).zip(PAIRS) {
            both(people, bench, now, &lot, number, values).await?;
        }
    }
    let used = &bench.aflatoxin_lot;
    let path = format!("/kit-lots/{lot}/comparison?compared_with={used}");
    let seen = people.quality.get(&path).await?;
    let accepted = json!({"runs": seen.get("runs"), "compared_with": used,
        "compared_runs": seen.get("compared_runs")});
    let path = format!("/kit-lots/{lot}/acceptance");
    people
        .quality
        .post_seen(&path, version(&made), &accepted)
        .await?;
    Ok(())
}

/// One sample on both lots.
async fn both(
    people: &People,
    bench: &Bench,
    now: Moment,
    lot: &str,
    number: u64,
    (used_gave, new_gave): (&str, &str),
) -> Answer<()> {
    let code = format!("MP-KA-{number}");
    let date = day(now, 2);
    let sample = json!({"code": code, "purpose": "kit-acceptance", "site": bench.site,
        "commodity": "maize-grain", "received_at": format!("{date}T06:00:00Z")});
    let made = people.analyst.ensure("/samples", &code, &sample).await?;
    for (kit_lot, value, port) in [
        (bench.aflatoxin_lot.as_str(), used_gave, 2),
        (lot, new_gave, 3),
    ] {
        let minute = number.saturating_mul(8);
        let run = json!({"sample": text(&made, "id"), "kit_lot": kit_lot,
            "procedure": bench.aflatoxin_procedure, "reader_serial": "MP-R2", "port": port,
            "curve_lot": "C-118", "matrix": "maize",
            "begun_at": format!("{date}T06:{minute:02}:00Z"),
            "read_at": format!("{date}T06:{:02}:00Z", minute.saturating_add(6)),
            "readings": [{"analyte": "aflatoxin-total", "kind": "number", "value": value,
                "unit": "ug/kg"}]});
        people.analyst.post("/runs", &run).await?;
    }
    Ok(())
}
