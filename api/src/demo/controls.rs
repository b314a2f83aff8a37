//! The demo's series and control runs, typed at the bench: a control run a day before the goods
//! arrived, one series as it should be, and one whose second control run completes a rule, so that
//! what was run between is held. All invented.

use super::{
    bench::{Bench, day},
    caller::text,
    goods::{Sampled, at},
    people::People,
};
use crate::error::Answer;
use domain::time::Moment;
use serde_json::{Value, json};

/// The sample that is run once more between two control runs; it waits for its reviewer.
const HELD: u64 = 36;

/// What control runs gave on the days before, the oldest first: about 20 µg/kg, no rule completed.
const EARLIER: [&str; 20] = [
    "19.4", "20.9", "20.2", "18.7", "21.1", "19.8", "20.6", "21.9", "19.1", "20.4", "18.9", "20.0",
    "21.3", "19.6", "22.7", "19.9", "20.7", "18.5", "20.3", "19.7",
];
/// How many days ago the first of them was read.
const FIRST: u64 = 31;

/// Makes the control runs of the days before that are missing, one a day.
async fn earlier(people: &People, bench: &Bench, now: Moment) -> Answer<()> {
    let at = |ago: u64, time: &str| format!("{}T{time}:00Z", day(now, ago));
    let sample = json!({"code": "MP-CTRL-0", "purpose": "control", "site": bench.site,
        "control_material": bench.aflatoxin_control, "commodity": "maize-grain",
        "received_at": at(FIRST, "06:00")});
    let made = people.analyst.ensure("/samples", "MP-CTRL-0", &sample);
    let control = text(&made.await?, "id");
    let Some(series) = opened(people, bench, "MP-SER-0", at(FIRST, "06:10")).await? else {
        return Ok(());
    };
    for (ago, value) in (0..=FIRST).rev().zip(EARLIER) {
        let times = (at(ago, "06:30"), at(ago, "06:36"));
        record(people, bench, &series, &control, times, value).await?;
    }
    Ok(())
}

/// Makes the series that are missing, with their runs.
pub(crate) async fn series(
    people: &People,
    bench: &Bench,
    goods: &[Sampled],
    now: Moment,
) -> Answer<()> {
    let made = people
        .analyst
        .ensure(
            "/samples",
            "MP-CTRL-1",
            &json!({"code": "MP-CTRL-1", "purpose": "control", "site": bench.site,
                "control_material": bench.aflatoxin_control, "commodity": "maize-grain",
                "received_at": at(now, 0, 1)}),
        )
        .await?;
    let control = text(&made, "id");
    earlier(people, bench, now).await?;
    if let Some(series) = opened(people, bench, "MP-SER-1", at(now, 0, 30)).await? {
        for (minutes, value) in [(35, "19.2"), (95, "21.4"), (125, "20.3")] {
            run(people, bench, now, &series, &control, (0, minutes), value).await?;
        }
    }
    let held = goods.iter().find(|one| one.number == HELD);
    let (Some(held), Some(series)) = (
        held,
        opened(people, bench, "MP-SER-2", at(now, HELD, 60)).await?,
    ) else {
        return Ok(());
    };
    // Both are inside the window, and both beyond two standard deviations on one side: 2-2s.
    run(people, bench, now, &series, &control, (HELD, 60), "22.8").await?;
    let value = reported(people, &held.sample).await?;
    run(
        people,
        bench,
        now,
        &series,
        &held.sample,
        (HELD, 68),
        &value,
    )
    .await?;
    run(people, bench, now, &series, &control, (HELD, 76), "23.0").await
}

/// Opens a series; none where it is there already.
async fn opened(
    people: &People,
    bench: &Bench,
    code: &str,
    opened_at: String,
) -> Answer<Option<String>> {
    let found = people.analyst.by_code("/series", "code", code).await?;
    if found.is_some() {
        return Ok(None);
    }
    let body = json!({"code": code, "site": bench.site, "procedure": bench.aflatoxin_procedure,
        "kit_lot": bench.aflatoxin_lot, "opened_at": opened_at});
    let made = people.analyst.post("/series", &body).await?;
    Ok(Some(text(&made, "id")))
}

/// What is reported of a sample so far: a further run that agrees with it.
async fn reported(people: &People, sample: &str) -> Answer<String> {
    let path = format!("/results?sample={sample}");
    let page = people.analyst.get(&path).await?;
    let first = page.get("items").and_then(|items| items.get(0));
    Ok(first
        .map(|result: &Value| text(result, "reported"))
        .unwrap_or_default())
}

/// A run of a series; `at` is the lot whose working day it was on, and the minute.
async fn run(
    people: &People,
    bench: &Bench,
    now: Moment,
    series: &str,
    sample: &str,
    (number, minutes): (u64, u64),
    value: &str,
) -> Answer<()> {
    let times = (at(now, number, minutes), at(now, number, minutes + 6));
    record(people, bench, series, sample, times, value).await
}

/// Records a run that was begun and read at these times.
async fn record(
    people: &People,
    bench: &Bench,
    series: &str,
    sample: &str,
    (begun_at, read_at): (String, String),
    value: &str,
) -> Answer<()> {
    let run = json!({"sample": sample, "series": series, "kit_lot": bench.aflatoxin_lot,
        "procedure": bench.aflatoxin_procedure, "reader_serial": "MP-R1", "port": 1,
        "curve_lot": "C-118", "matrix": "maize", "begun_at": begun_at, "read_at": read_at,
        "readings": [{"analyte": "aflatoxin-total", "kind": "number", "value": value,
            "unit": "ug/kg"}]});
    people.analyst.post("/runs", &run).await?;
    Ok(())
}
