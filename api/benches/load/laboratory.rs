//! The laboratory that is measured: set up once, its people, bench and samples made through the
//! API, and copied for each round.

use crate::{
    cluster::Failure,
    copies,
    database::{self, Databases},
    export,
    http::Caller,
    service::{LAB, PASSWORD, Room, Service, in_lab},
};
use api::{
    app::App,
    clock::Clock,
    config::Config,
    laboratories::{SetUp, set_up},
    migrations::migrate,
};
use futures_util::future::try_join_all;
use serde_json::{Value, json};

/// The database that rounds are copied from.
pub(crate) const BASE: &str = "base";

/// Samples are registered over so many connections.
const HANDS: u32 = 16;

/// What rounds have to know of the laboratory.
#[derive(Debug, Default)]
pub(crate) struct Laboratory {
    /// Account of who runs strips.
    pub(crate) analyst: String,
    /// The column map that the export is read by.
    pub(crate) column_map: String,
    /// The kit lot.
    pub(crate) kit_lot: String,
    /// The reader, of three ports.
    pub(crate) reader: String,
    /// The procedure.
    pub(crate) procedure: String,
    /// Samples, by number; sample 0 has the code `S-0`.
    pub(crate) samples: Vec<String>,
}

/// Makes the laboratory in the base database; nothing is connected to it afterwards.
pub(crate) async fn build(
    databases: &Databases,
    room: &Room,
    samples: u32,
) -> Result<Laboratory, Failure> {
    databases.make(BASE, None, false).await?;
    let url = databases.url(BASE)?;
    migrate(&url).await?;
    found(&url, room).await?;
    let service = Service::start(&url, room).await?;
    let mut laboratory = furnish(&service).await?;
    let analyst = service.sign_in("analyst").await?;
    let lot = goods(&analyst).await?;
    laboratory.samples = register(&analyst, &lot, samples).await?;
    service.stop()?;
    vacuum(databases).await?;
    Ok(laboratory)
}

/// Leaves the tables as a server that has been running leaves them. Empty tables are left alone:
/// nothing vacuums those, and PostgreSQL plans for tables that were vacuumed empty as if they
/// would stay so.
async fn vacuum(databases: &Databases) -> Result<(), Failure> {
    let mut owner = databases.connect(BASE).await?;
    for table in copies::tables(&mut owner).await? {
        let query = format!("SELECT count(*) AS value FROM (SELECT FROM {table} LIMIT 1) AS one");
        if database::number(&mut owner, &query).await? > 0 {
            database::run(&mut owner, &format!("VACUUM ANALYZE {table}")).await?;
        }
    }
    Ok(())
}

/// Sets up the laboratory, as `assize set-up` does.
async fn found(url: &str, room: &Room) -> Result<(), Failure> {
    let config = Config {
        database_url: url.to_owned(),
        migration_database_url: url.to_owned(),
        listen: ([127, 0, 0, 1], 0).into(),
        public_url: "http://127.0.0.1".into(),
        key_file: room.path("kek"),
        token_key_file: room.path("token"),
        pool_size: 1,
        state_directory: room.path("set-up"),
        sequences: false,
        anchors: api::ledger::Anchors::default(),
        upload_limit_bytes: 64 << 20,
    };
    let app = App::new(config, Clock::default())?;
    let wanted = SetUp {
        laboratory: domain::laboratories::Laboratory {
            slug: LAB.into(),
            name: "Quay Grain Laboratory".into(),
            address: "3 Quay Street".into(),
            telephone: None,
            email: None,
            time_zone: "Europe/Lisbon".into(),
            certificate_prefix: "Q".into(),
            signer_retention_years: None,
            log_readers: Default::default(),
        },
        login: "admin".into(),
        printed_name: "Ana Faria".into(),
        password: PASSWORD.into(),
    };
    set_up(&app, url, wanted).await?;
    Ok(())
}

/// People, procedure, kit lot, reader, limit and column map.
async fn furnish(service: &Service) -> Result<Laboratory, Failure> {
    let admin = service.sign_in("admin").await?;
    account(&admin, "quality", "quality-manager").await?;
    let analyst = account(&admin, "analyst", "analyst").await?;
    let quality = service.sign_in("quality").await?;
    let procedure = quality.create(&in_lab("/procedures"), &procedure()).await?;
    let path = in_lab(&format!("/procedures/{procedure}/adoption"));
    quality
        .send("POST", &path, Some(1), &json!({}), 200)
        .await?;
    let kit_lot = json!({"code": "AF-118", "name": "Aflatoxin strips",
        "analytes": [{"analyte": "aflatoxin-total", "upper": "50"}], "curve_lot": "C-118",
        "matrices": ["maize"], "expires_on": "2099-12-31", "procedure": procedure,
        "receipts": [{"received_on": "2026-01-02", "tests": 1_000_000, "storage_kept": true}]});
    let kit_lot = quality.create(&in_lab("/kit-lots"), &kit_lot).await?;
    let path = in_lab(&format!("/kit-lots/{kit_lot}/acceptance"));
    quality
        .send("POST", &path, Some(1), &json!({}), 200)
        .await?;
    let site = json!({"code": "GATE", "name": "River gate", "time_zone": "Europe/Lisbon"});
    let site = quality.create(&in_lab("/sites"), &site).await?;
    let reader = json!({"serial": "R-1", "name": "Reader of bay 1", "ports": 3, "site": site,
        "curves": [{"curve_lot": "C-118", "loaded_at": "2026-01-03T08:00:00Z"}]});
    let reader = quality.create(&in_lab("/readers"), &reader).await?;
    let adoption = json!({"date": "2026-01-05", "reading": "Read in the policy guide."});
    let path = in_lab("/limits/us-food-general-afla/adoption");
    quality.send("POST", &path, None, &adoption, 200).await?;
    authorise(&admin, &analyst, &procedure).await?;
    let map = export::map(&analyst);
    let column_map = quality.create(&in_lab("/column-maps"), &map).await?;
    Ok(Laboratory {
        analyst,
        column_map,
        kit_lot,
        reader,
        procedure,
        samples: Vec::new(),
    })
}

async fn account(admin: &Caller, login: &str, role: &str) -> Result<String, Failure> {
    let account = json!({
        "account": {"login": login, "printed_name": format!("Person {login}"), "roles": [role]},
        "password": PASSWORD,
    });
    admin.create(&in_lab("/accounts"), &account).await
}

fn procedure() -> Value {
    json!({"code": "P-AF", "title": "Aflatoxins by strip", "kit_instructions_revision": "C",
        "effective_from": "2020-01-01", "commodities": ["maize-grain"],
        "analytes": [{"analyte": "aflatoxin-total", "lod": "1", "loq": "2", "upper": "50"}],
        "dilutions": [{"steps": [{"sample_volume_ul": "100", "diluent_volume_ul": "500",
            "diluent": "water"}]}],
        "precision": {"constant": "0.6", "proportional": "0.08"},
        "rounding": {"to": "places", "of": 1, "tie": "half-even"}})
}

async fn authorise(admin: &Caller, analyst: &str, procedure: &str) -> Result<(), Failure> {
    let account = json!({"login": "analyst", "printed_name": "Person analyst",
        "roles": ["analyst"],
        "authorisations": [{"procedure": procedure, "from": "2020-01-01"}]});
    let reason = json!({"code": "late-information", "text": "Competence was shown."});
    let body = json!({"account": account, "reason": reason});
    let path = in_lab(&format!("/accounts/{analyst}"));
    admin.send("PUT", &path, Some(1), &body, 200).await?;
    Ok(())
}

/// A customer's order and lot.
async fn goods(analyst: &Caller) -> Result<String, Failure> {
    let customer = json!({"code": "MILL", "name": "Hollow Mill Ltd"});
    let customer = analyst.create(&in_lab("/customers"), &customer).await?;
    let order = json!({"code": "O-1", "customer": customer, "received_on": "2026-02-27",
        "analytes": [{"analyte": "aflatoxin-total"}], "uses": ["food"], "jurisdictions": ["US"]});
    let order = analyst.create(&in_lab("/orders"), &order).await?;
    let lot = json!({"code": "L-1", "customer": customer, "order": order,
        "commodity": "maize-grain", "mass_kg": "24000", "arrived_on": "2026-03-01",
        "intended_uses": ["food"], "jurisdictions": ["US"]});
    analyst.create(&in_lab("/lots"), &lot).await
}

/// Registers samples over several connections, each taking its turn.
async fn register(analyst: &Caller, lot: &str, samples: u32) -> Result<Vec<String>, Failure> {
    let hands = (0..HANDS).map(|hand| register_some(analyst, lot, (hand..samples).step_by(16)));
    let mut made: Vec<(u32, String)> = try_join_all(hands).await?.into_iter().flatten().collect();
    made.sort_unstable();
    Ok(made.into_iter().map(|(_, id)| id).collect())
}

async fn register_some(
    analyst: &Caller,
    lot: &str,
    numbers: impl Iterator<Item = u32>,
) -> Result<Vec<(u32, String)>, Failure> {
    let mut connection = analyst.connect().await?;
    let path = in_lab("/samples");
    let mut made = Vec::new();
    for number in numbers {
        let sample = json!({"code": format!("S-{number}"), "purpose": "customer", "lot": lot,
            "commodity": "maize-grain", "mass_g": "1000",
            "received_at": "2026-03-01T07:00:00Z"});
        let answer = connection
            .send(
                "POST",
                &path,
                "application/json",
                "",
                sample.to_string().as_bytes(),
            )
            .await?
            .due(201, &path)?;
        let id = answer.get("id").and_then(Value::as_str).unwrap_or_default();
        made.push((number, id.to_owned()));
    }
    Ok(made)
}
