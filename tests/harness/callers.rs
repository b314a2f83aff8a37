//! A laboratory that was set up, the server on port 0, and people who call it over HTTP.

#![expect(
    dead_code,
    reason = "callers offer every kind of request, whichever the slices of the day use"
)]

use super::database::{self, TestDatabase};
use actix_web::web;
use api::{
    app::{self, App},
    clock::Clock,
    config::Config,
    laboratories::{SetUp, set_up},
    migrations::migrate,
};
use domain::laboratories::Laboratory;
use reqwest::{Method, Response, StatusCode};
use serde_json::{Value, json};
use std::{
    net::TcpListener,
    path::PathBuf,
    sync::atomic::{AtomicU64, Ordering},
};

pub(crate) const LAB: &str = "quay";
pub(crate) const PASSWORD: &str = "a long sentence for tests";

/// A served laboratory.
pub(crate) struct TestApp {
    pub(crate) base: String,
    pub(crate) database: TestDatabase,
    pub(crate) state: web::Data<App>,
    administrator: Option<String>,
}

#[derive(diesel::QueryableByName)]
struct Number {
    #[diesel(sql_type = diesel::sql_types::BigInt)]
    number: i64,
}

#[derive(diesel::QueryableByName)]
struct OneText {
    #[diesel(sql_type = diesel::sql_types::Text)]
    text: String,
}

/// Somebody who calls, with or without a token.
#[derive(Clone)]
pub(crate) struct Caller {
    base: String,
    token: Option<String>,
    pub(crate) id: Option<String>,
    http: reqwest::Client,
}

/// What was answered.
pub(crate) struct Answered {
    pub(crate) status: StatusCode,
    pub(crate) etag: Option<String>,
    pub(crate) location: Option<String>,
    pub(crate) link: Option<String>,
    pub(crate) retry_after: Option<String>,
    pub(crate) body: Value,
}

static NEXT_KEY: AtomicU64 = AtomicU64::new(0);

pub(crate) fn fresh_key() -> String {
    format!("\"test-{}\"", NEXT_KEY.fetch_add(1, Ordering::Relaxed))
}

fn key_file(name: &str) -> PathBuf {
    use std::os::unix::fs::OpenOptionsExt as _;
    let path = std::env::temp_dir().join(format!("assize-test-{}-{name}", std::process::id()));
    if let Ok(mut file) = std::fs::OpenOptions::new()
        .write(true)
        .create_new(true)
        .mode(0o600)
        .open(&path)
    {
        use std::io::Write as _;
        file.write_all(&[b'7'; 64]).unwrap();
    }
    path
}

/// A directory of its own for what outlives the database.
pub(crate) fn state_directory() -> PathBuf {
    let number = NEXT_KEY.fetch_add(1, Ordering::Relaxed);
    let name = format!("assize-test-state-{}-{number}", std::process::id());
    std::env::temp_dir().join(name)
}

/// Serves a fresh laboratory named `quay`, with an administrator.
pub(crate) async fn serve() -> TestApp {
    serve_with(|_as_it_is| {}).await
}

/// Serves a fresh laboratory with other settings.
pub(crate) async fn serve_with(change: impl FnOnce(&mut Config)) -> TestApp {
    served(prepared_with(change).await).await
}

/// Serves a fresh laboratory on this database.
pub(crate) async fn serve_on(database: TestDatabase) -> TestApp {
    served(prepared_on(database, |_as_it_is| {}).await).await
}

async fn served(mut prepared: TestApp) -> TestApp {
    let listener = TcpListener::bind(prepared.state.config.listen).unwrap();
    let server = app::serve(prepared.state.clone(), listener).unwrap();
    tokio::spawn(server);
    prepared.administrator = prepared.sign_in("admin").await.token;
    prepared
}

/// Serves the same laboratory a second time, as a process on another host would.
pub(crate) async fn serve_again(app: &TestApp) -> TestApp {
    serve_again_at(app, Clock::default()).await
}

/// As [`serve_again`], by another clock.
pub(crate) async fn serve_again_at(app: &TestApp, clock: Clock) -> TestApp {
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let config = Config {
        listen: listener.local_addr().unwrap(),
        state_directory: state_directory(),
        ..app.state.config.clone()
    };
    let base = format!("http://{}", config.listen);
    let state = web::Data::new(App::new(config, clock).unwrap());
    api::ledger::check_standing(&state.db).await.unwrap();
    tokio::spawn(app::serve(state.clone(), listener).unwrap());
    TestApp {
        base,
        database: app.database.clone(),
        state,
        administrator: app.administrator.clone(),
    }
}

/// Sets up a fresh laboratory named `quay`, with an administrator, that nobody serves yet.
pub(crate) async fn prepared() -> TestApp {
    prepared_with(|_as_it_is| {}).await
}

async fn prepared_with(change: impl FnOnce(&mut Config)) -> TestApp {
    let database = database::fresh_database(async |url: String| {
        migrate(&url).await?;
        Ok(())
    })
    .await;
    prepared_on(database, change).await
}

async fn prepared_on(database: TestDatabase, change: impl FnOnce(&mut Config)) -> TestApp {
    let address = {
        let free = TcpListener::bind("127.0.0.1:0").unwrap();
        free.local_addr().unwrap()
    };
    let base = format!("http://{address}");
    let mut config = Config {
        database_url: database.service_url.clone(),
        migration_database_url: database.owner_url.clone(),
        listen: address,
        public_url: base.clone(),
        key_file: key_file("kek"),
        token_key_file: key_file("token"),
        pool_size: 8,
        state_directory: state_directory(),
        sequences: true,
        anchors: api::ledger::Anchors::default(),
        upload_limit_bytes: 8 << 20,
    };
    change(&mut config);
    let state = web::Data::new(App::new(config, Clock::default()).unwrap());
    set_up(
        &state,
        &database.owner_url,
        SetUp {
            laboratory: Laboratory {
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
        },
    )
    .await
    .unwrap();
    TestApp {
        base,
        database,
        state,
        administrator: None,
    }
}

impl TestApp {
    /// What a query for one number answers, past row-level security.
    pub(crate) async fn count(&self, query: &str) -> i64 {
        use diesel_async::{AsyncConnection as _, AsyncPgConnection, RunQueryDsl as _};
        let mut owner = AsyncPgConnection::establish(&self.database.owner_url)
            .await
            .unwrap();
        let row: Number = diesel::sql_query(format!("SELECT ({query})::bigint AS number"))
            .get_result(&mut owner)
            .await
            .unwrap();
        row.number
    }

    /// Runs statements as whoever has full power over the database.
    pub(crate) async fn run_as_owner(&self, statements: &str) {
        use diesel_async::{AsyncConnection as _, AsyncPgConnection, SimpleAsyncConnection as _};
        let mut owner = AsyncPgConnection::establish(&self.database.owner_url)
            .await
            .unwrap();
        owner.batch_execute(statements).await.unwrap();
    }

    /// Somebody without a token.
    pub(crate) fn anonymous(&self) -> Caller {
        Caller {
            base: self.base.clone(),
            token: None,
            id: None,
            http: reqwest::Client::new(),
        }
    }

    /// What a query for one text answers, past row-level security.
    pub(crate) async fn text(&self, query: &str) -> String {
        use diesel_async::{AsyncConnection as _, AsyncPgConnection, RunQueryDsl as _};
        let mut owner = AsyncPgConnection::establish(&self.database.owner_url)
            .await
            .unwrap();
        let row: OneText = diesel::sql_query(format!("SELECT ({query})::text AS text"))
            .get_result(&mut owner)
            .await
            .unwrap();
        row.text
    }

    /// The same laboratory and people, on a copy of the database, that nobody serves yet.
    pub(crate) fn on(&self, database: TestDatabase) -> Self {
        let config = Config {
            database_url: database.service_url.clone(),
            migration_database_url: database.owner_url.clone(),
            ..self.state.config.clone()
        };
        Self {
            base: self.base.clone(),
            state: web::Data::new(App::new(config, Clock::default()).unwrap()),
            database,
            administrator: self.administrator.clone(),
        }
    }

    /// Signs the administrator in, once somebody serves.
    pub(crate) async fn begin(&mut self) {
        self.administrator = self.sign_in("admin").await.token;
    }

    /// The administrator that the laboratory was set up with.
    pub(crate) fn administrator(&self) -> Caller {
        Caller {
            token: self.administrator.clone(),
            ..self.anonymous()
        }
    }

    /// An account of these roles, signed in; registered by the administrator if need be.
    pub(crate) async fn account(&self, login: &str, roles: &[&str]) -> Caller {
        let made = self
            .administrator()
            .post(
                "/accounts",
                json!({
                    "account": {"login": login, "printed_name": format!("Person {login}"), "roles": roles},
                    "password": PASSWORD,
                }),
            )
            .await;
        assert_eq!(made.status, StatusCode::CREATED, "{}", made.body);
        let mut caller = self.sign_in(login).await;
        caller.id = made.body["id"].as_str().map(Into::into);
        caller
    }

    /// An account of a customer, signed in.
    pub(crate) async fn account_of(&self, login: &str, customer: &str) -> Caller {
        let made = self
            .administrator()
            .post(
                "/accounts",
                json!({
                    "account": {"login": login, "printed_name": format!("Person {login}"),
                        "roles": ["customer"], "customer": customer},
                    "password": PASSWORD,
                }),
            )
            .await;
        assert_eq!(made.status, StatusCode::CREATED, "{}", made.body);
        self.sign_in(login).await
    }

    /// Somebody who runs strips.
    pub(crate) async fn analyst(&self) -> Caller {
        self.account("analyst", &["analyst"]).await
    }

    /// Somebody who signs as the second person.
    pub(crate) async fn reviewer(&self) -> Caller {
        self.account("reviewer", &["reviewer"]).await
    }

    /// Somebody who answers for limits, procedures and kit lots.
    pub(crate) async fn quality_manager(&self) -> Caller {
        self.account("quality", &["quality-manager"]).await
    }

    /// A service client.
    pub(crate) async fn integrator(&self) -> Caller {
        let made = self
            .administrator()
            .post("/clients", json!({"name": "Export of bench 2"}))
            .await;
        let token = self
            .anonymous()
            .post(
                "/tokens",
                json!({"client": made.body["id"], "secret": made.body["secret"]}),
            )
            .await;
        Caller {
            token: token.body["access_token"].as_str().map(Into::into),
            id: made.body["id"].as_str().map(Into::into),
            ..self.anonymous()
        }
    }

    /// Signs in with the password that all test accounts have.
    pub(crate) async fn sign_in(&self, login: &str) -> Caller {
        let answered = self
            .anonymous()
            .post("/tokens", json!({"login": login, "password": PASSWORD}))
            .await;
        assert_eq!(answered.status, StatusCode::OK, "{}", answered.body);
        Caller {
            token: answered.body["access_token"].as_str().map(Into::into),
            ..self.anonymous()
        }
    }
}

impl Caller {
    /// Its token; empty where it has none.
    pub(crate) fn token(&self) -> &str {
        self.token.as_deref().unwrap_or_default()
    }

    fn request(&self, method: Method, path: &str) -> reqwest::RequestBuilder {
        let url = if path.starts_with("/v1") || !path.starts_with('/') {
            format!("{}/{}", self.base, path.trim_start_matches('/'))
        } else {
            format!("{}/v1/laboratories/{LAB}{path}", self.base)
        };
        let mut request = self.http.request(method, url);
        if let Some(token) = &self.token {
            request = request.bearer_auth(token);
        }
        request
    }

    /// POST with a fresh idempotency key. Paths are relative to the laboratory.
    pub(crate) async fn post(&self, path: &str, body: Value) -> Answered {
        self.post_once(path, &fresh_key(), body).await
    }

    /// POST to a service that may die: the status, where it answered.
    pub(crate) async fn try_post(&self, path: &str, body: Value) -> Option<u16> {
        let request = self
            .request(Method::POST, path)
            .header("Idempotency-Key", fresh_key())
            .json(&body);
        Some(request.send().await.ok()?.status().as_u16())
    }

    /// POST with this idempotency key.
    pub(crate) async fn post_once(&self, path: &str, key: &str, body: Value) -> Answered {
        let request = self
            .request(Method::POST, path)
            .header("Idempotency-Key", key)
            .json(&body);
        answered(request.send().await.unwrap()).await
    }

    /// POST with this idempotency key: the status, where the connection held.
    pub(crate) async fn try_post_once(&self, path: &str, key: &str, body: &Value) -> Option<u16> {
        let request = self.request(Method::POST, path);
        let request = request.header("Idempotency-Key", key).json(body);
        Some(request.send().await.ok()?.status().as_u16())
    }

    /// POST with this idempotency key, the answer as it comes.
    pub(crate) async fn post_raw(&self, path: &str, key: &str, body: &Value) -> Response {
        let request = self.request(Method::POST, path);
        let request = request.header("Idempotency-Key", key).json(body);
        request.send().await.unwrap()
    }

    /// POST of bytes of this media type, with a fresh idempotency key.
    pub(crate) async fn post_bytes(&self, path: &str, media: &str, body: Vec<u8>) -> Answered {
        self.post_bytes_once(path, &fresh_key(), media, body).await
    }

    /// POST of bytes of this media type, with this idempotency key.
    pub(crate) async fn post_bytes_once(
        &self,
        path: &str,
        key: &str,
        media: &str,
        body: Vec<u8>,
    ) -> Answered {
        let request = self
            .request(Method::POST, path)
            .header("Idempotency-Key", key)
            .header("Content-Type", media)
            .body(body);
        answered(request.send().await.unwrap()).await
    }

    /// PUT, naming the version that was seen.
    pub(crate) async fn put(&self, path: &str, version: i64, body: Value) -> Answered {
        let request = self
            .request(Method::PUT, path)
            .header("If-Match", format!("\"{version}\""))
            .json(&body);
        answered(request.send().await.unwrap()).await
    }

    /// POST that acts on a version that was seen.
    pub(crate) async fn post_seen(&self, path: &str, version: i64, body: Value) -> Answered {
        let request = self
            .request(Method::POST, path)
            .header("Idempotency-Key", fresh_key())
            .header("If-Match", format!("\"{version}\""))
            .json(&body);
        answered(request.send().await.unwrap()).await
    }

    /// GET.
    pub(crate) async fn get(&self, path: &str) -> Answered {
        answered(self.request(Method::GET, path).send().await.unwrap()).await
    }

    /// GET, the answer's bytes as they come.
    pub(crate) async fn get_raw(&self, path: &str) -> Response {
        self.request(Method::GET, path).send().await.unwrap()
    }

    /// GET with a preference (RFC 7240), the answer as it comes.
    pub(crate) async fn get_preferring(&self, path: &str, preference: &str) -> Response {
        let request = self.request(Method::GET, path).header("Prefer", preference);
        request.send().await.unwrap()
    }

    /// A page, as this person's browser gets it: the status and the HTML.
    pub(crate) async fn page(&self, path: &str) -> (u16, String) {
        let answer = self.http.get(format!("{}/{LAB}/{path}", self.base));
        let answer = answer.header("Cookie", self.cookie()).send().await.unwrap();
        (answer.status().as_u16(), answer.text().await.unwrap())
    }

    /// A form, as this person's browser posts it from a page of `origin`: the status.
    pub(crate) async fn post_form(&self, path: &str, origin: &str, fields: &str) -> u16 {
        let answer = self
            .http
            .post(format!("{}/{LAB}/{path}", self.base))
            .header("Cookie", self.cookie())
            .header("Origin", origin)
            .header("Content-Type", "application/x-www-form-urlencoded")
            .body(fields.to_owned());
        answer.send().await.unwrap().status().as_u16()
    }

    fn cookie(&self) -> String {
        format!("assize={}", self.token.as_deref().unwrap_or_default())
    }

    /// Any method without body or headers: what a refusal test sends.
    pub(crate) async fn send(&self, method: Method, path: &str) -> Answered {
        answered(self.request(method, path).send().await.unwrap()).await
    }
}

impl Answered {
    /// The id of what was answered.
    pub(crate) fn id(&self) -> String {
        self.body["id"].as_str().unwrap_or_default().to_owned()
    }

    /// The last part of the problem's type.
    pub(crate) fn problem(&self) -> &str {
        self.body["type"]
            .as_str()
            .and_then(|kind| kind.strip_prefix("/problems/"))
            .unwrap_or_default()
    }

    /// The answer, where its status is the one that is due.
    #[track_caller]
    pub(crate) fn expect(self, status: u16) -> Self {
        assert_eq!(self.status.as_u16(), status, "{:#}", self.body);
        self
    }
}

async fn answered(response: Response) -> Answered {
    let header = |name: &str| {
        response
            .headers()
            .get(name)
            .and_then(|value| value.to_str().ok())
            .map(ToOwned::to_owned)
    };
    let (etag, location, link) = (header("etag"), header("location"), header("link"));
    let retry_after = header("retry-after");
    Answered {
        status: response.status(),
        etag,
        location,
        link,
        retry_after,
        body: serde_json::from_slice(&response.bytes().await.unwrap()).unwrap_or(Value::Null),
    }
}
