//! Refused rows and their mending.

use super::{count, drafted, export, import, map, row};
use crate::harness::{callers::serve, fixtures::bench_of};
use serde_json::json;

#[actix_web::test]
async fn refused_rows_are_kept_with_every_reason_and_mended_once() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    let by_map = drafted(&bench, map(&bench, "Bay 1")).await;
    let analyst = &bench.analyst;
    let rows = [
        row(0, "S-1", "4.1"),
        row(10, "S-2", "-5").replace("ppb", "bananas"),
        row(20, "S-3", "\"quo\tted\r\ncell\""),
        row(30, "S-3", "4").replace("AFLA", "WHAT"),
    ];
    let done = import(analyst, &by_map, export(&rows)).await.expect(201);
    assert_eq!(done.body["counts"]["refused"], 3);
    assert_eq!(done.body["counts"]["recorded"], 1);
    let list = format!("/imports/{}/rows", done.id());
    let kept = analyst.get(&list).await.expect(200);
    let kept = kept.body["items"].as_array().unwrap().clone();
    let lines: Vec<u64> = kept
        .iter()
        .map(|one| one["line"].as_u64().unwrap())
        .collect();
    assert_eq!(lines, [3, 4, 6], "a quoted line break counts as a line");
    assert_eq!(kept[0]["text"], json!(rows[1]));
    assert_eq!(
        kept[1]["text"],
        json!(rows[2]),
        "control characters come back"
    );
    let codes: Vec<&str> = kept[0]["faults"]
        .as_array()
        .unwrap()
        .iter()
        .map(|fault| fault["code"].as_str().unwrap())
        .collect();
    assert_eq!(codes, ["negative", "unknown-unit"]);
    assert_eq!(kept[2]["faults"][0]["column"], "Test");
    let paged = analyst.get(&format!("{list}?limit=2")).await.expect(200);
    let next = paged.link.unwrap();
    let next = next.split(['<', '>']).nth(1).unwrap();
    assert_eq!(count(analyst, next).await, 1);

    let mending = format!("{list}/3/mending");
    let still = analyst
        .post(&mending, json!({"text": row(10, "S-2", "much")}))
        .await
        .expect(422);
    assert_eq!(still.body["errors"][0]["pointer"], "#/text");
    let two = format!("{}\n{}", row(10, "S-2", "5"), row(11, "S-2", "5"));
    analyst
        .post(&mending, json!({"text": two}))
        .await
        .expect(422);
    bench
        .quality
        .post(&mending, json!({"text": "x"}))
        .await
        .expect(403);
    let good = row(10, "S-2", "5");
    let mended = analyst
        .post(&mending, json!({"text": good}))
        .await
        .expect(200);
    assert_eq!(mended.body["state"], "mended");
    assert_eq!(mended.body["outcome"], "recorded");
    assert_eq!(mended.body["text"], json!(rows[1]), "what came stays");
    assert_eq!(mended.body["mended_text"], json!(good));
    let twice = analyst
        .post(&mending, json!({"text": good}))
        .await
        .expect(409);
    assert_eq!(twice.problem(), "row-mended");
    let run = mended.body["run"].as_str().unwrap();
    let run = analyst.get(&format!("/runs/{run}")).await.expect(200);
    assert_eq!(run.body["origins"][0]["import"], json!(done.id()));
    assert_eq!(run.body["origins"][0]["line"], 3);
    let shown = analyst
        .get(&format!("/imports/{}", done.id()))
        .await
        .expect(200);
    assert_eq!(shown.body["unmended"], 2);
    assert_eq!(count(analyst, &format!("{list}?state=mended")).await, 1);
    analyst
        .post(&format!("{list}/2/mending"), json!({"text": good}))
        .await
        .expect(404);
    crate::rebuild::is_told_by_records(&app).await;
}

#[actix_web::test]
async fn a_mended_row_is_known_again_and_stands_in_records_only_as_digests() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    let by_map = drafted(&bench, map(&bench, "Bay 1")).await;
    let analyst = &bench.analyst;
    let bad = [row(10, "S-2", "5,,5").replace(";KM;", ";Kata Maier;")];
    let done = import(analyst, &by_map, export(&bad)).await.expect(201);
    let good = row(10, "S-2", "5.5").replace(";KM;", ";Kata Maier;");
    let mending = format!("/imports/{}/rows/2/mending", done.id());
    let mended = analyst
        .post(&mending, json!({"text": good}))
        .await
        .expect(200);

    // The export comes again as it was, and then as it was mended.
    let again = import(analyst, &by_map, export(&bad)).await.expect(201);
    assert_eq!(again.body["rows"][0]["outcome"], "same");
    assert_eq!(again.body["rows"][0]["run"], mended.body["run"]);
    let put_right = import(analyst, &by_map, export(std::slice::from_ref(&good)))
        .await
        .expect(201);
    assert_eq!(put_right.body["rows"][0]["outcome"], "same");
    let other = [good.replace(";5.5;", ";5.6;")];
    let other = import(analyst, &by_map, export(&other)).await.expect(201);
    assert_eq!(
        other.body["refused"][0]["contradiction"]["differences"],
        json!([{"field": "value", "recorded": "5.5", "imported": "5.6"}])
    );
    assert_eq!(count(analyst, "/runs").await, 1);

    let list = format!("/imports/{}/rows", done.id());
    let kept = analyst.get(&list).await.expect(200);
    let subject = kept.body["items"][0]["id"].as_str().unwrap();
    let trail = analyst
        .get(&format!("/records?subject={subject}"))
        .await
        .expect(200);
    let records = trail.body["items"].as_array().unwrap();
    assert_eq!(records.len(), 2);
    assert_eq!(records[0]["action"], "mend-row");
    for record in records {
        let bytes = record["record"].as_str().unwrap();
        assert!(!bytes.contains("Maier"), "{bytes}");
        assert!(
            record["content"]["text"]
                .as_str()
                .unwrap()
                .contains("Maier")
        );
    }
    crate::rebuild::is_told_by_records(&app).await;
}
