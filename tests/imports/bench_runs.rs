//! Runs typed at the bench that meet their exported selves.

use super::{count, drafted, export, import, map, outcomes, row};
use crate::harness::{
    callers::serve,
    fixtures::{Bench, bench_of},
};
use serde_json::{Value, json};

fn typed(bench: &Bench, read_at: &str, sample: Option<&str>, value: &str) -> Value {
    json!({"sample": sample, "kit_lot": bench.kit_lot, "reader": bench.reader, "port": 1,
        "read_at": read_at, "curve_lot": "C-118", "matrix": "maize",
        "readings": [{"analyte": "aflatoxin-total", "kind": "number", "value": value,
            "unit": "ug/kg"}]})
}

#[actix_web::test]
async fn a_typed_run_and_its_export_are_one_run_and_a_difference_holds_it() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    let by_map = drafted(&bench, map(&bench, "Bay 1")).await;
    let analyst = &bench.analyst;
    let (first, second) = (bench.samples[0].as_str(), bench.samples[1].as_str());
    let equal = typed(&bench, "2026-03-01T08:05:10Z", Some(first), "4.1");
    let equal = analyst.post("/runs", equal).await.expect(201);
    let other = typed(&bench, "2026-03-01T08:17:10Z", Some(second), "5.1");
    let other = analyst.post("/runs", other).await.expect(201);
    let blank = typed(&bench, "2026-03-01T08:26:00Z", None, "6.1");
    let blank = analyst.post("/runs", blank).await.expect(201);
    let rows = [
        // The bench knows the sample by its code, the export by its barcode.
        row(0, "4006381333931", "4.1"),
        row(10, "S-2", "5.9"),
        row(20, "S-3", "6.1"),
        row(40, "S-3", "7"),
    ];
    let done = import(analyst, &by_map, export(&rows)).await.expect(201);
    let found = outcomes(&done.body);
    let words: Vec<&str> = found.iter().map(|(_, word, _)| word.as_str()).collect();
    assert_eq!(words, ["joined", "joined", "joined", "recorded"]);
    assert_eq!(found[0].2, Vec::<String>::new());
    assert!(
        found[1].2.contains(&"origin-difference".to_owned()),
        "{found:?}"
    );
    assert_eq!(done.body["rows"][0]["run"], json!(equal.id()));
    assert_eq!(count(analyst, "/runs").await, 4);

    let joined = analyst
        .get(&format!("/runs/{}", other.id()))
        .await
        .expect(200);
    assert_eq!(joined.body["origins"][0], json!({"bench": true}));
    assert_eq!(joined.body["origins"][1]["line"], 3);
    assert_eq!(
        joined.body["differences"],
        json!([{"member": "/readings/0/value", "bench": "5.1 ug/kg", "export": "5.9 ug/kg",
                "analyte": "aflatoxin-total"}])
    );
    assert_eq!(
        joined.body["readings"][0]["value"], "5.1",
        "nothing is repaired"
    );
    let taken = analyst
        .get(&format!("/runs/{}", blank.id()))
        .await
        .expect(200);
    assert_eq!(
        taken.body["sample"],
        json!(bench.samples[2]),
        "the export names it"
    );

    let again = import(analyst, &by_map, export(&rows)).await.expect(201);
    assert!(
        outcomes(&again.body)
            .iter()
            .all(|(_, word, _)| word == "same")
    );
    crate::rebuild::is_told_by_records(&app).await;
}

#[actix_web::test]
async fn a_row_that_two_typed_runs_are_equally_near_waits_for_a_person() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    let by_map = drafted(&bench, map(&bench, "Bay 1")).await;
    let analyst = &bench.analyst;
    let sample = Some(bench.samples[0].as_str());
    for time in ["2026-03-01T08:05:30Z", "2026-03-01T08:06:30Z"] {
        let run = typed(&bench, time, sample, "4.1");
        analyst.post("/runs", run).await.expect(201);
    }
    let rows = [row(0, "S-1", "4.1")];
    let done = import(analyst, &by_map, export(&rows)).await.expect(201);
    assert_eq!(done.body["counts"]["refused"], 1);
    let refused = &done.body["refused"][0];
    assert_eq!(refused["faults"][0]["code"], "several-bench-runs");
    assert_eq!(refused["text"], json!(rows[0]));
    assert_eq!(count(analyst, "/runs").await, 2);
    let twice = analyst.get("/runs").await.expect(200).body["items"][0].clone();
    let reason = json!({"code": "transcription-error", "text": "Typed twice."});
    analyst
        .post_seen(
            &format!("/runs/{}/withdrawal", twice["id"].as_str().unwrap()),
            1,
            json!({"reason": reason}),
        )
        .await
        .expect(200);
    let mended = analyst
        .post(
            &format!("/imports/{}/rows/2/mending", done.id()),
            json!({"text": rows[0]}),
        )
        .await
        .expect(200);
    assert_eq!(mended.body["outcome"], "joined");
    crate::rebuild::is_told_by_records(&app).await;
}

#[actix_web::test]
async fn a_run_that_gets_its_sample_from_an_export_is_completed_from_what_stands_there() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    let by_map = drafted(&bench, map(&bench, "Bay 1")).await;
    let pipette = json!({"code": "PI-1", "kind": "pipette", "name": "of the site",
        "site": bench.site, "minimum_volume_ul": "20", "maximum_volume_ul": "1000"});
    let pipette = bench.quality.post("/equipment", pipette).await.expect(201);
    let mut blank = typed(&bench, "2026-03-01T08:06:00Z", None, "6.1");
    blank["dilution"] =
        json!([{"sample_volume_ul": "100", "diluent_volume_ul": "500", "diluent": "water"}]);
    let blank = bench.analyst.post("/runs", blank).await.expect(201);
    assert!(blank.body.get("pipettes_at_hand").is_none());
    let mut parent = None;
    for (kind, at) in [
        ("ground-sample", "07:30"),
        ("test-portion", "07:40"),
        ("extract", "07:50"),
    ] {
        let mut step = json!({"kind": kind, "sample": bench.samples[2],
            "at": format!("2026-03-01T{at}:00Z")});
        if let Some(parent) = parent {
            step["parent"] = json!(parent);
        }
        let made = bench.analyst.post("/preparations", step).await;
        parent = Some(made.expect(201).id());
    }
    let extract = parent.unwrap();
    let done = import(&bench.analyst, &by_map, export(&[row(0, "S-3", "6.1")])).await;
    assert_eq!(outcomes(&done.expect(201).body)[0].1, "joined");
    let path = format!("/runs/{}", blank.id());
    let taken = bench.analyst.get(&path).await.expect(200).body;
    assert_eq!(taken["sample"], json!(bench.samples[2]));
    assert_eq!(taken["pipettes_at_hand"], json!([pipette.id()]));
    assert_eq!(taken["extract"], json!(extract));
    crate::rebuild::is_told_by_records(&app).await;
}
