//! Random histories of a laboratory, over HTTP: whatever is done in whatever order, the read model
//! says what the records say. What is refused on the way is part of the history; a fault of the
//! service is not.

use super::is_told_by_records;
use crate::{
    certificates::{Bench, bench},
    harness::callers::{Answered, Caller, TestApp, serve},
    imports::{export, import, map_of, row},
    reviews::{release, shown, versions},
};
use proptest::{
    prelude::*,
    test_runner::{Config, TestRunner},
};
use serde_json::{Value, json};
use std::cell::RefCell;

/// Something that is done. Numbers choose among what there is.
#[derive(Debug, Clone)]
enum Step {
    Goods(Goods),
    Runs(Runs),
    Imports(Imports),
    Judgement(Judgement),
    Certificates(Certificates),
}

#[derive(Debug, Clone)]
enum Goods {
    Customer(u8),
    Lot { mass: u16, parties: u8 },
    Sample { code: u8, barcode: u8 },
    Barcode { sample: u8, barcode: u8 },
    Sampling { plan: u8, increments: u8 },
}

#[derive(Debug, Clone)]
enum Runs {
    Run { sample: u8, minute: u8, value: u8 },
    Begin { minute: u8 },
    Correct { run: u8, value: u8 },
    Withdraw { run: u8 },
    Assign { run: u8, sample: u8 },
}

#[derive(Debug, Clone)]
enum Imports {
    Import { rows: Vec<(u8, u8, u8, bool)> },
    Mend { value: u8 },
}

#[derive(Debug, Clone)]
enum Judgement {
    Hold { run: u8 },
    Accept { hold: u8 },
    Cancel { result: u8 },
    Compute { result: u8 },
    Release { sample: u8 },
    Recall,
    Password,
}

#[derive(Debug, Clone)]
enum Certificates {
    Issue,
    Amend { certificate: u8 },
    Investigate { certificate: u8, open: bool },
    Revoke { certificate: u8 },
}

fn step() -> impl Strategy<Value = Step> {
    prop_oneof![
        6 => goods().prop_map(Step::Goods),
        11 => runs().prop_map(Step::Runs),
        8 => imports().prop_map(Step::Imports),
        10 => judgement().prop_map(Step::Judgement),
        7 => certificates().prop_map(Step::Certificates),
    ]
}

fn n() -> std::ops::Range<u8> {
    0..6
}

fn goods() -> impl Strategy<Value = Goods> {
    prop_oneof![
        1 => n().prop_map(Goods::Customer),
        1 => (1_u16..900, n()).prop_map(|(mass, parties)| Goods::Lot { mass, parties }),
        2 => (n(), n()).prop_map(|(code, barcode)| Goods::Sample { code, barcode }),
        2 => (n(), n()).prop_map(|(sample, barcode)| Goods::Barcode { sample, barcode }),
        2 => (n(), 1_u8..150).prop_map(|(plan, increments)| Goods::Sampling { plan, increments }),
    ]
}

fn runs() -> impl Strategy<Value = Runs> {
    let (minute, value) = (|| 0_u8..50, || 0_u8..60);
    prop_oneof![
        4 => (n(), minute(), value())
            .prop_map(|(sample, minute, value)| Runs::Run { sample, minute, value }),
        1 => minute().prop_map(|minute| Runs::Begin { minute }),
        3 => (n(), value()).prop_map(|(run, value)| Runs::Correct { run, value }),
        1 => n().prop_map(|run| Runs::Withdraw { run }),
        2 => (n(), n()).prop_map(|(run, sample)| Runs::Assign { run, sample }),
    ]
}

fn imports() -> impl Strategy<Value = Imports> {
    let rows = prop::collection::vec((0_u8..5, n(), 0_u8..4, any::<bool>()), 1..6);
    prop_oneof![
        5 => rows.prop_map(|rows| Imports::Import { rows }),
        3 => (0_u8..4).prop_map(|value| Imports::Mend { value }),
    ]
}

fn judgement() -> impl Strategy<Value = Judgement> {
    prop_oneof![
        1 => n().prop_map(|run| Judgement::Hold { run }),
        1 => n().prop_map(|hold| Judgement::Accept { hold }),
        1 => n().prop_map(|result| Judgement::Cancel { result }),
        1 => n().prop_map(|result| Judgement::Compute { result }),
        4 => n().prop_map(|sample| Judgement::Release { sample }),
        1 => Just(Judgement::Recall),
        1 => Just(Judgement::Password),
    ]
}

fn certificates() -> impl Strategy<Value = Certificates> {
    prop_oneof![
        3 => Just(Certificates::Issue),
        2 => n().prop_map(|certificate| Certificates::Amend { certificate }),
        1 => (n(), any::<bool>())
            .prop_map(|(certificate, open)| Certificates::Investigate { certificate, open }),
        1 => n().prop_map(|certificate| Certificates::Revoke { certificate }),
    ]
}

struct World {
    bench: Bench,
    quality: Caller,
    map: String,
    /// What was answered to each step that found something to be done on.
    answers: RefCell<Vec<u16>>,
}

const BARCODES: [&str; 3] = ["4006381333931", "96385074", "5901234123457"];

fn because() -> Value {
    json!({"code": "late-information", "text": "It was found out later."})
}

/// What a view says of its subject, without what the service adds.
fn content(view: &Value) -> Value {
    let mut content = view.clone();
    let members = content.as_object_mut().unwrap();
    for added in [
        "id",
        "version",
        "created_at",
        "changed_at",
        "links",
        "plan_check",
    ] {
        members.remove(added);
    }
    content
}

fn barcodes(n: u8) -> Vec<&'static str> {
    BARCODES.get(usize::from(n)).copied().into_iter().collect()
}

impl World {
    async fn of(app: &TestApp) -> Self {
        let bench = bench(app).await;
        let quality = app.sign_in("quality").await;
        let map = map_of(&bench.analyst, "Bay 1");
        let map = quality.post("/column-maps", map).await.expect(201).id();
        Self {
            bench,
            quality,
            map,
            answers: RefCell::default(),
        }
    }

    /// Done or refused, but no fault of the service.
    #[track_caller]
    fn taken(&self, answer: Answered) {
        let status = answer.status.as_u16();
        assert!(status < 500, "{status}: {:#}", answer.body);
        self.answers.borrow_mut().push(status);
    }

    /// The one that the number chooses of a list, newest first.
    async fn one_of(&self, path: &str, n: u8) -> Option<Value> {
        let list = self.bench.reviewer.get(path).await.expect(200);
        let items = list.body["items"].as_array().unwrap().clone();
        let place = usize::from(n).checked_rem(items.len())?;
        items.get(place).cloned()
    }

    /// Acts on the one that the number chooses, in the version that is there.
    async fn act(&self, by: &Caller, list: &str, n: u8, verb: &str, body: Value) {
        if let Some(one) = self.one_of(&format!("/{list}"), n).await {
            let path = format!("/{list}/{}/{verb}", one["id"].as_str().unwrap());
            let version = one["version"].as_i64().unwrap();
            self.taken(by.post_seen(&path, version, body).await);
        }
    }

    /// Revises the one that the number chooses.
    async fn revise(&self, list: &str, word: &str, n: u8, change: impl Fn(&mut Value)) {
        if let Some(one) = self.one_of(&format!("/{list}"), n).await {
            let path = format!("/{list}/{}", one["id"].as_str().unwrap());
            let mut content = content(&one);
            change(&mut content);
            let body = json!({word: content, "reason": because()});
            let version = one["version"].as_i64().unwrap();
            self.taken(self.bench.analyst.put(&path, version, body).await);
        }
    }

    async fn run(&self, sample: u8, minute: u8, value: u8) -> Value {
        let sample = self.one_of("/samples", sample).await.unwrap();
        let sample = sample["id"].as_str().unwrap();
        let mut run = self.bench.another_run(sample, &value.to_string());
        run["begun_at"] = json!(format!("2026-03-01T08:{minute:02}:00Z"));
        run["read_at"] = json!(format!("2026-03-01T08:{:02}:00Z", minute + 6));
        run
    }

    async fn certify(&self, step: &Certificates) {
        let reviewer = &self.bench.reviewer;
        let order = self.bench.order().await;
        match step {
            Certificates::Issue => {
                self.taken(reviewer.post("/certificates", order).await);
            }
            Certificates::Amend { certificate } => {
                let body = json!({"results": order["results"], "reason": because()});
                let n = *certificate;
                self.act(reviewer, "certificates", n, "amendment", body)
                    .await;
            }
            Certificates::Investigate { certificate, open } => {
                let body = json!({"open": open, "reason": because()});
                let n = *certificate;
                self.act(reviewer, "certificates", n, "investigation", body)
                    .await;
            }
            Certificates::Revoke { certificate } => {
                let body = json!({"reason": because()});
                let n = *certificate;
                self.act(reviewer, "certificates", n, "withdrawal", body)
                    .await;
            }
        }
    }

    async fn goods(&self, step: &Goods) {
        let analyst = &self.bench.analyst;
        match step {
            Goods::Sampling { plan, increments } => {
                let plans = [
                    "eu-2023-cereal",
                    "us-fgis-aflatoxin-truck",
                    "us-ams-peanuts",
                ];
                self.revise("samplings", "sampling", 0, |one| {
                    one["plan"] = json!(plans.get(usize::from(*plan)).unwrap_or(&"SP-2"));
                    one["increments"] = json!(increments);
                })
                .await;
            }
            Goods::Customer(n) => {
                self.revise("customers", "customer", *n, |one| {
                    one["name"] = json!(format!("Hollow Mill {n}"));
                })
                .await;
            }
            Goods::Lot { mass, parties } => {
                let roles = ["seller", "buyer", "agent"]
                    .iter()
                    .take(usize::from(*parties));
                let parties: Vec<Value> = roles
                    .map(|role| {
                        json!({"customer": self.bench.buyer, "role": role, "sees": "results"})
                    })
                    .collect();
                self.revise("lots", "lot", 0, |one| {
                    one["mass_kg"] = json!(mass.to_string());
                    one["parties"] = json!(parties);
                })
                .await;
            }
            Goods::Sample { code, barcode } => {
                let sample = json!({"code": format!("X-{code}"), "purpose": "customer",
                    "lot": self.bench.lot, "commodity": "maize-grain", "mass_g": "1000",
                    "barcodes": barcodes(*barcode), "received_at": "2026-03-01T07:00:00Z"});
                self.taken(analyst.post("/samples", sample).await);
            }
            Goods::Barcode { sample, barcode } => {
                self.revise("samples", "sample", *sample, |one| {
                    one["barcodes"] = json!(barcodes(*barcode));
                })
                .await;
            }
        }
    }

    async fn runs(&self, step: &Runs) {
        let analyst = &self.bench.analyst;
        let reason = json!({"reason": because()});
        match step {
            Runs::Run {
                sample,
                minute,
                value,
            } => {
                let run = self.run(*sample, *minute, *value).await;
                self.taken(analyst.post("/runs", run).await);
            }
            Runs::Begin { minute } => {
                let mut run = self.run(0, *minute, 0).await;
                let members = run.as_object_mut().unwrap();
                members.remove("read_at");
                members.remove("readings");
                self.taken(analyst.post("/runs/begun", run).await);
            }
            Runs::Correct { run, value } => {
                let entry = self.run(*run, value / 2, *value).await;
                let body = json!({"run": entry, "reason": because()});
                self.act(analyst, "runs", *run, "correction", body).await;
            }
            Runs::Withdraw { run } => self.act(analyst, "runs", *run, "withdrawal", reason).await,
            Runs::Assign { run, sample } => {
                let sample = self.one_of("/samples", *sample).await.unwrap();
                let body = json!({"sample": sample["id"], "reason": because()});
                self.act(analyst, "runs", *run, "assignment", body).await;
            }
        }
    }

    async fn imports(&self, step: &Imports) {
        match step {
            Imports::Import { rows } => {
                let rows: Vec<String> = rows
                    .iter()
                    .map(|(minute, sample, value, another)| {
                        let sample =
                            ["S-1", "X-0", "X-1", "", "4006381333931", "X-9"][usize::from(*sample)];
                        let value = ["4.1", "5", "much", ">50"][usize::from(*value)];
                        let row = row(u32::from(minute * 10), sample, value);
                        if *another {
                            row.replace(";AFLA;", ";ZON;")
                        } else {
                            row
                        }
                    })
                    .collect();
                self.taken(import(&self.bench.analyst, &self.map, export(&rows)).await);
            }
            Imports::Mend { value } => {
                let Some(import) = self.one_of("/imports", 0).await else {
                    return;
                };
                let id = import["id"].as_str().unwrap();
                let rows = format!("/imports/{id}/rows?state=refused");
                let Some(refused) = self.one_of(&rows, *value).await else {
                    return;
                };
                let text = refused["text"].as_str().unwrap().replace(";much;", ";7;");
                let path = format!("/imports/{id}/rows/{}/mending", refused["line"]);
                self.taken(self.bench.analyst.post(&path, json!({"text": text})).await);
            }
        }
    }

    async fn judge(&self, step: &Judgement) {
        let reviewer = &self.bench.reviewer;
        match step {
            Judgement::Hold { run } => {
                if let Some(run) = self.one_of("/runs", *run).await {
                    let body = json!({"of": {"run": run["id"]}, "reason": "The strip was wet."});
                    self.taken(reviewer.post("/holds", body).await);
                }
            }
            Judgement::Accept { hold } => {
                let body = json!({"reason": "It was dry an hour later."});
                self.act(reviewer, "holds", *hold, "acceptance", body).await;
            }
            Judgement::Cancel { result } => {
                self.act(reviewer, "results", *result, "cancellation", json!({}))
                    .await;
            }
            Judgement::Compute { result } => {
                self.act(reviewer, "results", *result, "computation", json!({}))
                    .await;
            }
            Judgement::Release { sample } => {
                let sample = self.one_of("/samples", *sample).await.unwrap();
                let sample = sample["id"].as_str().unwrap();
                if versions(&shown(reviewer, sample).await) != json!([]) {
                    self.taken(release(reviewer, sample).await);
                }
            }
            Judgement::Recall => {
                let body = json!({"reason": because()});
                self.act(&self.quality, "kit-lots", 0, "recall", body).await;
            }
            Judgement::Password => {
                let same = crate::harness::callers::PASSWORD;
                let body = json!({"password": same, "new_password": same});
                self.taken(self.bench.analyst.put("/password", 1, body).await);
            }
        }
    }

    async fn take(&self, step: &Step) {
        match step {
            Step::Goods(step) => self.goods(step).await,
            Step::Runs(step) => self.runs(step).await,
            Step::Imports(step) => self.imports(step).await,
            Step::Judgement(step) => self.judge(step).await,
            Step::Certificates(step) => self.certify(step).await,
        }
    }
}

#[test]
fn random_histories_are_told_by_their_records() {
    let config = Config {
        cases: 3,
        max_shrink_iters: 24,
        failure_persistence: None,
        ..Config::default()
    };
    let histories = prop::collection::vec(step(), 20..50);
    TestRunner::new(config)
        .run(&histories, |steps| {
            actix_web::rt::System::new().block_on(async {
                let app = serve().await;
                let world = World::of(&app).await;
                for step in &steps {
                    world.take(step).await;
                }
                is_told_by_records(&app).await;
            });
            Ok(())
        })
        .unwrap();
}

#[actix_web::test]
async fn every_step_of_a_history_is_taken_where_it_may_be() {
    let app = serve().await;
    let world = World::of(&app).await;
    let row = |minute, sample, value, another| (minute, sample, value, another);
    // Lists are newest first: sample 0 is the newest one.
    let steps = [
        Step::Certificates(Certificates::Issue),
        Step::Judgement(Judgement::Release { sample: 1 }),
        Step::Certificates(Certificates::Issue),
        Step::Goods(Goods::Customer(1)),
        Step::Goods(Goods::Lot {
            mass: 7,
            parties: 2,
        }),
        Step::Goods(Goods::Sample {
            code: 0,
            barcode: 1,
        }),
        Step::Goods(Goods::Barcode {
            sample: 0,
            barcode: 2,
        }),
        Step::Goods(Goods::Barcode {
            sample: 2,
            barcode: 1,
        }),
        Step::Runs(Runs::Run {
            sample: 0,
            minute: 40,
            value: 9,
        }),
        Step::Runs(Runs::Correct { run: 0, value: 8 }),
        Step::Runs(Runs::Withdraw { run: 0 }),
        Step::Runs(Runs::Begin { minute: 9 }),
        Step::Imports(Imports::Import {
            rows: vec![
                row(4, 1, 0, false),
                row(2, 3, 1, false),
                row(3, 0, 2, false),
            ],
        }),
        // The newest run is the one without a sample; the mended row meets the diluted run.
        Step::Runs(Runs::Assign { run: 0, sample: 0 }),
        Step::Imports(Imports::Mend { value: 0 }),
        Step::Imports(Imports::Import {
            rows: vec![row(4, 1, 0, true), row(2, 3, 3, false)],
        }),
        Step::Judgement(Judgement::Hold { run: 0 }),
        Step::Judgement(Judgement::Compute { result: 0 }),
        Step::Certificates(Certificates::Investigate {
            certificate: 0,
            open: true,
        }),
        Step::Certificates(Certificates::Revoke { certificate: 0 }),
        Step::Judgement(Judgement::Recall),
        Step::Judgement(Judgement::Password),
    ];
    for step in &steps {
        world.take(step).await;
    }
    let answers = world.answers.borrow().clone();
    assert_eq!(answers.len(), steps.len(), "{answers:?}");
    let refused: Vec<_> = steps
        .iter()
        .zip(&answers)
        .skip(1)
        .filter(|(_, status)| **status >= 300)
        .collect();
    assert!(
        refused.is_empty() && answers[0] >= 400,
        "{refused:#?} {answers:?}"
    );
    is_told_by_records(&app).await;
}
