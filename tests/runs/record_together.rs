//! Readings that come at the same time: one transaction, and for each caller what they would have
//! got alone.

use super::run;
use crate::harness::{
    callers::{fresh_key, serve},
    fixtures::bench_of,
};
use domain::{ledger::act::ReadAct, ledger::tree};
use futures_util::future::join_all;
use serde_json::{Value, json};
use std::collections::BTreeSet;

#[actix_web::test]
async fn readings_that_come_at_once_get_an_act_each_and_fail_by_themselves() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    let second = app.account("second", &["analyst"]).await;
    let of = |sample: &str, minute: u32, value: &str| {
        let mut body = run(&bench, minute, "number", Some(value));
        body["sample"] = json!(sample);
        body
    };
    let (one_key, other_key) = (fresh_key(), fresh_key());
    let unknown = "019ca869-5003-7d46-b59c-6cf85cca57e4";
    // Caller, key, body, what is due.
    let mut asked: Vec<(_, String, Value, &[u16])> = Vec::new();
    for minute in 0..10 {
        let sample = &bench.samples[usize::try_from(minute % 3).unwrap()];
        let by = if minute % 2 == 0 {
            &bench.analyst
        } else {
            &second
        };
        asked.push((by, fresh_key(), of(sample, minute, "4.1"), &[201]));
    }
    asked.push((&bench.analyst, fresh_key(), of(unknown, 11, "4.1"), &[422]));
    let mut port = of(&bench.samples[0], 12, "4.1");
    port["port"] = json!(9);
    asked.push((&bench.analyst, fresh_key(), port, &[422]));
    // The same request twice: done once, and told so once or twice.
    let twice = of(&bench.samples[1], 13, "4.2");
    asked.push((&bench.analyst, one_key.clone(), twice.clone(), &[201, 409]));
    asked.push((&bench.analyst, one_key.clone(), twice.clone(), &[201, 409]));
    // One key for two requests: one of them is refused.
    for minute in [14, 15] {
        let body = of(&bench.samples[2], minute, "4.3");
        asked.push((&second, other_key.clone(), body, &[201, 409, 422]));
    }
    let answers = asked
        .iter()
        .map(|(by, key, body, _)| async move { by.post_raw("/runs", key, body).await });
    let answers = join_all(answers).await;

    let (mut acts, mut runs) = (BTreeSet::new(), BTreeSet::new());
    for ((_, _, body, due), answer) in asked.iter().zip(answers) {
        let status = answer.status().as_u16();
        let entry = answer.headers().get("assize-entry").cloned();
        let records = answer.headers().get("assize-records").cloned();
        let said: Value = answer.json().await.unwrap();
        assert!(due.contains(&status), "{status}: {said:#}");
        if status != 201 {
            assert!(said["type"].is_string(), "{said:#}");
            continue;
        }
        let minute = |body: &Value| {
            body["read_at"]
                .as_str()
                .unwrap()
                .get(..16)
                .map(str::to_owned)
        };
        assert_eq!(minute(&said), minute(body), "the answer to another");
        assert_eq!(said["sample"], body["sample"]);
        runs.insert(said["id"].as_str().unwrap().to_owned());
        // A repeat has no entry.
        if let (Some(entry), Some(records)) = (entry, records) {
            let act = ReadAct::parse(entry.to_str().unwrap()).unwrap().act;
            let records = records.to_str().unwrap().split(", ");
            let hashes: Vec<_> = records.map(|hash| hash.parse().unwrap()).collect();
            assert_eq!(tree::root(&hashes), act.root);
            acts.insert(act.id.to_string());
        }
    }
    assert_eq!(runs.len(), 12);
    assert_eq!(acts.len(), 12, "an act each");
    let recorded = "SELECT count(*) FROM ledger_act WHERE action = 'record-run'";
    assert_eq!(app.count(recorded).await, 12);
    assert_eq!(app.count("SELECT count(*) FROM runs_run").await, 12);
    let transactions = "SELECT count(DISTINCT xmin::text) FROM runs_run";
    assert!(app.count(transactions).await < 12, "some went together");
    let again = bench.analyst.post_once("/runs", &one_key, twice).await;
    assert!(runs.contains(&again.expect(201).id()), "the first answer");
    crate::rebuild::is_told_by_records(&app).await;
}

#[actix_web::test]
async fn an_account_that_was_closed_records_nothing_among_others_either() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    let leaver = app.account("leaver", &["analyst"]).await;
    let path = format!("/accounts/{}", leaver.id.clone().unwrap());
    let close = json!({"account": {"login": "leaver", "printed_name": "Person leaver",
            "roles": ["analyst"], "state": "closed"},
        "reason": {"code": "other", "text": "Left the laboratory."}});
    app.administrator().put(&path, 1, close).await.expect(200);
    let answers = (0..9).map(|minute| {
        let by = if minute % 3 == 0 {
            &leaver
        } else {
            &bench.analyst
        };
        let mut body = run(&bench, minute, "number", Some("4.1"));
        let sample = usize::try_from(minute / 3).unwrap();
        body["sample"] = json!(bench.samples[sample]);
        async move { by.post("/runs", body).await.status.as_u16() }
    });
    let statuses = join_all(answers).await;
    let due: Vec<u16> = (0..9).map(|n| if n % 3 == 0 { 401 } else { 201 }).collect();
    assert_eq!(statuses, due);
    assert_eq!(app.count("SELECT count(*) FROM runs_run").await, 6);
}
