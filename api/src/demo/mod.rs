//! The demo laboratory: an invented grain laboratory at an invented harbour, with three customers,
//! forty lots and some two hundred runs.
//!
//! Loaded through the public API, as anybody's data would be: nothing here writes to the database
//! but the setting-up of the laboratory itself. Safe to start again after it was cut off: what is
//! there already is found again by its code. All names, values and dates are made up.

mod acceptance;
mod bench;
mod caller;
mod controls;
mod goods;
mod people;
mod runs;
mod story;
mod validations;

use crate::{
    app::App,
    error::{Answer, ApiError, chain},
    ids,
    laboratories::{SetUp, set_up},
};
use caller::Caller;
use domain::laboratories::Laboratory;

/// Name of the demo laboratory in addresses.
pub const SLUG: &str = "marram";

/// Who can sign in to the demo, for people to read.
pub struct Loaded {
    /// One line an account.
    pub accounts: String,
}

/// Sets up the demo laboratory where it is missing, and loads what it lacks through the service
/// at `url`.
///
/// # Errors
/// What the service refuses with, or [`ApiError::Unavailable`].
pub async fn load(app: &App, owner_url: &str, url: &str, password: &str) -> Answer<Loaded> {
    if app.laboratory(SLUG).await?.is_none() {
        set_up(
            app,
            owner_url,
            SetUp {
                laboratory: Laboratory {
                    slug: SLUG.into(),
                    name: "Marram Point Grain Laboratory".into(),
                    address: "Warehouse 4, Marram Point".into(),
                    telephone: Some("+00 555 0104".into()),
                    email: Some("desk@marram-point.example".into()),
                    time_zone: "Europe/Lisbon".into(),
                    certificate_prefix: "MP".into(),
                    signer_retention_years: None,
                    log_readers: Default::default(),
                },
                login: "olive".into(),
                printed_name: "Olive Tamm".into(),
                password: password.to_owned(),
            },
        )
        .await?;
    }
    let caller = Caller::sign_in(url, "olive", password).await?;
    let people = people::register(&caller, url, password).await?;
    let bench = bench::furnish(&people, app.clock.now()).await?;
    people::authorise(&caller, &people, &bench).await?;
    validations::validate(&people, &bench, app.clock.now()).await?;
    let goods = goods::receive(&people, &bench, app.clock.now()).await?;
    runs::run(&people, &bench, &goods, app.clock.now()).await?;
    acceptance::accept(&people, &bench, app.clock.now()).await?;
    story::tell(&people, &goods, password).await?;
    Ok(Loaded {
        accounts: people::list(password),
    })
}

/// A password that only this installation has.
///
/// # Errors
/// [`ApiError::Internal`] where there are no random bytes.
pub fn fresh_password() -> Answer<String> {
    let bytes = ids::random_bytes::<9>().map_err(ApiError::internal)?;
    let letters: String = bytes
        .iter()
        .flat_map(|byte| [byte >> 4, byte & 15])
        .filter_map(|part| char::from_digit(part.into(), 16))
        .collect();
    Ok(format!("marram-{letters}"))
}

/// Notes why something of the demo could not be made, and goes on: the rest is worth having.
pub(crate) fn note(what: &str, error: &ApiError) {
    tracing::warn!(
        what,
        cause = chain(error),
        "part of the demo could not be made"
    );
}
