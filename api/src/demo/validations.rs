//! The demo's validation of a screening method: complete, adopted, and not yet decided by, so that
//! its figures can be looked at. Every value is invented.

use super::{
    bench::{Bench, day},
    caller::{text, version},
    people::People,
};
use crate::error::Answer;
use domain::time::Moment;
use serde_json::{Value, json};

/// Blanks and positives at 10 µg/kg of total aflatoxins, four of each a day.
const BLANKS: [&str; 20] = [
    "0.9", "1.3", "0.6", "1.1", "0.8", "1.5", "0.7", "1.2", "1.0", "0.5", "1.4", "0.9", "1.1",
    "0.8", "1.6", "0.7", "1.0", "1.2", "0.6", "1.1",
];
const POSITIVES: [&str; 20] = [
    "10.4", "9.8", "10.9", "10.1", "11.2", "9.6", "10.5", "10.7", "9.9", "10.2", "11.0", "10.3",
    "9.7", "10.6", "10.8", "10.0", "10.4", "11.1", "9.8", "10.3",
];

/// How long ago the first of the five days was.
const FIRST_DAY_AGO: u64 = 110;

/// Records the validation and adopts it, where it is missing.
pub(super) async fn validate(people: &People, bench: &Bench, now: Moment) -> Answer<()> {
    let code = "SV-AF";
    let determinations: Vec<Value> = [("negative", BLANKS), ("positive", POSITIVES)]
        .into_iter()
        .flat_map(|(kind, values)| {
            values.into_iter().zip(0_u64..).map(move |(value, place)| {
                let ago = FIRST_DAY_AGO.saturating_sub(place / 4);
                json!({"kind": kind, "on": day(now, ago), "value": value})
            })
        })
        .collect();
    let study = json!({"code": code, "procedure": bench.aflatoxin_procedure,
        "analyte": "aflatoxin-total", "commodity_group": "high-starch", "screening_target": "10",
        "study": {"kind": "within-laboratory"}, "determinations": determinations,
        "performed_by": [people.analyst_id, people.second_analyst_id]});
    let list = "/screening-validations";
    let made = people.analyst.by_code(list, "code", code).await?;
    let made = match made {
        Some(found) => found,
        None => people.analyst.post(list, &study).await?,
    };
    if text(&made, "state") == "draft" {
        let path = format!("{list}/{}/adoption", text(&made, "id"));
        let quality = &people.quality;
        quality.post_seen(&path, version(&made), &json!({})).await?;
    }
    Ok(())
}
