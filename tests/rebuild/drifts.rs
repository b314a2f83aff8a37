//! A read model that was changed behind the service: each change is found, with whose it is.

use super::{checked, is_told_by_records};
use crate::{
    certificates::{bench, bytes},
    harness::{callers::serve, fixtures::bench_of},
    imports::{drafted, export, import, map, row},
    runs::run,
};
use diesel_async::{AsyncConnection as _, AsyncPgConnection, SimpleAsyncConnection as _};
use std::process::Command;

/// Runs SQL as the owner, does nothing with the answer.
async fn behind(owner_url: &str, sql: &str) {
    let mut owner = AsyncPgConnection::establish(owner_url).await.unwrap();
    owner.batch_execute(sql).await.unwrap();
}

/// What a check prints of the drifts, without the sum.
async fn lines(app: &crate::harness::callers::TestApp) -> Vec<String> {
    let found = checked(app).await;
    assert!(!found.is_equal(), "{found}");
    found.drifts.iter().map(ToString::to_string).collect()
}

#[actix_web::test]
async fn a_changed_byte_a_missing_row_and_one_too_many_are_found() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    let reading = run(&bench, 0, "number", Some("4.13"));
    let run = bench.analyst.post("/runs", reading).await.expect(201).id();
    is_told_by_records(&app).await;
    let owner = &app.database.owner_url;

    behind(
        owner,
        "UPDATE runs_run SET content = jsonb_set(content, '{readings,0,value}', '\"4.23\"')",
    )
    .await;
    assert_eq!(
        lines(&app).await,
        [format!(
            "runs_run {run}: differs in content/readings/0/value"
        )]
    );
    behind(
        owner,
        "UPDATE runs_run SET content = jsonb_set(content, '{readings,0,value}', '\"4.13\"'), \
             changed_at = changed_at + interval '1 microsecond'",
    )
    .await;
    assert_eq!(
        lines(&app).await,
        [format!("runs_run {run}: differs in changed_at")]
    );
    behind(
        owner,
        "UPDATE runs_run SET changed_at = changed_at - interval '1 microsecond'; \
         DELETE FROM samples_barcode",
    )
    .await;
    assert_eq!(
        lines(&app).await,
        ["samples_barcode 4006381333931: the row is missing that the records tell"]
    );
    behind(
        owner,
        "INSERT INTO samples_barcode SELECT laboratory_id, '4006381333931', sample_id \
             FROM samples_sample WHERE code = 'S-1'; \
         INSERT INTO samples_barcode SELECT laboratory_id, '96385074', sample_id \
             FROM samples_sample WHERE code = 'S-2'",
    )
    .await;
    assert_eq!(
        lines(&app).await,
        ["samples_barcode 96385074: no record tells the row"]
    );
    behind(
        owner,
        "DELETE FROM samples_barcode WHERE barcode = '96385074'",
    )
    .await;
    is_told_by_records(&app).await;
}

#[actix_web::test]
async fn a_decimal_with_other_places_and_a_shifted_time_of_release_are_found() {
    let app = serve().await;
    let bench = bench(&app).await;
    let issued = bench.issued().await;
    bytes(
        &bench.reviewer,
        &format!("/certificates/{}/bundle", issued.id()),
    )
    .await;
    is_told_by_records(&app).await;
    let owner = &app.database.owner_url;
    behind(
        owner,
        "UPDATE results_result SET concentration = concentration::text::numeric + 0.0000000, \
             released_at = released_at + interval '1 second' WHERE released_at IS NOT NULL; \
         UPDATE certificates_counter SET issued = issued + 1; \
         UPDATE certificates_document SET certificate = replace(certificate, '~', '~~'); \
         UPDATE lots_party SET sees = 'results' WHERE role = 'agent'; \
         DELETE FROM reviews_result",
    )
    .await;
    let found = lines(&app).await;
    let number = issued.body["number"].as_str().unwrap();
    let year = number.split('-').nth(1).unwrap();
    let starts = [
        format!("certificates_counter {year}: differs in issued"),
        format!(
            "certificates_document {}: differs in certificate",
            issued.id()
        ),
        format!(
            "lots_party {} {} agent: differs in sees",
            bench.lot, bench.agent
        ),
    ];
    for (line, start) in found.iter().zip(&starts) {
        assert_eq!(line, start, "{found:#?}");
    }
    assert!(
        found[3].contains("differs in concentration, released_at"),
        "{found:#?}"
    );
    assert!(found[4].contains("the row is missing"), "{found:#?}");
    assert_eq!(found.len(), 5, "{found:#?}");
}

#[actix_web::test]
async fn what_only_an_upload_tells_is_read_again_and_taken_over_where_it_is_gone() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    let by_map = drafted(&bench, map(&bench, "Bay 1")).await;
    let rows = [row(0, "S-1", "4.1"), row(10, "S-2", "5.0")];
    let done = import(&bench.analyst, &by_map, export(&rows))
        .await
        .expect(201);
    is_told_by_records(&app).await;
    let owner = &app.database.owner_url;
    behind(
        owner,
        "UPDATE imports_import SET fingerprints = set_byte(fingerprints, 30, 0); \
         UPDATE runs_run SET import_key = import_key || ' ' WHERE port = 1",
    )
    .await;
    let found = lines(&app).await;
    let of_import = format!("imports_import {}: differs in fingerprints", done.id());
    assert_eq!(found[0], of_import);
    assert_eq!(found.len(), 3, "{found:#?}");
    assert!(found[1].ends_with("differs in import_key"));

    // Erased: nothing else tells it, and the check says so.
    behind(owner, "DELETE FROM imports_upload").await;
    let taken_over = checked(&app).await;
    assert!(taken_over.is_equal(), "{taken_over}");
    assert!(taken_over.notes[0].contains(&done.id()), "{taken_over}");
}

#[actix_web::test]
async fn columns_of_an_act_and_versions_are_held_to_the_signed_entry() {
    let app = serve().await;
    bench_of(&app).await;
    let owner = &app.database.owner_url;
    behind(
        owner,
        "ALTER TABLE ledger_act DISABLE TRIGGER ALL; \
         UPDATE ledger_act SET recorded_at = recorded_at - interval '1 day' \
             WHERE action = 'register-customer'; \
         ALTER TABLE ledger_version DISABLE TRIGGER ALL; \
         DELETE FROM ledger_version WHERE subject_id IN \
             (SELECT customer_id FROM customers_customer)",
    )
    .await;
    let found = lines(&app).await;
    assert_eq!(found.len(), 2, "{found:#?}");
    assert!(found[0].starts_with("ledger_act ") && found[0].ends_with("differs in recorded_at"));
    assert!(found[1].starts_with("ledger_version ") && found[1].contains("missing"));
}

#[actix_web::test]
async fn an_act_that_is_gone_leaves_rows_that_no_record_tells_and_a_gap() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    let body = serde_json::json!({"customer": {"code": "MILL", "name": "Hollow Mill"},
        "reason": {"code": "late-information", "text": "It was renamed."}});
    let path = format!("/customers/{}", bench.customer);
    bench.analyst.put(&path, 1, body).await.expect(200);
    is_told_by_records(&app).await;
    behind(
        &app.database.owner_url,
        "ALTER TABLE ledger_act DISABLE TRIGGER ALL; \
         DELETE FROM ledger_act WHERE action = 'register-customer'",
    )
    .await;
    let found = lines(&app).await;
    assert!(
        found[0].starts_with(&format!("ledger_version {}: the versions", bench.customer)),
        "{found:#?}"
    );
    let created = format!(
        "customers_customer {}: differs in created_at",
        bench.customer
    );
    assert!(found.contains(&created), "{found:#?}");
}

#[actix_web::test]
async fn the_command_prints_what_it_found_and_says_so_by_its_status() {
    let app = serve().await;
    bench_of(&app).await;
    let said = |argument: &'static [&'static str]| {
        let mut command = Command::new(env!("CARGO_BIN_EXE_assize"));
        command
            .args(["rebuild", "--check"])
            .args(argument)
            .env("DATABASE_URL", &app.database.service_url)
            .env("MIGRATION_DATABASE_URL", &app.database.owner_url)
            .env("ASSIZE_KEY_FILE", &app.state.config.key_file)
            .env("ASSIZE_TOKEN_KEY_FILE", &app.state.config.token_key_file);
        tokio::task::spawn_blocking(move || command.output().unwrap())
    };
    let equal = said(&["--laboratory", "quay"]).await.unwrap();
    let text = String::from_utf8_lossy(&equal.stdout).into_owned();
    assert_eq!(equal.status.code(), Some(0), "{text}");
    assert!(text.starts_with("quay: equal; "), "{text}");
    behind(
        &app.database.owner_url,
        "UPDATE sites_site SET code = 'GATE2'",
    )
    .await;
    let drifted = said(&[]).await.unwrap();
    let text = String::from_utf8_lossy(&drifted.stdout).into_owned();
    assert_eq!(drifted.status.code(), Some(1), "{text}");
    assert!(
        text.starts_with("quay: sites_site ") && text.contains("differs in code"),
        "{text}"
    );
    assert!(text.contains("1 rows differ"), "{text}");
}
