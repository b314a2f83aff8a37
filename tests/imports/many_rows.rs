//! An export larger than what is computed at once, and than what an act holds.

use super::{HEADER, count, drafted, import, map};
use crate::harness::{
    callers::{TestApp, serve},
    fixtures::bench_of,
};
use diesel::{
    QueryableByName,
    sql_types::{Binary, Text},
};
use diesel_async::{AsyncConnection as _, AsyncPgConnection, RunQueryDsl as _};
use domain::ledger::{Hash, PublicKey, Record, act};
use serde_json::json;
use std::collections::HashMap;

const SAMPLES: u32 = 1_300;
const PASSES: u32 = 2;

/// Each sample once in each pass, ten seconds after the row before.
fn rows() -> Vec<u8> {
    let mut text = format!("{HEADER}\r\n");
    for row in 0..SAMPLES * PASSES {
        let (sample, second) = (row % SAMPLES, row * 10);
        let at = |second: u32| {
            let (day, of_day) = (second / 86_400, second % 86_400);
            format!(
                "{:02}.03.2026 {:02}:{:02}:{:02}",
                day + 1,
                of_day / 3600,
                of_day / 60 % 60,
                of_day % 60
            )
        };
        text.push_str(&format!(
            "R-1;1;{};{};S-{};L-1;AF-118;C-118;maize;KM;AFLA;4.1;ppb;;\r\n",
            at(second),
            at(second + 360),
            sample + 1
        ));
    }
    text.into_bytes()
}

#[derive(QueryableByName)]
struct ActRow {
    #[diesel(sql_type = Text)]
    entry: String,
    #[diesel(sql_type = Binary)]
    records: Vec<u8>,
}

/// The acts in the order in which the log takes them.
async fn acts(app: &TestApp) -> (PublicKey, Vec<ActRow>) {
    let mut owner = AsyncPgConnection::establish(&app.database.owner_url)
        .await
        .unwrap();
    #[derive(QueryableByName)]
    struct KeyRow {
        #[diesel(sql_type = Binary)]
        public_key: Vec<u8>,
    }
    let key: KeyRow =
        diesel::sql_query("SELECT public_key FROM ledger_key WHERE key_use = 'record'")
            .get_result(&mut owner)
            .await
            .unwrap();
    let acts = diesel::sql_query(
        "SELECT entry, records FROM ledger_act \
         LEFT JOIN ledger_entry USING (laboratory_id, act_id) \
         LEFT JOIN ledger_pending USING (laboratory_id, act_id) \
         ORDER BY entry_index NULLS LAST, pending_id",
    )
    .load(&mut owner)
    .await
    .unwrap();
    (PublicKey::from_bytes(&key.public_key).unwrap(), acts)
}

#[actix_web::test]
async fn a_large_export_is_recorded_in_whole_acts_each_version_after_the_one_before() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    let mut registering = map(&bench, "Bay 1");
    registering["register_samples"] = json!(true);
    let by_map = drafted(&bench, registering).await;
    let before = app.count("SELECT count(*) FROM ledger_act").await;

    let dry = format!("/imports?column_map={by_map}&dry_run=true");
    let dry = bench.analyst.post_bytes(&dry, "text/csv", rows()).await;
    assert_eq!(dry.expect(200).body["counts"]["runs"], SAMPLES * PASSES);
    assert_eq!(app.count("SELECT count(*) FROM ledger_act").await, before);
    assert_eq!(count(&bench.analyst, "/runs").await, 0);

    let done = import(&bench.analyst, &by_map, rows()).await.expect(201);
    assert_eq!(done.body["counts"]["runs"], SAMPLES * PASSES);
    let runs = i64::from(SAMPLES * PASSES);
    assert_eq!(app.count("SELECT count(*) FROM runs_run").await, runs);
    let results = "SELECT count(*) FROM results_result WHERE analyte = 'aflatoxin-total'";
    assert_eq!(app.count(results).await, i64::from(SAMPLES));

    let (key, acts) = acts(&app).await;
    let mut hashes: HashMap<(uuid::Uuid, u64), Hash> = HashMap::new();
    let mut sizes = Vec::new();
    for row in &acts {
        let act = act::verify(&row.entry, &key).unwrap();
        let mut of_act = Vec::new();
        for line in row
            .records
            .strip_suffix(b"\n")
            .unwrap()
            .split(|&b| b == b'\n')
        {
            let record = Record::parse(line).unwrap();
            assert_eq!(record.act, act.id);
            if record.version > 1 {
                let previous = hashes.get(&(record.subject, record.version - 1));
                assert_eq!(record.previous.as_ref(), previous, "{}", record.subject);
            }
            hashes.insert((record.subject, record.version), record.hash);
            of_act.push(record.hash);
        }
        assert_eq!(act::root(&of_act).unwrap(), act.root);
        assert_eq!(act.records, u64::try_from(of_act.len()).unwrap());
        if act.action == "import-readings" {
            sizes.push(of_act.len());
        }
    }
    let versions = app.count("SELECT count(*) FROM ledger_version").await;
    assert_eq!(versions, i64::try_from(hashes.len()).unwrap());
    let (last, whole) = sizes.split_last().unwrap();
    assert!(whole.len() > 10 && whole.iter().all(|size| *size == act::MOST_RECORDS));
    assert!((1..=act::MOST_RECORDS).contains(last));
}
