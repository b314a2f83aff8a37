//! The database gone in the middle of an import.

use super::{count, drafted, export, map, row};
use crate::harness::{
    callers::{TestApp, fresh_key, serve},
    fixtures::bench_of,
};
use diesel::{QueryableByName, sql_types::BigInt};
use diesel_async::{
    AsyncConnection as _, AsyncPgConnection, RunQueryDsl as _, SimpleAsyncConnection as _,
};
use std::time::Duration;

#[derive(QueryableByName)]
struct Ended {
    #[diesel(sql_type = BigInt)]
    ended: i64,
}

/// Ends whoever waits for a lock in the test's database, once somebody does.
async fn end_who_waits(app: &TestApp) -> bool {
    let mut owner = AsyncPgConnection::establish(&app.database.owner_url)
        .await
        .unwrap();
    for _ in 0..200 {
        let row: Ended = diesel::sql_query(
            "SELECT count(pg_terminate_backend(pid)) AS ended FROM pg_stat_activity \
             WHERE datname = current_database() AND wait_event_type = 'Lock'",
        )
        .get_result(&mut owner)
        .await
        .unwrap();
        if row.ended > 0 {
            return true;
        }
        tokio::time::sleep(Duration::from_millis(25)).await;
    }
    false
}

#[actix_web::test]
async fn nothing_is_half_written_and_the_retry_succeeds() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    let by_map = drafted(&bench, map(&bench, "Bay 1")).await;
    let path = format!("/imports?column_map={by_map}");
    let rows = export(&[
        row(0, "S-1", "4.1"),
        row(10, "S-2", "5"),
        row(20, "S-3", "x"),
    ]);
    let key = fresh_key();
    let mut blocking = AsyncPgConnection::establish(&app.database.owner_url)
        .await
        .unwrap();
    // The runs are written by the time that the upload is.
    blocking
        .batch_execute("BEGIN; LOCK TABLE imports_upload IN ACCESS EXCLUSIVE MODE")
        .await
        .unwrap();
    let post = bench
        .analyst
        .post_bytes_once(&path, &key, "text/csv", rows.clone());
    let (broken, ended) = futures_util::join!(post, end_who_waits(&app));
    assert!(ended, "the import was in the middle");
    let broken = broken.expect(503);
    assert_eq!(broken.problem(), "unavailable");
    assert!(broken.retry_after.is_some(), "it says when to try again");
    blocking.batch_execute("ROLLBACK").await.unwrap();
    assert_eq!(count(&bench.analyst, "/runs").await, 0);
    assert_eq!(count(&bench.analyst, "/imports").await, 0);
    let again = bench
        .analyst
        .post_bytes_once(&path, &key, "text/csv", rows)
        .await
        .expect(201);
    assert_eq!(again.body["counts"]["runs"], 2);
    assert_eq!(count(&bench.analyst, "/runs").await, 2);
}
