//! A database that is put back to an older state brings back what was erased: it is erased again
//! before anything is served.

use super::{erased_file, lines, owner, places, tables};
use crate::{
    certificates,
    harness::callers::{TestApp, serve},
    ledger::log::logged,
};
use diesel_async::SimpleAsyncConnection as _;
use serde_json::json;
use std::time::{Duration, Instant};

/// Every row of every table, as JSON.
async fn backup(app: &TestApp) -> Vec<(String, String)> {
    let mut owner = owner(app).await;
    let mut kept = Vec::new();
    for table in tables(&mut owner).await {
        let query = format!(
            "SELECT coalesce(jsonb_agg(to_jsonb(it)), '[]')::text AS line FROM {table} AS it"
        );
        let rows = lines(&mut owner, &query).await;
        kept.push((table, rows[0].clone()));
    }
    kept
}

/// Puts the database back, as only its superuser can.
async fn restore(app: &TestApp, kept: &[(String, String)]) {
    let mut owner = owner(app).await;
    let tables: Vec<&str> = kept.iter().map(|(table, _)| table.as_str()).collect();
    let mut script = format!(
        "BEGIN; LOCK TABLE {} IN ACCESS EXCLUSIVE MODE;",
        tables.join(", ")
    );
    for table in &tables {
        script.push_str(&format!(
            "ALTER TABLE {table} DISABLE TRIGGER ALL; DELETE FROM {table};"
        ));
    }
    for (table, rows) in kept {
        script.push_str(&format!(
            "INSERT INTO {table} OVERRIDING SYSTEM VALUE \
             SELECT * FROM jsonb_populate_recordset(NULL::{table}, $rows${rows}$rows$);"
        ));
    }
    for table in &tables {
        script.push_str(&format!("ALTER TABLE {table} ENABLE TRIGGER ALL;"));
    }
    script.push_str("COMMIT;");
    // The service goes on meanwhile, and may hold what is wanted here.
    for _ in 0..20 {
        if owner.batch_execute(&script).await.is_ok() {
            return;
        }
        owner.batch_execute("ROLLBACK").await.unwrap();
    }
    unreachable!("the tables could not be locked");
}

#[actix_web::test]
async fn an_older_backup_is_brought_up_to_the_erasures_before_it_is_served() {
    let app = serve().await;
    let bench = certificates::bench(&app).await;
    bench.issued().await;
    logged(&app).await;
    let yesterday = backup(&app).await;
    let before = places(&app, "Hollow Mill Ltd").await;
    assert_eq!(api::erasures::replay(&app.state).await.unwrap(), 0);
    let manager = app.administrator();
    let body = json!({"subjects": [{"subject": bench.customer}],
        "reason": {"code": "erasure-request", "text": "Request 14 of 3 March."}});
    let done = manager.post("/erasures", body).await.expect(201);
    let erased = done.body["erased"].as_array().unwrap().len();
    assert_eq!(places(&app, "Hollow Mill Ltd").await, Vec::<String>::new());
    assert_eq!(api::erasures::replay(&app.state).await.unwrap(), 0);
    logged(&app).await;

    // What the service does before it listens.
    restore(&app, &yesterday).await;
    assert_eq!(places(&app, "Hollow Mill Ltd").await, before);
    let lost = format!("/erasures/{}", done.id());
    manager.get(&lost).await.expect(404);
    assert_eq!(api::erasures::replay(&app.state).await.unwrap(), erased);
    assert_eq!(places(&app, "Hollow Mill Ltd").await, Vec::<String>::new());
    let again = manager.get("/erasures").await.expect(200);
    let again = &again.body["items"][0];
    assert_eq!(again["erased"].as_array().unwrap().len(), erased);
    let path = format!("/records?subject={}", again["id"].as_str().unwrap());
    let record = &manager.get(&path).await.expect(200).body["items"][0];
    assert_eq!(record["actor"], json!({"process": "erasures"}));
    assert_eq!(record["action"], "replay-erasures");
    assert_eq!(api::erasures::replay(&app.state).await.unwrap(), 0);
    assert_eq!(erased_file(&app).lines().count(), 1);

    // Put back once more while the service runs: the log finds out, and it is erased again,
    // though nobody may write to a laboratory whose log may not go on.
    let begun = Instant::now();
    while app.anonymous().get("health").await.body["status"] == "ok" {
        assert!(begun.elapsed() < Duration::from_secs(30), "not suspended");
        tokio::time::sleep(Duration::from_millis(50)).await;
    }
    restore(&app, &yesterday).await;
    api::erasures::replay(&app.state).await.unwrap();
    assert_eq!(places(&app, "Hollow Mill Ltd").await, Vec::<String>::new());

    // A damaged file is no reason to serve what was erased.
    let file = app.state.config.state_directory.join("erased.jsonl");
    std::fs::write(file, "{}\n").unwrap();
    assert!(api::erasures::replay(&app.state).await.is_err());
}
