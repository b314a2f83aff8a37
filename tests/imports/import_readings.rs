//! Importing exports.

use super::{HEADER, count, drafted, export, import, map, outcomes, row};
use crate::harness::{callers::serve, fixtures::bench_of};
use serde_json::json;
use sha2::{Digest as _, Sha256};

fn plain(line: u64) -> (u64, String, Vec<String>) {
    (line, "recorded".into(), vec![])
}

#[actix_web::test]
async fn an_export_becomes_runs_and_results_that_cite_its_bytes_and_lines() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    let by_map = drafted(&bench, map(&bench, "Bay 1")).await;
    let diluted = row(20, "S-2", "46").replace("ppb;;", "ppb;100;500");
    let bytes = export(&[
        row(0, "4006381333931", "4.1"),
        row(10, "S-2", ">50"),
        diluted,
    ]);
    let done = import(&bench.analyst, &by_map, bytes.clone())
        .await
        .expect(201);
    assert_eq!(outcomes(&done.body), [plain(2), plain(3), plain(4)]);
    assert_eq!(done.body["counts"]["runs"], 3);
    assert_eq!(done.body["held_runs"], 0);
    let digest: String = Sha256::digest(&bytes)
        .iter()
        .map(|byte| format!("{byte:02x}"))
        .collect();
    assert_eq!(done.body["digest"], json!(digest));

    let id = done.body["rows"][0]["run"].as_str().unwrap();
    let run = bench.analyst.get(&format!("/runs/{id}")).await.expect(200);
    assert_eq!(
        run.body["origins"],
        json!([{"import": done.id(), "digest": digest, "line": 2}])
    );
    assert_eq!(run.body["sample"], json!(bench.samples[0]), "by barcode");
    assert_eq!(run.body["analyst"], json!(bench.analyst.id));
    assert_eq!(run.body["procedure"], json!(bench.procedure));
    assert_eq!(run.body["read_at"], "2026-03-01T08:06:00.000000Z");
    assert_eq!(
        run.body["read_at_source"],
        "01.03.2026 08:06:00 [Europe/Lisbon]"
    );
    let list = format!("/results?sample={}", bench.samples[1]);
    let results = bench.analyst.get(&list).await.expect(200);
    assert_eq!(results.body["items"][0]["concentration"], "276.000000");

    let shown = bench
        .analyst
        .get(&done.location.clone().unwrap())
        .await
        .expect(200);
    assert_eq!(shown.body["unmended"], 0);
    assert_eq!(shown.body["column_map_version"], 1);
    assert_eq!(shown.body["header"][0], "Reader");
    assert_eq!(
        HEADER.split(';').count(),
        shown.body["header"].as_array().unwrap().len()
    );
    let upload = bench
        .analyst
        .get_raw(&format!("/imports/{}/upload", done.id()))
        .await;
    assert_eq!(upload.headers()["content-type"], "application/octet-stream");
    assert_eq!(upload.bytes().await.unwrap(), bytes);
    let listed = format!("/imports?column_map={by_map}&digest={digest}");
    assert_eq!(count(&bench.analyst, &listed).await, 1);
    let trail = format!("/records?subject={}", done.id());
    let trail = bench.quality.get(&trail).await.expect(200);
    assert_eq!(trail.body["items"][0]["action"], "import-readings");
    crate::rebuild::is_told_by_records(&app).await;
}

#[actix_web::test]
async fn what_is_amiss_is_recorded_and_held() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    let by_map = drafted(&bench, map(&bench, "Bay 1")).await;
    let ahead = row(0, "S-1", "4.1").replace(".2026", ".2098");
    let rows = [
        row(0, "", "4.1"),
        row(10, "S-9", "4.1"),
        row(20, "S-1", "4.1").replace("AF-118", "AF-999"),
        ahead,
        row(30, "S-2", "4.1").replace(";KM;", ";XX;"),
        row(40, "S-2", "4.1").replace("R-1;", "R-77;"),
        row(50, "S-3", "46").replace("ppb;;", "ppb;100;400"),
    ];
    let done = import(&bench.analyst, &by_map, export(&rows))
        .await
        .expect(201);
    let found = outcomes(&done.body);
    assert!(found.iter().all(|(_, outcome, _)| outcome == "recorded"));
    let held_by = |line: u64, kind: &str| {
        let (_, _, kinds) = found.iter().find(|(at, _, _)| *at == line).unwrap();
        assert!(kinds.iter().any(|one| one == kind), "{line}: {kinds:?}");
    };
    held_by(2, "no-sample");
    held_by(3, "no-sample");
    held_by(4, "kit-lot-unknown");
    held_by(5, "clock-ahead");
    held_by(6, "analyst-unknown");
    held_by(7, "reader-unknown");
    held_by(8, "dilution-not-validated");
    assert_eq!(done.body["held_runs"], 7);
    let unknown = done.body["rows"][1]["run"].as_str().unwrap();
    let run = bench
        .analyst
        .get(&format!("/runs/{unknown}"))
        .await
        .expect(200);
    assert_eq!(run.body["state"], "unassigned");
    assert_eq!(
        run.body["sample_code"], "S-9",
        "so that somebody can assign it"
    );
    assert_eq!(run.body["lot_code"], "L-1");
    let assigned = bench
        .analyst
        .post_seen(
            &format!("/runs/{unknown}/assignment"),
            1,
            json!({"sample": bench.samples[2], "reason": {"code": "wrong-sample", "text": "The label was misread."}}),
        )
        .await;
    assert_eq!(assigned.status, 200, "{:#}", assigned.body);
    assert_eq!(assigned.body.get("sample_code"), None);
    crate::rebuild::is_told_by_records(&app).await;
}

#[actix_web::test]
async fn a_dry_run_tells_the_same_and_keeps_nothing() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    let by_map = drafted(&bench, map(&bench, "Bay 1")).await;
    let rows = [
        row(0, "S-1", "4.1"),
        row(10, "", "4.2"),
        row(20, "S-2", "much"),
    ];
    let path = format!("/imports?column_map={by_map}&dry_run=true");
    let dry = bench
        .analyst
        .post_bytes(&path, "text/csv", export(&rows))
        .await
        .expect(200);
    assert_eq!(dry.body["dry_run"], true);
    assert_eq!(dry.body.get("id"), None);
    assert_eq!(count(&bench.analyst, "/imports").await, 0);
    assert_eq!(count(&bench.analyst, "/runs").await, 0);
    let done = import(&bench.analyst, &by_map, export(&rows))
        .await
        .expect(201);
    assert_eq!(outcomes(&dry.body), outcomes(&done.body));
    assert_eq!(dry.body["counts"], done.body["counts"]);
    assert_eq!(dry.body["refused"], done.body["refused"]);
}

#[actix_web::test]
async fn all_or_nothing_keeps_nothing_where_a_row_is_refused() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    let mut strict = map(&bench, "Bay 1");
    strict["mode"] = json!("all_or_nothing");
    let by_map = drafted(&bench, strict).await;
    let rows = [row(0, "S-1", "4.1"), row(10, "S-2", "much")];
    let refused = import(&bench.analyst, &by_map, export(&rows))
        .await
        .expect(422);
    let fault = &refused.body["errors"][0];
    assert_eq!(fault["pointer"], "#/rows/3/Result");
    assert!(
        fault["detail"]
            .as_str()
            .unwrap()
            .starts_with("Line 3: column \"Result\"")
    );
    let port = [
        row(0, "S-1", "4.1"),
        row(10, "S-2", "4").replacen(";1;", ";7;", 1),
    ];
    let refused = import(&bench.analyst, &by_map, export(&port))
        .await
        .expect(422);
    assert_eq!(refused.body["errors"][0]["pointer"], "#/rows/3");
    assert_eq!(count(&bench.analyst, "/imports").await, 0);
    assert_eq!(count(&bench.analyst, "/runs").await, 0);
    let good = import(&bench.analyst, &by_map, export(&rows[..1]))
        .await
        .expect(201);
    assert_eq!(good.body["counts"]["recorded"], 1);
}

#[actix_web::test]
async fn samples_are_registered_under_the_lots_that_rows_name_where_the_map_says_so() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    let mut registering = map(&bench, "Bay 1");
    registering["register_samples"] = json!(true);
    let by_map = drafted(&bench, registering).await;
    let rows = [
        row(0, "N-1", "4.1"),
        row(10, "N-1", "4.3"),
        row(20, "N-2", "4.1").replace(";L-1;", ";L-9;"),
        row(30, "S-1", "4.1"),
    ];
    let done = import(&bench.analyst, &by_map, export(&rows))
        .await
        .expect(201);
    assert_eq!(done.body["counts"]["samples_registered"], 1);
    assert_eq!(
        outcomes(&done.body)[2].2,
        ["no-sample"],
        "nobody knows lot L-9"
    );
    let found = bench.analyst.get("/samples?code=N-1").await.expect(200);
    let sample = &found.body["items"][0];
    assert_eq!(sample["lot"], json!(bench.lot));
    assert_eq!(sample["commodity"], "maize-grain");
    assert_eq!(sample["site"], json!(bench.site));
    assert_eq!(sample.get("received_by"), None);
    let of_sample = format!("/runs?sample={}", sample["id"].as_str().unwrap());
    assert_eq!(count(&bench.analyst, &of_sample).await, 2);
}

#[actix_web::test]
async fn what_cannot_be_read_at_all_is_refused() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    let by_map = drafted(&bench, map(&bench, "Bay 1")).await;
    let path = format!("/imports?column_map={by_map}");
    let analyst = &bench.analyst;
    let refused = async |bytes: &[u8], sign: &str| {
        let refused = import(analyst, &by_map, bytes.to_vec()).await.expect(422);
        let detail = refused.body["detail"].as_str().unwrap().to_owned();
        assert!(detail.contains(sign), "{detail}");
        refused.body["errors"][0]["pointer"]
            .as_str()
            .unwrap()
            .to_owned()
    };
    assert_eq!(refused(b"", "empty").await, "#");
    refused(b"Reader;Port\r\nR-1;1\r\n", "no column").await;
    refused(&[HEADER.as_bytes(), b"\r\n\xFFx"].concat(), "not UTF-8").await;
    let whole = export(&[row(0, "S-1", "4.1")]);
    assert_eq!(
        refused(&whole[..whole.len() - 9], "middle of a row").await,
        "#/rows/2"
    );

    let large = vec![b'x'; 9 << 20];
    let too_large = analyst
        .post_bytes(&path, "text/csv", large)
        .await
        .expect(413);
    assert!(
        too_large.body["detail"]
            .as_str()
            .unwrap()
            .contains("8388608")
    );
    analyst
        .post_bytes(&path, "application/pdf", whole.clone())
        .await
        .expect(415);
    let nowhere = "/imports?column_map=019ca869-5003-7d46-b59c-6cf85cca57e4";
    analyst
        .post_bytes(nowhere, "text/csv", whole.clone())
        .await
        .expect(404);
    analyst
        .post_bytes("/imports", "text/csv", whole.clone())
        .await
        .expect(400);
    bench
        .quality
        .post_bytes(&path, "text/csv", whole)
        .await
        .expect(403);
    assert_eq!(count(analyst, "/imports").await, 0);
    assert_eq!(count(analyst, "/runs").await, 0);
}
