//! The chart of recorded control runs: the calculator's figures, what is left out, what is in
//! doubt.

use super::{chart_of, control_sample, of_sample, recorded};
use crate::harness::{
    callers::{Caller, serve},
    fixtures::bench_of,
};
use serde_json::{Value, json};

/// What the calculator answers.
async fn calculated(caller: &Caller, computation: &str, body: Value) -> Value {
    let address = format!("/v1/calculator/control/{computation}");
    caller.post(&address, body).await.expect(200).body
}

#[actix_web::test]
async fn a_chart_has_the_figures_that_the_calculator_gives_for_the_same_numbers() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    let (material, control) = control_sample(&bench).await;
    let values = ["19.2", "21.4", "20.3", "18.8", "22.8", "23.0", "20.1"];
    // The last is posted first: what counts is the time read.
    for place in [6, 0, 1, 2, 3, 4, 5] {
        recorded(
            &bench,
            &control,
            u32::try_from(place).unwrap(),
            values[place],
        )
        .await;
    }
    let path = chart_of(&bench, &material);
    let chart = bench.quality.get(&path).await.expect(200).body;
    let points = chart["points"].as_array().unwrap();
    let shown: Vec<&str> = points
        .iter()
        .map(|one| one["value"].as_str().unwrap())
        .collect();
    assert_eq!(shown, values);
    assert_eq!(chart["lines"]["upper_three"], "23.9");
    assert_eq!(chart["lines"]["deviation_from"], "stated");

    let by = &bench.quality;
    let individuals = json!({"values": values});
    assert_eq!(
        chart["individuals"],
        calculated(by, "individuals-chart", individuals).await
    );
    let ewma = json!({"values": values, "target": "20", "lambda": "0.2", "s": "1.3", "k": "3",
        "limits": "exact"});
    assert_eq!(chart["ewma"], calculated(by, "ewma-chart", ewma).await);
    let cusum = json!({"values": values, "target": "20", "k": "0.5", "h": "5",
        "unit": "of-standard-deviations", "s": "1.3"});
    assert_eq!(chart["cusum"], calculated(by, "cusum-chart", cusum).await);
    let rules = json!({"values": values, "means": ["20"], "standard_deviations": ["1.3"]});
    let rules = calculated(by, "multirule", rules).await;
    let z: Vec<&Value> = points.iter().map(|one| &one["z"]).collect();
    assert_eq!(json!(z), rules["z"]);
    for signal in rules["signals"].as_array().unwrap() {
        let rule = &signal["rule"];
        let completing = points.iter().filter(|one| match rule.as_str() {
            Some("1-2s") => one["warning"] == true,
            _ => one["rules"]
                .as_array()
                .unwrap()
                .iter()
                .any(|done| done["rule"] == *rule),
        });
        let numbers: Vec<&Value> = completing.map(|one| &one["number"]).collect();
        assert_eq!(json!(numbers), signal["dated_at"], "{rule}");
    }
    let two = &points[5]["rules"][0];
    assert_eq!(two["rule"], "2-2s");
    assert_eq!(two["runs"], json!([points[4]["run"], points[5]["run"]]));

    // What was found is what the next version of the procedure states of its bias.
    let found = &chart["found"];
    assert_eq!(found["determinations"], 7);
    let stated = &found["for_procedure"];
    assert_eq!(stated["mean_found"], "20.8");
    assert_eq!(stated["control_material"], json!(material));
    let bias = json!({"reference": vec!["20"; 7], "test": values});
    let line = by.post("/v1/calculator/lines/method-bias", bias).await;
    assert_eq!(found["bias"], line.expect(200).body);
    let procedure = by.get(&format!("/procedures/{}", bench.procedure)).await;
    let mut next = procedure.expect(200).body;
    for member in ["id", "version", "state", "created_at", "changed_at"] {
        next.as_object_mut().unwrap().remove(member);
    }
    next["bias"] = json!([stated]);
    next["code"] = json!("P-AF-2");
    by.post("/procedures", next).await.expect(201);

    // Other settings, another period; and what no chart can be drawn with.
    let other = format!("{path}&lambda=0.3&to=2026-02-28");
    let none = bench.quality.get(&other).await.expect(200).body;
    assert_eq!(
        (&none["runs_in_period"], &none["settings"]["lambda"]),
        (&json!(0), &json!("0.3"))
    );
    assert_eq!(none["points"], json!([]));
    for (query, pointer) in [
        ("&lambda=1.2", "#/lambda"),
        ("&cusum_h=0", "#/cusum_h"),
        ("&from=2026-03-02&to=2026-03-01", "#/to"),
    ] {
        let refused = by.get(&format!("{path}{query}")).await.expect(422);
        assert_eq!(refused.body["errors"][0]["pointer"], pointer);
    }
    let ages_ago = by
        .get(&format!("{path}&from=-9999-01-01"))
        .await
        .expect(400);
    assert_eq!(ages_ago.problem(), "malformed");
    let lots = by.get("/lots?arrived_from=-9999-01-01").await.expect(400);
    assert_eq!(lots.problem(), "malformed");
    let other = path.replace("aflatoxin-total", "zearalenone");
    let refused = by.get(&other).await.expect(422);
    assert_eq!(refused.body["errors"][0]["pointer"], "#/analyte");
    app.integrator().await.get(&path).await.expect(403);
    let listed = app
        .reviewer()
        .await
        .get("/control-charts")
        .await
        .expect(200);
    let item = &listed.body["items"][0];
    assert_eq!(
        (&item["runs"], &item["groups"][0]["reader_serial"]),
        (&json!(7), &json!("R-1"))
    );
    let linked = item["link"].as_str().unwrap();
    assert!(linked.ends_with(&path), "{linked}");
}

#[actix_web::test]
async fn each_chart_of_the_list_can_be_looked_at() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    let (_material, control) = control_sample(&bench).await;
    let mut both = of_sample(&bench, &control, 0, "20.1");
    let zearalenone =
        json!({"analyte": "zearalenone", "kind": "number", "value": "41", "unit": "ug/kg"});
    both["readings"].as_array_mut().unwrap().push(zearalenone);
    bench.analyst.post("/runs", both).await.expect(201);
    let listed = bench.quality.get("/control-charts").await.expect(200).body;
    let items = listed["items"].as_array().unwrap();
    assert_eq!(items.len(), 1, "{items:#?}");
    assert_eq!(items[0]["analyte"], "aflatoxin-total");
}

#[actix_web::test]
async fn what_is_left_out_is_listed_and_a_failure_shows_what_it_puts_in_doubt() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    let (material, control) = control_sample(&bench).await;
    let good = recorded(&bench, &control, 0, "20.1").await;
    recorded(&bench, &bench.samples[0], 5, "4.1").await;
    let failed = recorded(&bench, &control, 10, "26.2").await;
    recorded(&bench, &bench.samples[1], 15, "5.2").await;
    let next = recorded(&bench, &control, 20, "19.9").await;
    recorded(&bench, &bench.samples[2], 25, "6.3").await;
    // 3.4 µg/kg after 100 µL + 500 µL: 20.4, within the window.
    let mut diluted = of_sample(&bench, &control, 24, "3.4");
    diluted["dilution"] = json!([{"sample_volume_ul": "100", "diluent_volume_ul": "500",
        "diluent": "water"}]);
    let diluted = bench.analyst.post("/runs", diluted).await.expect(201).id();
    let mut over = of_sample(&bench, &control, 31, "50");
    over["readings"][0]["kind"] = json!("above");
    bench.analyst.post("/runs", over).await.expect(201);
    let mut unknown = of_sample(&bench, &control, 32, "20.4");
    unknown.as_object_mut().unwrap().remove("reader");
    bench.analyst.post("/runs", unknown).await.expect(201);
    let withdrawn = recorded(&bench, &control, 33, "1.0").await;
    let reason = json!({"reason": {"code": "instrument-fault", "text": "The port was dirty."}});
    bench
        .analyst
        .post_seen(&format!("/runs/{withdrawn}/withdrawal"), 1, reason)
        .await
        .expect(200);

    let path = chart_of(&bench, &material);
    let chart = bench.analyst.get(&path).await.expect(200).body;
    let runs: Vec<&Value> = chart["points"]
        .as_array()
        .unwrap()
        .iter()
        .map(|one| &one["run"])
        .collect();
    assert_eq!(json!(runs), json!([good, failed, next]));
    assert_eq!(chart["runs_in_period"], 7);
    let reasons: Vec<&Value> = chart["left_out"]
        .as_array()
        .unwrap()
        .iter()
        .map(|one| &one["reason"])
        .collect();
    assert_eq!(
        json!(reasons),
        json!(["diluted", "no-number", "unknown-reader", "withdrawn"])
    );
    let doubts = chart["doubts"].as_array().unwrap();
    let first = &doubts[0];
    assert_eq!(first["failed"][0]["run"], json!(failed));
    assert_eq!(
        (&first["after"]["run"], &first["before"]["run"]),
        (&json!(good), &json!(next))
    );
    let why = first["failed"][0]["failed_by"].as_array().unwrap();
    assert!(why[0].as_str().unwrap().contains("26.2"), "{why:?}");
    assert_eq!(why[1], "it completes rule 1-3s");
    let codes: Vec<&Value> = first["runs"]
        .as_array()
        .unwrap()
        .iter()
        .map(|one| &one["sample_code"])
        .collect();
    assert_eq!(json!(codes), json!(["S-1", "S-2"]));
    assert_eq!(first["runs_in_doubt"], 2);
    let link = first["runs"][1]["results"][0]["link"].as_str().unwrap();
    let result = link.split_once("/results/").unwrap().1;
    let result = bench.analyst.get(&format!("/results/{result}")).await;
    assert_eq!(result.expect(200).body["sample"], json!(bench.samples[1]));
    // The over-range control run opened a stretch that nothing closed yet.
    let open = &doubts[1];
    assert_eq!(
        (&open["after"]["run"], open.get("before")),
        (&json!(diluted), None)
    );
    assert_eq!(open["runs"][0]["sample_code"], "S-3");

    // A correction counts by its newest version.
    let mut corrected = of_sample(&bench, &control, 10, "20.2");
    corrected["sample"] = json!(control);
    let body = json!({"run": corrected,
        "reason": {"code": "transcription-error", "text": "The display showed 20.2."}});
    bench
        .analyst
        .post_seen(&format!("/runs/{failed}/correction"), 1, body)
        .await
        .expect(200);
    let chart = bench.analyst.get(&path).await.expect(200).body;
    assert_eq!(chart["points"][1]["value"], "20.2");
    assert_eq!(chart["doubts"].as_array().unwrap().len(), 1, "the open one");
    let elsewhere = format!("{path}&reader={}", bench.procedure);
    let none = bench.analyst.get(&elsewhere).await.expect(200).body;
    assert_eq!(none["points"], json!([]));
}
