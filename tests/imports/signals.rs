//! Exports that give the signals of test and control line: read, and compared with the reader's
//! own numbers by the curve of the kit lot. All numbers are invented.

use super::{HEADER, drafted, import, map, outcomes, row};
use crate::{
    harness::{
        callers::serve,
        fixtures::{Bench, bench_of, kit_lot},
    },
    results::computed_again,
    runs::run,
};
use serde_json::{Value, json};

/// By this curve the response is 2/(1 + x/10): 10 µg/kg at 1, 2.5 µg/kg at 1.6.
fn curve() -> Value {
    json!({"analyte": "aflatoxin-total", "response": "test-over-control",
        "curve": {"lower": "0", "upper": "2", "slope": "1", "midpoint": "10"}})
}

/// The bench's kit lot, with a curve.
fn with_curve(bench: &Bench, curve: Value) -> Value {
    let mut lot = kit_lot("AF-118", &bench.procedure);
    lot["curves"] = json!([curve]);
    json!({"kit_lot": lot,
        "reason": {"code": "late-information", "text": "The curve came with the papers."}})
}

fn rows(rows: &[(String, &str)]) -> Vec<u8> {
    let rows: Vec<String> = rows
        .iter()
        .map(|(row, signals)| format!("{row};{signals}"))
        .collect();
    format!("{HEADER};T;C\r\n{}\r\n", rows.join("\r\n")).into_bytes()
}

#[actix_web::test]
async fn signals_are_read_and_a_number_that_does_not_follow_from_them_is_held() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    let path = format!("/kit-lots/{}", bench.kit_lot);
    let mut level = curve();
    level["curve"]["upper"] = json!("0");
    let refused = bench
        .quality
        .put(&path, 2, with_curve(&bench, level))
        .await
        .expect(422);
    assert_eq!(
        refused.body["errors"][0]["pointer"],
        "#/kit_lot/curves/0/curve/upper"
    );
    let revised = with_curve(&bench, curve());
    let lot = bench.quality.put(&path, 2, revised).await.expect(200);
    assert_eq!(lot.body["curves"][0]["curve"]["midpoint"], "10");

    let mut of_signals = map(&bench, "Bay 1");
    of_signals["readings"]["by_row"]["test_line_signal"] = json!("T");
    of_signals["readings"]["by_row"]["control_line_signal"] = json!("C");
    let by_map = drafted(&bench, of_signals).await;
    let export = [
        (row(0, "S-1", "2.5"), "1600;1000"),
        (row(10, "S-2", "8.2"), "1600;1000"),
        (row(20, "S-3", "2.5"), "dark;1000"),
        (row(30, "S-3", "2.5"), ";"),
    ];
    let done = import(&bench.analyst, &by_map, rows(&export))
        .await
        .expect(201);
    let found = outcomes(&done.body);
    let words: Vec<&str> = found.iter().map(|(_, word, _)| word.as_str()).collect();
    assert_eq!(words, ["recorded", "recorded", "refused", "recorded"]);
    assert_eq!(found[0].2, Vec::<String>::new());
    assert_eq!(found[1].2, ["signal-disagreement"]);
    assert_eq!(found[3].2, Vec::<String>::new());
    let fault = &done.body["refused"][0]["faults"][0];
    assert_eq!(fault["column"], "T", "{:#}", done.body["refused"]);
    assert_eq!(fault["code"], "not-a-number");

    let id = done.body["rows"][1]["run"].as_str().unwrap();
    let held = bench.analyst.get(&format!("/runs/{id}")).await.expect(200);
    assert_eq!(
        held.body["readings"][0]["signals"],
        json!({"test_line": "1600", "control_line": "1000"})
    );
    assert_eq!(
        held.body["signal_checks"],
        json!([{"analyte": "aflatoxin-total", "response": "1.6", "agrees": false,
            "from_signals": {"kind": "number", "value": "2.5"},
            "least": "2.48984", "most": "2.51016"}])
    );
    let detail = held.body["holds"][0]["detail"].as_str().unwrap();
    assert_eq!(
        detail,
        "aflatoxin-total: the signals give 2.5 µg/kg (2.48984 to 2.51016 µg/kg); \
         the reader gave 8.2 ug/kg"
    );
    let page = format!("/samples/{}", bench.samples[1]);
    let (status, html) = bench.analyst.page(&page).await;
    assert_eq!(status, 200);
    for words in ["<h3>Signals</h3>", "1600", "<strong>disagrees</strong>"] {
        assert!(html.contains(words), "{words}: {html}");
    }

    // The same again is skipped; the same reading with other signals is refused.
    let again = [
        (row(0, "S-1", "2.5"), "1600;1000"),
        (row(10, "S-2", "8.2"), "1601;1000"),
    ];
    let again = import(&bench.analyst, &by_map, rows(&again))
        .await
        .expect(201);
    let words: Vec<_> = outcomes(&again.body);
    assert_eq!(words[0].1, "same");
    assert_eq!(words[1].1, "refused", "{:#}", again.body);
    crate::verify_ledger::is_computed_again(&app, "signals").await;

    // Another midpoint was meant: 8.2 is right by it, and 2.5 is not.
    let mut mended = curve();
    mended["curve"]["midpoint"] = json!("32.8");
    bench
        .quality
        .put(&path, 3, with_curve(&bench, mended))
        .await
        .expect(200);
    computed_again(&app).await;
    let holds = |sample: &str| format!("/holds?sample={sample}&state=raised");
    let of_second = bench.analyst.get(&holds(&bench.samples[1])).await;
    assert_eq!(of_second.expect(200).body["items"], json!([]));
    let of_first = bench.analyst.get(&holds(&bench.samples[0])).await;
    let of_first = of_first.expect(200);
    assert_eq!(of_first.body["items"][0]["kind"], "signal-disagreement");
    crate::rebuild::is_told_by_records(&app).await;
    crate::verify_ledger::is_computed_again(&app, "signals-mended").await;
}

#[actix_web::test]
async fn posted_signals_are_compared_and_a_typed_run_takes_those_of_its_export() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    let path = format!("/kit-lots/{}", bench.kit_lot);
    let revised = with_curve(&bench, curve());
    bench.quality.put(&path, 2, revised).await.expect(200);
    let posted = async |minute: u32, value: &str, signals: Value| {
        let mut body = run(&bench, minute, "number", Some(value));
        body["readings"][0]["signals"] = signals;
        bench.analyst.post("/runs", body).await
    };
    let negative = json!({"test_line": "-1", "control_line": "1000"});
    let refused = posted(0, "2.5", negative).await.expect(422);
    assert_eq!(
        refused.body["errors"][0]["pointer"],
        "#/readings/0/signals/test_line"
    );
    let diluted = |value: &str, includes: bool| {
        let mut body = run(&bench, 10, "number", Some(value));
        body["dilution"] = json!([{"sample_volume_ul": "100", "diluent_volume_ul": "500",
            "diluent": "water"}]);
        body["value_includes_factor"] = json!(includes);
        body["readings"][0]["signals"] = json!({"test_line": "1600", "control_line": "1000"});
        body
    };
    for (value, includes) in [("2.5", false), ("15.0", true)] {
        let made = bench.analyst.post("/runs", diluted(value, includes)).await;
        let made = made.expect(201);
        assert_eq!(made.body.get("holds"), None, "{:#}", made.body);
    }
    let outside = json!({"test_line": "2100", "control_line": "1000"});
    let outside = posted(20, "4.1", outside).await.expect(201);
    let hold = &outside.body["holds"][0];
    assert_eq!(hold["kind"], "signal-disagreement");
    let detail = hold["detail"].as_str().unwrap();
    assert!(detail.contains("outside the curve"), "{detail}");

    let typed = run(&bench, 40, "number", Some("8.2"));
    let typed = bench.analyst.post("/runs", typed).await.expect(201);
    let mut of_signals = map(&bench, "Bay 1");
    of_signals["readings"]["by_row"]["test_line_signal"] = json!("T");
    of_signals["readings"]["by_row"]["control_line_signal"] = json!("C");
    let by_map = drafted(&bench, of_signals).await;
    let export = [(row(40, "S-1", "8.2"), "1600;1000")];
    let done = import(&bench.analyst, &by_map, rows(&export))
        .await
        .expect(201);
    assert_eq!(outcomes(&done.body)[0].1, "joined");
    assert_eq!(outcomes(&done.body)[0].2, ["signal-disagreement"]);
    let path = format!("/runs/{}", typed.id());
    let joined = bench.analyst.get(&path).await.expect(200);
    assert_eq!(joined.body["readings"][0]["signals"]["test_line"], "1600");
    assert_eq!(joined.body.get("differences"), None);
    crate::rebuild::is_told_by_records(&app).await;
}
