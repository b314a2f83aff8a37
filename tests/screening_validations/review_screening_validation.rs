//! The yearly review: the control runs of a period are gathered and joined in.

use super::{adopted, pointers, study};
use crate::{
    harness::{
        callers::{TestApp, serve},
        fixtures::{Bench, bench_of},
    },
    runs::run,
};
use serde_json::{Value, json};

/// A control material with this assigned value, and a sample of it: both ids.
async fn control(bench: &Bench, code: &str, assigned: [&str; 3]) -> (String, String) {
    let [value, lower, upper] = assigned;
    let material = json!({"code": code, "name": "maize", "commodity": "maize-grain",
        "lot": "2026-A", "expires_on": "2099-01-31", "analytes": [{"analyte": "aflatoxin-total",
            "assigned_value": value, "lower": lower, "upper": upper}]});
    let material = bench.quality.post("/control-materials", material).await;
    let material = material.expect(201).id();
    let sample = json!({"code": format!("C-{code}"), "purpose": "control",
        "commodity": "maize-grain", "control_material": material,
        "received_at": "2026-03-01T07:00:00Z"});
    let sample = bench
        .analyst
        .post("/samples", sample)
        .await
        .expect(201)
        .id();
    (material, sample)
}

struct Routine {
    app: TestApp,
    bench: Bench,
    validation: String,
    positive: (String, String),
    blank: (String, String),
}

impl Routine {
    async fn begin() -> Self {
        let app = serve().await;
        let bench = bench_of(&app).await;
        let validation = adopted(&bench, study(&bench)).await;
        Self {
            positive: control(&bench, "CM-20", ["20.1", "15", "25"]).await,
            blank: control(&bench, "CM-0", ["0", "0", "4"]).await,
            validation,
            app,
            bench,
        }
    }

    async fn series(&self, code: &str) -> String {
        let series = json!({"code": code, "site": self.bench.site,
            "procedure": self.bench.procedure, "kit_lot": self.bench.kit_lot,
            "opened_at": "2026-03-01T07:00:00Z"});
        self.bench
            .analyst
            .post("/series", series)
            .await
            .expect(201)
            .id()
    }

    /// A control run, read on a day: its id.
    async fn read(&self, of: &str, on: &str, series: Option<&str>, reading: Value) -> String {
        let mut body = run(&self.bench, 0, "number", Some("1"));
        let minute = self.app.count("SELECT count(*) FROM runs_run").await;
        body["sample"] = json!(of);
        body["begun_at"] = json!(format!("{on}T09:{minute:02}:00Z"));
        body["read_at"] = json!(format!("{on}T09:{:02}:00Z", minute + 6));
        body["procedure"] = json!(self.bench.procedure);
        body["readings"] = json!([reading]);
        if let Some(series) = series {
            body["series"] = json!(series);
        }
        self.bench
            .analyst
            .post("/runs", body)
            .await
            .expect(201)
            .id()
    }

    fn asked(&self, from: &str, to: &str) -> Value {
        json!({"period": {"from": from, "to": to}, "controls": [
            {"control_material": self.positive.0, "kind": "positive"},
            {"control_material": self.blank.0, "kind": "negative"}]})
    }
}

fn number(value: &str) -> Value {
    json!({"analyte": "aflatoxin-total", "kind": "number", "value": value, "unit": "ug/kg"})
}

#[actix_web::test]
async fn a_review_gathers_the_control_runs_of_its_period_and_sets_the_cut_off_again() {
    let routine = Routine::begin().await;
    let quality = &routine.bench.quality;
    let path = format!("/screening-validations/{}/reviews", routine.validation);
    let asked = routine.asked("2026-04-01", "2026-06-30");
    let nothing = quality.post(&path, asked.clone()).await.expect(422);
    assert_eq!(nothing.problem(), "too-few-values");
    let quantity = "control runs at the target in the period";
    assert_eq!(nothing.body["quantity"], quantity);
    let detail = nothing.body["detail"].as_str().unwrap();
    assert!(detail.ends_with("2 are needed, 0 are there."), "{detail}");

    let series = routine.series("2026-04-10/1").await;
    let (positive, blank) = (routine.positive.1.as_str(), routine.blank.1.as_str());
    routine
        .read(positive, "2026-03-31", None, number("14"))
        .await;
    let joined = [
        routine
            .read(positive, "2026-04-10", Some(&series), number("20.3"))
            .await,
        routine
            .read(positive, "2026-04-10", Some(&series), number("17.5"))
            .await,
        routine
            .read(
                blank,
                "2026-05-11",
                None,
                json!({"analyte": "aflatoxin-total", "kind": "not-detected", "unit": "ug/kg"}),
            )
            .await,
    ];
    let above = json!({"analyte": "aflatoxin-total", "kind": "above", "value": "50",
        "unit": "ug/kg"});
    let over = routine.read(positive, "2026-06-30", None, above).await;
    routine
        .bench
        .analyst
        .post(&path, asked.clone())
        .await
        .expect(403);
    let review = quality.post(&path, asked.clone()).await.expect(201);
    let body = &review.body;
    let runs: Vec<&Value> = body["joined"]
        .as_array()
        .unwrap()
        .iter()
        .map(|one| &one["determination"]["run"])
        .collect();
    assert_eq!(
        runs,
        joined
            .iter()
            .map(|id| json!(id))
            .collect::<Vec<_>>()
            .iter()
            .collect::<Vec<_>>()
    );
    assert_eq!(body["joined"][0]["batch"], "2026-04-10/1");
    // Not detected is below the procedure's limit of detection.
    assert_eq!(body["joined"][2]["determination"]["below"], "1");
    assert_eq!(body["left_out"][0]["run"], json!(over));
    let report = &body["report"];
    assert_eq!(report["before"]["positives"], 20);
    assert_eq!(report["after"]["positives"], 22);
    assert_eq!(report["after"]["blanks"], 21);
    assert_eq!(report["missed_positives"], 1, "17.5 is not over 19");
    assert_eq!(report["batches_without_positives"], json!(["2026-05-11"]));
    assert_eq!(report["law_still_allows"], true);
    assert_eq!(body["cut_off"], "18");
    let shown = quality.get(&review.location.unwrap()).await.expect(200);
    assert_eq!(shown.body["report"], *report);

    let validation = format!("/screening-validations/{}", routine.validation);
    let standing = quality.get(&validation).await.expect(200);
    assert_eq!(
        standing.body["cut_off"], "18",
        "that of the review is in force"
    );
    assert_eq!(
        standing.body["report"]["cut_off"], "19",
        "and the study's stays readable"
    );

    // What was joined is not joined again, whatever the period: only the run before it is left.
    let wider = quality
        .post(&path, routine.asked("2026-03-01", "2026-06-30"))
        .await;
    let wider = wider.expect(422);
    let detail = wider.body["detail"].as_str().unwrap();
    assert!(detail.ends_with("2 are needed, 1 is there."), "{detail}");
    routine
        .read(positive, "2026-07-02", None, number("19.8"))
        .await;
    let second = quality
        .post(&path, routine.asked("2026-03-01", "2026-07-31"))
        .await;
    let second = second.expect(201);
    assert_eq!(second.body["report"]["before"]["positives"], 22);
    assert_eq!(second.body["report"]["after"]["positives"], 24);
    let list = quality.get(&path).await.expect(200);
    assert_eq!(list.body["items"][0]["id"], second.body["id"]);
    assert_eq!(list.body["items"].as_array().unwrap().len(), 2);
    crate::rebuild::is_told_by_records(&routine.app).await;
    crate::verify_ledger::is_computed_again(&routine.app, "screening-reviewed").await;
}

#[actix_web::test]
async fn a_material_is_the_control_that_it_is_said_to_be() {
    let routine = Routine::begin().await;
    let quality = &routine.bench.quality;
    let path = format!("/screening-validations/{}/reviews", routine.validation);
    let mut swapped = routine.asked("2026-04-01", "2026-06-30");
    swapped["controls"][0]["kind"] = json!("negative");
    swapped["controls"][1]["kind"] = json!("positive");
    let refused = quality.post(&path, swapped).await.expect(422);
    assert_eq!(
        pointers(&refused.body),
        [
            "#/controls/0/control_material",
            "#/controls/1/control_material"
        ]
    );
    for (change, pointer) in [
        (
            json!({"from": "2026-04-01", "to": "2026-03-01"}),
            "#/period/to",
        ),
        (
            json!({"from": "2026-04-01", "to": "2999-03-01"}),
            "#/period/to",
        ),
    ] {
        let mut asked = routine.asked("2026-04-01", "2026-06-30");
        asked["period"] = change;
        let refused = quality.post(&path, asked).await.expect(422);
        assert_eq!(pointers(&refused.body), [pointer]);
    }
    let mut draft = study(&routine.bench);
    draft["code"] = json!("SV-08");
    let made = routine
        .bench
        .analyst
        .post("/screening-validations", draft)
        .await;
    let of_draft = format!("/screening-validations/{}/reviews", made.expect(201).id());
    let asked = routine.asked("2026-04-01", "2026-06-30");
    let refused = quality.post(&of_draft, asked).await.expect(409);
    assert_eq!(refused.problem(), "screening-validation-state");
    let found = "SELECT count(*) FROM screening_validations_review";
    assert_eq!(routine.app.count(found).await, 0);
}
