//! Recording and correcting checks.

use super::{check, registered};
use crate::{harness::callers::serve, kit_lots::plant, readers};
use serde_json::json;

#[actix_web::test]
async fn a_check_moves_the_date_on_which_the_next_is_due_in_the_same_act() {
    let app = serve().await;
    let quality = app.quality_manager().await;
    let analyst = app.analyst().await;
    let balance = registered(&quality, "B-1", "balance").await;
    let of = json!({"equipment": balance});
    let mut body = check(&of, "2026-03-01T07:00:00Z", "pass", "pass");
    body["next_due_on"] = json!("2026-04-01");
    app.reviewer()
        .await
        .post("/equipment-checks", body.clone())
        .await
        .expect(403);
    let nowhere = json!({"equipment": "019ca869-5003-7d46-b59c-6cf85cca57e4"});
    let refused = analyst
        .post(
            "/equipment-checks",
            check(&nowhere, "2026-03-01T07:00:00Z", "pass", "pass"),
        )
        .await
        .expect(422);
    assert_eq!(refused.body["errors"][0]["pointer"], "#/of/equipment");
    let made = analyst
        .post("/equipment-checks", body.clone())
        .await
        .expect(201);
    assert_eq!(made.body["by"].as_str(), analyst.id.as_deref());
    assert_eq!(made.body["in_doubt"], json!([]));
    let path = format!("/equipment/{balance}");
    let shown = analyst.get(&path).await.expect(200);
    assert_eq!(shown.body["check_due_on"], "2026-04-01");
    assert_eq!(shown.body["version"], 2);
    let of_check = analyst
        .get(&format!("/records?subject={}", made.id()))
        .await
        .expect(200);
    let of_balance = analyst
        .get(&format!("/records?subject={balance}"))
        .await
        .expect(200);
    assert_eq!(
        of_check.body["items"][0]["act"],
        of_balance.body["items"][0]["act"]
    );

    // An older check that is recorded late moves nothing back.
    let mut late = check(&of, "2026-02-01T07:00:00Z", "pass", "pass");
    late["next_due_on"] = json!("2026-03-01");
    analyst.post("/equipment-checks", late).await.expect(201);
    let shown = analyst.get(&path).await.expect(200);
    assert_eq!(shown.body["check_due_on"], "2026-04-01");
    assert_eq!(shown.body["version"], 2);

    body["next_due_on"] = json!("2026-03-15");
    body["by"] = json!(analyst.id);
    let revision = json!({"check": body,
        "reason": {"code": "transcription-error", "text": "The date was misread."}});
    let of_it = format!("/equipment-checks/{}", made.id());
    analyst.put(&of_it, 1, revision.clone()).await.expect(403);
    quality.put(&of_it, 1, revision.clone()).await.expect(200);
    let shown = analyst.get(&path).await.expect(200);
    assert_eq!(shown.body["check_due_on"], "2026-03-15");
    let other = registered(&quality, "B-2", "balance").await;
    let mut moved = revision;
    moved["check"]["of"] = json!({"equipment": other});
    let refused = quality.put(&of_it, 2, moved).await.expect(422);
    assert_eq!(refused.body["errors"][0]["pointer"], "#/check/of");
    let listed = analyst
        .get(&format!("/equipment-checks?equipment={balance}"))
        .await
        .expect(200);
    assert_eq!(listed.body["items"].as_array().unwrap().len(), 2);
    crate::rebuild::is_told_by_records(&app).await;
}

#[actix_web::test]
async fn a_failed_check_of_a_reader_names_the_runs_since_the_last_good_one() {
    let app = serve().await;
    let quality = app.quality_manager().await;
    let reader = readers::registered(&quality, "R-1").await;
    let other = readers::registered(&quality, "R-2").await;
    for (run, on, at) in [
        (
            "019ca869-5003-7d46-b59c-6cf85cca5701",
            &reader,
            "2026-02-28",
        ),
        (
            "019ca869-5003-7d46-b59c-6cf85cca5702",
            &reader,
            "2026-03-02",
        ),
        (
            "019ca869-5003-7d46-b59c-6cf85cca5703",
            &reader,
            "2026-03-04",
        ),
        ("019ca869-5003-7d46-b59c-6cf85cca5704", &other, "2026-03-03"),
        (
            "019ca869-5003-7d46-b59c-6cf85cca5705",
            &reader,
            "2026-03-08",
        ),
    ] {
        plant(
            &app,
            "runs_run",
            "run_id, port, reader_id, read_at",
            &format!("'{run}', 1, '{on}', '{at}T12:00:00Z'"),
        )
        .await;
    }
    let of = json!({"reader": reader});
    let post = async |at: &str, found: &str, left: &str| {
        quality
            .post("/equipment-checks", check(&of, at, found, left))
            .await
            .expect(201)
    };
    post("2026-03-01T07:00:00Z", "pass", "pass").await;
    let failed = post("2026-03-05T07:00:00Z", "fail", "fail").await;
    let doubt = &failed.body["in_doubt"][0];
    assert!(
        doubt["after"]
            .as_str()
            .unwrap()
            .starts_with("2026-03-01T07")
    );
    assert_eq!(doubt["until"], json!(null));
    assert_eq!(
        doubt["runs"],
        json!([
            "019ca869-5003-7d46-b59c-6cf85cca5705",
            "019ca869-5003-7d46-b59c-6cf85cca5703",
            "019ca869-5003-7d46-b59c-6cf85cca5702"
        ])
    );
    assert_eq!(doubt["run_count"], 3);
    let path = format!("/readers/{reader}");
    let out = quality.get(&path).await.expect(200);
    assert!(
        out.body["failed_since"]
            .as_str()
            .unwrap()
            .starts_with("2026-03-05T07")
    );
    let mended = post("2026-03-06T07:00:00Z", "fail", "pass").await;
    assert_eq!(mended.body["in_doubt"][0]["run_count"], 2);
    let back = quality.get(&path).await.expect(200);
    assert_eq!(back.body["failed_since"], json!(null));
    let shown = quality
        .get(&format!("/equipment-checks/{}", failed.id()))
        .await
        .expect(200);
    assert_eq!(shown.body["in_doubt"][0]["run_count"], 2);
}

#[actix_web::test]
async fn a_failed_check_of_other_equipment_reaches_runs_by_preparations_and_dilutions() {
    let app = serve().await;
    let quality = app.quality_manager().await;
    let balance = registered(&quality, "B-1", "balance").await;
    let pipette = registered(&quality, "P-1", "pipette").await;
    let sample = "019ca869-5003-7d46-b59c-6cf85cca5600";
    let (portion, extract, later) = (
        "019ca869-5003-7d46-b59c-6cf85cca5601",
        "019ca869-5003-7d46-b59c-6cf85cca5602",
        "019ca869-5003-7d46-b59c-6cf85cca5603",
    );
    let runs = [
        "019ca869-5003-7d46-b59c-6cf85cca5701",
        "019ca869-5003-7d46-b59c-6cf85cca5702",
        "019ca869-5003-7d46-b59c-6cf85cca5703",
    ];
    plant(
        &app,
        "samples_sample",
        "sample_id, code, purpose, received_at",
        &format!("'{sample}', 'S-1', 'customer', now()"),
    )
    .await;
    for (id, kind, parent, day, content) in [
        (
            portion,
            "test-portion",
            "NULL",
            2,
            format!("{{\"equipment\": [\"{balance}\"]}}"),
        ),
        (extract, "extract", &*format!("'{portion}'"), 2, "{}".into()),
        (
            later,
            "test-portion",
            "NULL",
            7,
            format!("{{\"equipment\": [\"{balance}\"]}}"),
        ),
    ] {
        plant(
            &app,
            "preparations_preparation",
            "preparation_id, kind, parent_id, prepared_at, content, sample_id",
            &format!(
                "'{id}', '{kind}', {parent}, '2026-03-0{day}T08:00:00Z', '{content}', '{sample}'"
            ),
        )
        .await;
    }
    for (run, content) in runs.iter().zip([
        format!("{{\"extract\": \"{extract}\"}}"),
        format!("{{\"extract\": \"{later}\"}}"),
        format!("{{\"extract\": \"{later}\", \"dilution\": [{{\"pipette\": \"{pipette}\"}}]}}"),
    ]) {
        plant(
            &app,
            "runs_run",
            "run_id, port, read_at, content",
            &format!("'{run}', 1, '2026-03-03T12:00:00Z', '{content}'"),
        )
        .await;
    }
    for (thing, found) in [(&balance, runs[0]), (&pipette, runs[2])] {
        let of = json!({"equipment": thing});
        let failed = quality
            .post(
                "/equipment-checks",
                check(&of, "2026-03-05T07:00:00Z", "fail", "pass"),
            )
            .await
            .expect(201);
        assert_eq!(failed.body["in_doubt"][0]["runs"], json!([found]));
    }
}
