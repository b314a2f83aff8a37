//! PostgreSQL ended in the middle of whatever it does, COMMIT among it.

use super::log::logged;
use crate::{
    harness::{
        callers::{fresh_key, serve_on},
        fixtures::bench_of,
        own_cluster::OwnCluster,
    },
    runs::run,
};
use api::migrations::migrate;
use futures_util::future::join_all;
use serde_json::json;
use std::time::Duration;

/// Requests of one round: enough that some are at their COMMIT when it ends.
const AT_ONCE: usize = 24;

#[actix_web::test]
async fn postgresql_killed_at_any_moment_keeps_what_was_answered_and_doubles_nothing() {
    let server = OwnCluster::start();
    let database = server.database(async |url: String| {
        migrate(&url).await?;
        Ok(())
    });
    let app = serve_on(database.await).await;
    let bench = bench_of(&app).await;
    let (mut asked, mut lost) = (0, 0);
    for round in 0..6_u64 {
        let requests: Vec<_> = (0..AT_ONCE)
            .map(|number| {
                let minute = u32::try_from(number % 50).unwrap();
                let mut reading = run(&bench, minute, "number", Some("4.1"));
                reading["sample"] = json!(bench.samples[number % 3]);
                reading["begun_at"] = json!(format!("2026-03-{:02}T08:{minute:02}:00Z", round + 2));
                reading["read_at"] = json!(format!("2026-03-{:02}T09:00:00Z", round + 2));
                let party = json!({"code": format!("P-{round}-{number}"), "name": "A mill"});
                match number % 2 {
                    0 => ("/runs", fresh_key(), reading),
                    _ => ("/customers", fresh_key(), party),
                }
            })
            .collect();
        asked += requests.len();
        let posting = join_all(requests.iter().map(|(path, key, body)| {
            let by = &bench.analyst;
            async move { by.try_post_once(path, key, body).await }
        }));
        let killing = async {
            tokio::time::sleep(Duration::from_millis(12 + 17 * round)).await;
            server.kill();
        };
        let (statuses, ()) = futures_util::future::join(posting, killing).await;
        server.start_again();
        for ((path, key, body), status) in requests.into_iter().zip(statuses) {
            assert!(matches!(status, Some(201 | 503)), "{path}: {status:?}");
            // Answered or not, the same request is done once.
            lost += usize::from(status != Some(201));
            let mut tries = 0;
            while bench.analyst.try_post_once(path, &key, &body).await != Some(201) {
                tries += 1;
                assert!(tries < 40, "{path} is not done after it is back");
                tokio::time::sleep(Duration::from_millis(50)).await;
            }
        }
    }
    assert!(lost > 0, "it was never killed in the middle of anything");
    let runs = app.count("SELECT count(*) FROM runs_run").await;
    let customers = "SELECT count(*) FROM customers_customer WHERE content->>'code' LIKE 'P-%'";
    let kept = runs + app.count(customers).await;
    assert_eq!(usize::try_from(kept).unwrap(), asked, "{lost} were cut off");
    logged(&app).await.check();
    crate::rebuild::is_told_by_records(&app).await;
}
