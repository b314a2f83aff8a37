//! Runs that named a kit lot or a reader before it was registered.

use super::run;
use crate::harness::{
    callers::{Caller, serve},
    fixtures::{Bench, bench_of, kit_lot},
};
use serde_json::{Value, json};

fn without(mut run: Value, member: &str, code: (&str, &str)) -> Value {
    run.as_object_mut().unwrap().remove(member);
    run[code.0] = json!(code.1);
    run
}

/// The kinds of the holds that stand on a run.
fn standing(run: &Value) -> Vec<&str> {
    let holds = run["holds"].as_array();
    holds
        .into_iter()
        .flatten()
        .filter(|hold| hold.get("lifted").is_none())
        .map(|hold| hold["kind"].as_str().unwrap())
        .collect()
}

/// The run, once the job has looked at it again so that this is true of it.
async fn once(bench: &Bench, run: &str, is_so: impl Fn(&Value) -> bool) -> Value {
    let mut seen = Value::Null;
    for _ in 0..50 {
        seen = bench
            .analyst
            .get(&format!("/runs/{run}"))
            .await
            .expect(200)
            .body;
        if is_so(&seen) {
            break;
        }
        tokio::time::sleep(std::time::Duration::from_millis(200)).await;
    }
    assert!(is_so(&seen), "{seen:#}");
    seen
}

async fn accepted(quality: &Caller, lot: Value) -> String {
    let id = quality.post("/kit-lots", lot).await.expect(201).id();
    quality
        .post_seen(&format!("/kit-lots/{id}/acceptance"), 1, json!({}))
        .await
        .expect(200);
    id
}

#[actix_web::test]
async fn a_kit_lot_that_is_registered_later_is_found_by_the_runs_that_named_it() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    let named = |minute| {
        let made = run(&bench, minute, "number", Some("4.1"));
        without(made, "kit_lot", ("kit_lot_code", "AF-119"))
    };
    let held = bench.analyst.post("/runs", named(0)).await.expect(201);
    // The procedure is the kit lot's, and so is not known either.
    let unknown = ["kit-lot-unknown", "procedure-missing"];
    assert_eq!(standing(&held.body), unknown, "{:#}", held.body);
    let mut stray = named(10);
    stray.as_object_mut().unwrap().remove("sample");
    let stray = bench.analyst.post("/runs", stray).await.expect(201);
    let mut other = named(20);
    other["kit_lot_code"] = json!("AF-120");
    let other = bench.analyst.post("/runs", other).await.expect(201);

    let lot = accepted(&bench.quality, kit_lot("AF-119", &bench.procedure)).await;
    let joined = once(&bench, &held.id(), |run| standing(run).is_empty()).await;
    assert_eq!(joined["kit_lot"], json!(lot));
    assert_eq!(joined["kit_lot_code"], "AF-119");
    let of_run = format!("/holds?subject={}", held.id());
    let holds = bench.analyst.get(&of_run).await.expect(200);
    let lifted = holds.body["items"]
        .as_array()
        .unwrap()
        .iter()
        .find(|hold| hold["kind"] == "kit-lot-unknown")
        .unwrap();
    assert_eq!(lifted["lifted"]["how"], "later-fact", "{joined:#}");
    let stray = once(&bench, &stray.id(), |run| standing(run) == ["no-sample"]).await;
    assert_eq!(stray["kit_lot"], json!(lot), "also without a sample");
    let used = bench
        .quality
        .get(&format!("/kit-lots/{lot}"))
        .await
        .expect(200);
    assert_eq!(used.body["tests_used"], 2);
    let other = bench
        .analyst
        .get(&format!("/runs/{}", other.id()))
        .await
        .expect(200);
    assert_eq!(standing(&other.body), unknown);
    let trail = bench
        .analyst
        .get(&format!("/records?subject={}", held.id()))
        .await
        .expect(200);
    assert_eq!(
        trail.body["items"].as_array().unwrap().len(),
        2,
        "both versions"
    );
    assert!(trail.body["items"][1]["content"].get("kit_lot").is_none());
}

#[actix_web::test]
async fn a_kit_lot_whose_number_is_corrected_is_found_by_the_runs_that_named_it() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    let made = run(&bench, 0, "number", Some("4.1"));
    let made = without(made, "kit_lot", ("kit_lot_code", "AF-119"));
    let held = bench.analyst.post("/runs", made).await.expect(201);
    let lot = accepted(&bench.quality, kit_lot("AF-191", &bench.procedure)).await;
    bench
        .quality
        .put(
            &format!("/kit-lots/{lot}"),
            2,
            json!({"kit_lot": kit_lot("AF-119", &bench.procedure),
                "reason": {"code": "transcription-error", "text": "The box says AF-119."}}),
        )
        .await
        .expect(200);
    let joined = once(&bench, &held.id(), |run| standing(run).is_empty()).await;
    assert_eq!(joined["kit_lot"], json!(lot));
}

#[actix_web::test]
async fn a_reader_that_is_registered_later_is_found_where_it_has_the_port() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    let mut held = Vec::new();
    for (minute, port) in [(0, 1), (10, 3)] {
        let made = run(&bench, minute, "number", Some("4.1"));
        let mut made = without(made, "reader", ("reader_serial", "R-9"));
        made["port"] = json!(port);
        let made = bench.analyst.post("/runs", made).await.expect(201);
        assert_eq!(standing(&made.body), ["reader-unknown"], "{:#}", made.body);
        held.push(made.id());
    }
    let reader = json!({"serial": "R-9", "name": "Lent", "ports": 2, "site": bench.site});
    let reader = bench
        .quality
        .post("/readers", reader)
        .await
        .expect(201)
        .id();
    let joined = once(&bench, &held[0], |run| run["reader"] == json!(reader)).await;
    assert_eq!(standing(&joined), Vec::<&str>::new());
    let impossible = bench
        .analyst
        .get(&format!("/runs/{}", held[1]))
        .await
        .expect(200);
    assert_eq!(standing(&impossible.body), ["reader-unknown"]);
    assert!(impossible.body.get("reader").is_none());
}
