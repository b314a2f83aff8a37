//! Puts the slices together: one `configure` each, middleware in order.

use crate::{
    calculator, certificates,
    clock::Clock,
    column_maps,
    config::Config,
    control_charts, control_materials, corrections, customers,
    db::{self, Db},
    equipment, erasures,
    error::{Answer, ApiError},
    holds,
    identity::{self, LaboratoryKey, tokens::Tokens},
    imports, kit_lots, laboratories,
    ledger::{self, Keyring},
    limits, lots,
    openapi::{self, Document},
    orders, pages, preparations, procedures, readers, results, reviews, runs, samples, samplings,
    screening_validations,
    secrets::Seed,
    series, sites, vocabulary,
};
use actix_web::{
    App as ActixApp, HttpResponse, HttpServer, ResponseError as _,
    dev::Server,
    get,
    middleware::{Compress, NormalizePath},
    web,
};
use std::{
    collections::HashMap,
    net::TcpListener,
    sync::{PoisonError, RwLock},
};
use tracing_actix_web::TracingLogger;
use utoipa::OpenApi as _;
use utoipa_actix_web::AppExt as _;
use utoipa_swagger_ui::SwaggerUi;

/// What every handler may use.
pub struct App {
    /// The door to the database.
    pub db: Db,
    /// The clock.
    pub clock: Clock,
    /// Access tokens.
    pub tokens: Tokens,
    /// The settings.
    pub config: Config,
    /// Readings that wait to be recorded together.
    pub(crate) readings: runs::Gathering,
    laboratories: RwLock<HashMap<String, LaboratoryKey>>,
}

impl App {
    /// The service's state.
    ///
    /// # Errors
    /// [`ApiError::Internal`] where a key file cannot be used or a pool not be built.
    pub fn new(config: Config, clock: Clock) -> Answer<Self> {
        let encryption = Seed::from_file(&config.key_file).map_err(ApiError::internal)?;
        let token_seed = Seed::from_file(&config.token_key_file).map_err(ApiError::internal)?;
        Ok(Self {
            db: Db::new(&config, Keyring::new(encryption), clock)?,
            clock,
            tokens: Tokens::new(&config.public_url, &token_seed)?,
            config,
            readings: runs::Gathering::default(),
            laboratories: RwLock::default(),
        })
    }

    /// The laboratory with this name in addresses. What is found is kept: neither number, id nor
    /// name of a laboratory ever changes.
    ///
    /// # Errors
    /// [`ApiError::Unavailable`].
    pub async fn laboratory(&self, slug: &str) -> Answer<Option<LaboratoryKey>> {
        let known = self
            .laboratories
            .read()
            .unwrap_or_else(PoisonError::into_inner)
            .get(slug)
            .cloned();
        if known.is_some() {
            return Ok(known);
        }
        let mut connection = self.db.sign_in().await?;
        let found = identity::find_laboratory(&mut connection, slug).await?;
        if let Some(key) = &found {
            self.laboratories
                .write()
                .unwrap_or_else(PoisonError::into_inner)
                .insert(slug.to_owned(), key.clone());
        }
        Ok(found)
    }
}

/// Registers every operation of the API; what is not here is not in the document.
pub fn operations(config: &mut utoipa_actix_web::service_config::ServiceConfig) {
    config
        // Addresses are tried in this order, each by a regular expression: readings come first.
        .configure(runs::routes)
        .configure(certificates::routes)
        .configure(column_maps::routes)
        .configure(control_charts::routes)
        .configure(control_materials::routes)
        .configure(corrections::routes)
        .configure(customers::routes)
        .configure(equipment::routes)
        .configure(erasures::routes)
        .configure(holds::routes)
        .configure(identity::routes)
        .configure(imports::routes)
        .configure(kit_lots::routes)
        .configure(laboratories::routes)
        .configure(ledger::routes)
        .configure(limits::routes)
        .configure(lots::routes)
        .configure(orders::routes)
        .configure(preparations::routes)
        .configure(procedures::routes)
        .configure(readers::routes)
        .configure(results::routes)
        .configure(reviews::routes)
        .configure(samples::routes)
        .configure(samplings::routes)
        .configure(screening_validations::routes)
        .configure(series::routes)
        .configure(sites::routes)
        .configure(vocabulary::routes)
        .configure(calculator::routes);
}

/// The API document.
#[must_use]
pub fn document() -> utoipa::openapi::OpenApi {
    let (_, mut document) = ActixApp::new()
        .into_utoipa_app()
        .openapi(Document::openapi())
        .configure(operations)
        .split_for_parts();
    openapi::without_code(&mut document);
    document
}

#[get("/health")]
async fn health(app: web::Data<App>) -> Answer<HttpResponse> {
    db::ping(&app.db).await?;
    let log = ledger::health(&app);
    let status = if log.suspended.is_empty() {
        "ok"
    } else {
        "log-suspended"
    };
    Ok(HttpResponse::Ok().json(serde_json::json!({"status": status, "log": log})))
}

/// Serves until it is told to stop.
///
/// # Errors
/// Where the listener cannot be used.
pub fn serve(app: web::Data<App>, listener: TcpListener) -> std::io::Result<Server> {
    let metrics = actix_web_prom::PrometheusMetricsBuilder::new("assize")
        .endpoint("/metrics")
        .build()
        .map_err(std::io::Error::other)?;
    ledger::measure(&metrics.registry).map_err(std::io::Error::other)?;
    actix_web::rt::spawn(results::compute_what_is_due(app.clone()));
    if app.config.sequences {
        actix_web::rt::spawn(ledger::sequence(app.clone()));
    }
    actix_web::rt::spawn(erasures::replay_where_suspended(app.clone()));
    actix_web::rt::spawn(ledger::anchor(app.clone()));
    let server = HttpServer::new(move || {
        let (actix, mut document) = ActixApp::new()
            .into_utoipa_app()
            .openapi(Document::openapi())
            .configure(operations)
            .split_for_parts();
        openapi::without_code(&mut document);
        actix
            .app_data(app.clone())
            .app_data(query_refusal())
            .app_data(path_refusal())
            .service(health)
            .service(web::redirect("/docs", "/docs/index.html"))
            .service(SwaggerUi::new("/docs/{_:.*}").url("/openapi.json", document))
            .configure(pages::routes)
            .default_service(web::to(nothing_here))
            .wrap(metrics.clone())
            .wrap(Compress::default())
            .wrap(NormalizePath::trim())
            .wrap(TracingLogger::default())
    })
    .listen(listener)?
    .shutdown_timeout(10)
    .run();
    Ok(server)
}

/// What is answered where there is nothing: a page for people, a problem document for programs.
pub(crate) async fn nothing_here(request: actix_web::HttpRequest) -> pages::Page {
    let refusal = ApiError::NotFound(format!(
        "There is nothing at {} for {}. The API is described at /docs.",
        request.path(),
        request.method()
    ));
    if pages::wanted(&request) {
        return Err(refusal.into());
    }
    Ok(refusal.error_response())
}

fn path_refusal() -> web::PathConfig {
    web::PathConfig::default().error_handler(|error, _| {
        ApiError::NotFound(format!(
            "The address cannot be read: {error}. Look up how it is built at /docs."
        ))
        .into()
    })
}

fn query_refusal() -> web::QueryConfig {
    web::QueryConfig::default().error_handler(|error, _| {
        ApiError::Malformed(format!(
            "The query cannot be read: {error}. Look up its parameters at /docs."
        ))
        .into()
    })
}
