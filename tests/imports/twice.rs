//! The same export, posted again or overlapping another.

use super::{count, drafted, export, import, map, outcomes, row};
use crate::harness::{
    callers::{fresh_key, serve},
    fixtures::bench_of,
};
use serde_json::json;

fn words(body: &serde_json::Value) -> Vec<String> {
    outcomes(body)
        .into_iter()
        .map(|(_, word, _)| word)
        .collect()
}

#[actix_web::test]
async fn an_export_posted_again_makes_nothing_twice() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    let by_map = drafted(&bench, map(&bench, "Bay 1")).await;
    let path = format!("/imports?column_map={by_map}");
    let first = [
        row(0, "S-1", "4.1"),
        row(10, "", "4.2"),
        row(20, "S-2", "much"),
    ];
    let key = fresh_key();
    let analyst = &bench.analyst;
    let once = analyst
        .post_bytes_once(&path, &key, "text/csv", export(&first))
        .await
        .expect(201);
    let again = analyst
        .post_bytes_once(&path, &key, "text/csv", export(&first))
        .await
        .expect(201);
    assert_eq!(
        once.body, again.body,
        "the same request is answered the same"
    );
    assert_eq!(count(analyst, "/imports").await, 1);
    let other = analyst
        .post_bytes_once(&path, &key, "text/csv", export(&first[..1]))
        .await
        .expect(422);
    assert_eq!(other.problem(), "idempotency-key-reused");

    let anew = import(analyst, &by_map, export(&first)).await.expect(201);
    assert_eq!(words(&anew.body), ["same", "same", "refused"]);
    assert_eq!(anew.body["rows"][0]["run"], once.body["rows"][0]["run"]);
    assert_eq!(
        anew.body["refused"][0]["refused_before"],
        json!({"import": once.id(), "line": 4})
    );
    assert_eq!(count(analyst, "/runs").await, 2);
    let rows = format!("/imports/{}/rows", anew.id());
    assert_eq!(
        count(analyst, &rows).await,
        0,
        "the refused row is kept once"
    );
    crate::rebuild::is_told_by_records(&app).await;
}

#[actix_web::test]
async fn overlapping_exports_add_what_is_new_and_refuse_what_says_something_else() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    let by_map = drafted(&bench, map(&bench, "Bay 1")).await;
    let first = [
        row(0, "S-1", "4.1"),
        row(10, "S-2", "5.0"),
        row(20, "S-3", "6"),
    ];
    let once = import(&bench.analyst, &by_map, export(&first))
        .await
        .expect(201);
    let second = [
        row(10, "S-2", "5.0"),
        row(0, "S-1", "4.1").replace("AFLA;4.1", "ZON;52"),
        row(20, "S-3", "6.0").replace(";KM;", ";JT;"),
        row(30, "S-3", "7"),
        row(30, "S-3", "7"),
        row(30, "S-3", "8"),
    ];
    let twice = import(&bench.analyst, &by_map, export(&second))
        .await
        .expect(201);
    assert_eq!(
        words(&twice.body),
        ["same", "added", "refused", "recorded", "same", "refused"]
    );
    let counts = &twice.body["counts"];
    let sum: u64 = ["recorded", "joined", "added", "same", "refused"]
        .iter()
        .map(|word| counts[word].as_u64().unwrap())
        .sum();
    assert_eq!(counts["rows"].as_u64(), Some(sum));

    let run = once.body["rows"][0]["run"].as_str().unwrap();
    let run = bench.analyst.get(&format!("/runs/{run}")).await.expect(200);
    assert_eq!(run.body["readings"].as_array().unwrap().len(), 2);
    assert_eq!(run.body["origins"].as_array().unwrap().len(), 2);

    let against_run = &twice.body["refused"][0];
    assert_eq!(against_run["faults"][0]["code"], "contradicts-run");
    assert_eq!(
        against_run["contradiction"]["run"],
        once.body["rows"][2]["run"]
    );
    assert_eq!(
        against_run["contradiction"]["differences"],
        json!([{"field": "value", "recorded": "6", "imported": "6.0"},
               {"field": "operator", "recorded": "KM", "imported": "JT"}])
    );
    let against_row = &twice.body["refused"][1];
    assert_eq!(against_row["faults"][0]["code"], "contradicts-row");
    assert_eq!(against_row["contradiction"]["line"], 5);
    assert_eq!(count(&bench.analyst, "/runs").await, 4);

    // All that came is known by now, whichever export told it.
    let third = [
        row(0, "S-1", "4.1").replace("AFLA;4.1", "ZON;52"),
        row(0, "S-1", "4.1"),
        row(30, "S-3", "7"),
    ];
    let thrice = import(&bench.analyst, &by_map, export(&third))
        .await
        .expect(201);
    assert_eq!(words(&thrice.body), ["same", "same", "same"]);
    crate::rebuild::is_told_by_records(&app).await;
}

#[actix_web::test]
async fn a_corrected_or_withdrawn_run_is_known_by_what_was_first_imported() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    let by_map = drafted(&bench, map(&bench, "Bay 1")).await;
    let rows = [row(0, "S-1", "4.1")];
    let once = import(&bench.analyst, &by_map, export(&rows))
        .await
        .expect(201);
    let run = once.body["rows"][0]["run"].as_str().unwrap();
    let reason = json!({"code": "wrong-sample", "text": "The strip was of another sample."});
    bench
        .analyst
        .post_seen(
            &format!("/runs/{run}/withdrawal"),
            1,
            json!({"reason": reason}),
        )
        .await
        .expect(200);
    // A later version of the map reads what an earlier one read.
    let mut later = map(&bench, "Bay 1");
    later["time_formats"] = json!(["rfc3339", "%d.%m.%Y %H:%M:%S"]);
    let change = json!({"column_map": later, "reason": {"code": "other", "text": "Firmware."}});
    bench
        .quality
        .put(&format!("/column-maps/{by_map}"), 1, change)
        .await
        .expect(200);
    let again = import(&bench.analyst, &by_map, export(&rows))
        .await
        .expect(201);
    assert_eq!(words(&again.body), ["same"]);
    assert_eq!(again.body["rows"][0]["run"], json!(run));
    let other = [row(0, "S-1", "9.9")];
    let conflict = import(&bench.analyst, &by_map, export(&other))
        .await
        .expect(201);
    assert_eq!(
        conflict.body["refused"][0]["contradiction"]["differences"],
        json!([{"field": "value", "recorded": "4.1", "imported": "9.9"}])
    );
    let shown = bench.analyst.get(&format!("/runs/{run}")).await.expect(200);
    assert_eq!(shown.body["state"], "withdrawn");
    crate::rebuild::is_told_by_records(&app).await;
}

#[actix_web::test]
async fn two_that_post_the_same_export_at_once_record_it_once() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    let by_map = drafted(&bench, map(&bench, "Bay 1")).await;
    let rows: Vec<String> = (0..40).map(|minute| row(minute, "S-1", "4.1")).collect();
    let integrator = app.integrator().await;
    let (one, other) = futures_util::join!(
        import(&bench.analyst, &by_map, export(&rows)),
        import(&integrator, &by_map, export(&rows))
    );
    let (one, other) = (one.expect(201), other.expect(201));
    let runs = |body: &serde_json::Value| body["counts"]["runs"].as_u64().unwrap();
    assert_eq!(runs(&one.body) + runs(&other.body), 40);
    assert_eq!(count(&bench.analyst, "/runs?limit=200").await, 40);
}
