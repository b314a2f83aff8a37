//! Parties outside: a small witness and a time-stamping authority on loopback, both of which may be
//! out of reach.

use super::log::{log_of, logged};
use super::trust_file::trust_file;
use crate::{
    certificates::{bench, bytes, link},
    harness::callers::{TestApp, serve_with},
    reviews::release,
};
use actix_web::{App, HttpResponse, HttpServer, web};
use api::ledger::{Anchors, TimeStampingAuthority, WitnessAt, roots};
use base64::{Engine as _, engine::general_purpose::STANDARD};
use domain::ledger::{
    Hash, SecretKey,
    checkpoint::Checkpoint,
    note::{KeyUse, Note, VerifierKey, cosignature_line},
    report::Status,
    timestamp, tree, verify_bundle,
    witness::Policy,
};
use serde_json::{Value, json};
use std::{
    collections::HashMap,
    path::PathBuf,
    process::Command,
    sync::{
        Mutex,
        atomic::{AtomicBool, AtomicU32, Ordering},
    },
    time::{Duration, Instant},
};

const WITNESS: &str = "witness.example/quay";

/// A witness by C2SP tlog-witness, which trusts whichever log comes first.
struct Witness {
    key: SecretKey,
    seen: Mutex<HashMap<String, (u64, Hash)>>,
    is_down: AtomicBool,
    asked: AtomicU32,
}

async fn add_checkpoint(witness: web::Data<Witness>, body: String) -> HttpResponse {
    witness.asked.fetch_add(1, Ordering::Relaxed);
    if witness.is_down.load(Ordering::Relaxed) {
        return HttpResponse::ServiceUnavailable().finish();
    }
    let (head, note) = body.split_once("\n\n").unwrap();
    let mut lines = head.lines();
    let old: u64 = lines
        .next()
        .unwrap()
        .strip_prefix("old ")
        .unwrap()
        .parse()
        .unwrap();
    let proof: Vec<Hash> = lines
        .map(|line| Hash::from_slice(&STANDARD.decode(line).unwrap()).unwrap())
        .collect();
    let text = Note::parse(note).unwrap().text().to_owned();
    let new = Checkpoint::parse(&text).unwrap();
    let mut seen = witness.seen.lock().unwrap();
    let (size, root) = seen
        .get(&new.origin)
        .copied()
        .unwrap_or((0, tree::root(&[])));
    if old != size {
        return HttpResponse::Conflict()
            .content_type("text/x.tlog.size")
            .body(format!("{size}\n"));
    }
    let holds = if old == 0 {
        proof.is_empty()
    } else {
        tree::verify_consistency(old, new.size, &root, &new.root, &proof).is_ok()
    };
    if !holds {
        return HttpResponse::UnprocessableEntity().finish();
    }
    seen.insert(new.origin.clone(), (new.size, new.root));
    HttpResponse::Ok().body(cosignature_line(&text, 1_772_352_000, WITNESS, &witness.key).unwrap())
}

fn witness(is_down: bool) -> (web::Data<Witness>, VerifierKey) {
    let witness = web::Data::new(Witness {
        key: SecretKey::from_seed(&[7; 32]),
        seen: Mutex::default(),
        is_down: AtomicBool::new(is_down),
        asked: AtomicU32::new(0),
    });
    let public = witness.key.public().clone();
    let key = VerifierKey::new(WITNESS, KeyUse::Cosignature, public).unwrap();
    (witness, key)
}

/// The policy of whoever wants the witness's word.
fn policy(key: &VerifierKey) -> String {
    format!("witness quay {key}\nquorum quay\n")
}

/// Starts the witness and asks it.
fn asking(witness: &web::Data<Witness>, key: &VerifierKey) -> Anchors {
    Anchors {
        witnesses: vec![WitnessAt {
            key: key.clone(),
            url: start(witness),
        }],
        policy: Some(Policy::parse(&policy(key)).unwrap()),
        authority: None,
    }
}

/// Starts the witness; its address.
fn start(witness: &web::Data<Witness>) -> String {
    let witness = witness.clone();
    let server = HttpServer::new(move || {
        App::new()
            .app_data(witness.clone())
            .route("/add-checkpoint", web::post().to(add_checkpoint))
    })
    .workers(1)
    .bind("127.0.0.1:0")
    .unwrap();
    let address = server.addrs()[0];
    tokio::spawn(server.run());
    format!("http://{address}")
}

async fn register(app: &TestApp, code: &str) {
    let quality = app.sign_in("admin").await;
    let site = json!({"code": code, "name": "Gate", "time_zone": "Europe/Lisbon"});
    quality.post("/sites", site).await.expect(201);
}

/// Waits until a query counts at least so many.
async fn wait_for(app: &TestApp, query: &str, least: i64) {
    let begun = Instant::now();
    while app.count(query).await < least {
        assert!(begun.elapsed() < Duration::from_secs(20), "{query}");
        tokio::time::sleep(Duration::from_millis(50)).await;
    }
}

const COSIGNED: &str = "SELECT count(*) FROM ledger_anchor WHERE kind = 'cosignature' \
    AND size = (SELECT max(size) FROM ledger_checkpoint)";

#[actix_web::test]
async fn a_witness_cosigns_what_goes_on_and_delays_nothing_when_it_is_down() {
    let (witness, key) = witness(false);
    let app = serve_with(|config| config.anchors = asking(&witness, &key)).await;
    logged(&app).await;
    wait_for(&app, COSIGNED, 1).await;

    // Down: the log goes on without it.
    witness.is_down.store(true, Ordering::Relaxed);
    let asked = witness.asked.load(Ordering::Relaxed);
    register(&app, "S1").await;
    let analyst = app.analyst().await;
    let log = logged(&app).await;
    log.check();
    let begun = Instant::now();
    while witness.asked.load(Ordering::Relaxed) == asked {
        assert!(
            begun.elapsed() < Duration::from_secs(10),
            "it was not asked"
        );
        tokio::time::sleep(Duration::from_millis(50)).await;
    }
    assert_eq!(app.count(COSIGNED).await, 0);

    // Back, but it forgot what the service remembers: it says how far it is, and is asked again.
    witness.seen.lock().unwrap().clear();
    witness.is_down.store(false, Ordering::Relaxed);
    wait_for(&app, COSIGNED, 1).await;
    let log = log_of(&app).await;
    let (size, note) = log.checkpoints.last().unwrap();
    let lines = app
        .text(&format!(
            "SELECT convert_from(content, 'UTF8') FROM ledger_anchor WHERE size = {size}"
        ))
        .await;
    let whole = format!("{note}{lines}");
    let verified = Note::parse(&whole).unwrap().verify(&[&key]).unwrap();
    assert_eq!(verified.len(), 1);
    // Whoever follows the log is handed the witness's line with the checkpoint.
    let id = app.state.laboratory("quay").await.unwrap().unwrap().id;
    let path = format!("log/{id}/1/checkpoint");
    let served = analyst.get_raw(&path).await.text().await.unwrap();
    assert_eq!(served, whole);
}

#[actix_web::test]
async fn a_certificate_carries_what_witnesses_said_once_they_said_it_and_waits_for_none() {
    let (witness, key) = witness(true);
    let app = serve_with(|config| config.anchors = asking(&witness, &key)).await;
    let bench = bench(&app).await;
    release(&bench.reviewer, &bench.sample).await.expect(201);
    let order = bench.order().await;
    let issued = bench.reviewer.post("/certificates", order).await;
    let link = link(&issued.expect(201), "bundle");
    let mut strict: Value = serde_json::from_slice(&trust_file(&app).await).unwrap();
    let plain = serde_json::to_vec(&strict).unwrap();
    strict["witnesses"] = json!(policy(&key));
    let strict = serde_json::to_vec(&strict).unwrap();

    // The witness is down: the bundle is there all the same, for whoever does not ask for it.
    let before = bytes(&bench.analyst, &link).await;
    let report = verify_bundle(&before, Some(&plain));
    assert_eq!(report.status(), Status::Verified, "{report}");
    let report = verify_bundle(&before, Some(&strict));
    assert_eq!(report.status(), Status::Failed, "{report}");
    let kept = "SELECT count(*) FROM certificates_document WHERE proof IS NOT NULL";
    assert_eq!(app.count(kept).await, 0, "a better proof may come");

    witness.is_down.store(false, Ordering::Relaxed);
    wait_for(&app, COSIGNED, 1).await;
    let after = bytes(&bench.analyst, &link).await;
    let report = verify_bundle(&after, Some(&strict));
    assert_eq!(report.status(), Status::Verified, "{report}");
    let report = verify_bundle(&after, Some(&plain));
    assert_eq!(report.status(), Status::Verified, "{report}");
    assert_eq!(app.count(kept).await, 1);

    // From then on it is the same, whatever the witness says of later checkpoints.
    register(&app, "S9").await;
    let size = app.count("SELECT max(size) FROM ledger_checkpoint").await;
    wait_for(&app, "SELECT max(size) FROM ledger_checkpoint", size + 1).await;
    wait_for(&app, COSIGNED, 1).await;
    assert_eq!(bytes(&bench.analyst, &link).await, after);
}

/// An authority whose stamps are made by the `openssl` program.
struct Authority(PathBuf);

fn openssl(room: &PathBuf, arguments: &str) {
    let done = Command::new("openssl")
        .args(arguments.split(' '))
        .current_dir(room)
        .output()
        .map_err(|error| format!("this test needs the program openssl: {error}"))
        .unwrap();
    assert!(
        done.status.success(),
        "{arguments}: {}",
        String::from_utf8_lossy(&done.stderr)
    );
}

impl Authority {
    fn new() -> Self {
        let name = format!("assize-test-authority-{}", std::process::id());
        let room = std::env::temp_dir().join(name);
        std::fs::create_dir_all(&room).unwrap();
        let settings = "[ca]\nbasicConstraints=critical,CA:true\n\
            [tsa]\nextendedKeyUsage=critical,timeStamping\n\
            [tsa_config]\ndir=.\nserial=./serial\ncrypto_device=builtin\nsigner_cert=./tsa.pem\n\
            certs=./root.pem\nsigner_key=./tsa.key\nsigner_digest=sha256\n\
            default_policy=1.3.6.1.4.1.99999.1.1\ndigests=sha256\naccuracy=secs:1\n\
            ess_cert_id_alg=sha256\n[ts]\ndefault_tsa=tsa_config\n[req]\ndistinguished_name=dn\n[dn]\n";
        std::fs::write(room.join("openssl.cnf"), settings).unwrap();
        std::fs::write(room.join("serial"), "01").unwrap();
        let curve = "-pkeyopt ec_paramgen_curve:P-256";
        openssl(
            &room,
            &format!(
                "req -x509 -newkey ec {curve} -nodes -keyout root.key -out root.pem -days 30 -subj /CN=Root -config openssl.cnf -extensions ca"
            ),
        );
        openssl(
            &room,
            &format!(
                "req -newkey ec {curve} -nodes -keyout tsa.key -out tsa.csr -subj /CN=Stamps -config openssl.cnf"
            ),
        );
        openssl(
            &room,
            "x509 -req -in tsa.csr -CA root.pem -CAkey root.key -CAcreateserial -out tsa.pem -days 30 -extfile openssl.cnf -extensions tsa",
        );
        Self(room)
    }
}

async fn reply(authority: web::Data<Authority>, body: web::Bytes) -> HttpResponse {
    let room = &authority.0;
    std::fs::write(room.join("query"), &body).unwrap();
    openssl(
        room,
        "ts -reply -config openssl.cnf -section tsa_config -queryfile query -out reply",
    );
    HttpResponse::Ok()
        .content_type("application/timestamp-reply")
        .body(std::fs::read(room.join("reply")).unwrap())
}

#[actix_web::test]
async fn an_authority_stamps_a_checkpoint_and_a_false_root_is_not_believed() {
    let authority = web::Data::new(Authority::new());
    let served = authority.clone();
    let server = HttpServer::new(move || {
        App::new()
            .app_data(served.clone())
            .route("/", web::post().to(reply))
    })
    .workers(1)
    .bind("127.0.0.1:0")
    .unwrap();
    let url = format!("http://{}/", server.addrs()[0]);
    tokio::spawn(server.run());
    let trusted = roots(&authority.0.join("root.pem")).unwrap();
    // The signer's own certificate is no root of it.
    let wrong = roots(&authority.0.join("tsa.pem")).unwrap();
    for (roots, least) in [(trusted.clone(), 1), (wrong, 0)] {
        let app = serve_with(|config| {
            config.anchors.authority = Some(TimeStampingAuthority {
                url: url.clone(),
                roots,
                interval_s: 0,
            });
        })
        .await;
        logged(&app).await;
        if least == 0 {
            tokio::time::sleep(Duration::from_secs(3)).await;
            assert_eq!(app.count("SELECT count(*) FROM ledger_anchor").await, 0);
            continue;
        }
        wait_for(&app, "SELECT count(*) FROM ledger_anchor", least).await;
        let row = "FROM ledger_anchor ORDER BY size DESC LIMIT 1";
        let size: u64 = app
            .count(&format!("SELECT size {row}"))
            .await
            .try_into()
            .unwrap();
        let hex = |text: String| -> Vec<u8> {
            text.as_bytes()
                .chunks(2)
                .map(|two| u8::from_str_radix(std::str::from_utf8(two).unwrap(), 16).unwrap())
                .collect()
        };
        let query = hex(app
            .text(&format!("SELECT encode(query, 'hex') {row}"))
            .await);
        let answer = hex(app
            .text(&format!("SELECT encode(content, 'hex') {row}"))
            .await);
        let log = log_of(&app).await;
        let (_, note) = log.checkpoints.iter().find(|one| one.0 == size).unwrap();
        let stamp = timestamp::verify(&query, note.as_bytes(), &answer, &trusted).unwrap();
        assert_eq!(stamp.policy, "1.3.6.1.4.1.99999.1.1");
        assert_eq!(stamp.accuracy_us, Some(1_000_000));
    }
}
