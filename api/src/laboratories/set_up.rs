//! Sets up a laboratory: its row, its keys, its first administrator.
//!
//! Refuses a name in addresses that is taken. Leaves nothing behind where it fails half-way.

use super::store;
use crate::{
    app::App,
    error::{Answer, ApiError},
    identity::{self, LaboratoryKey, Permit, Role},
    ids,
    kept::Kept,
    ledger,
};
use diesel_async::{AsyncConnection as _, AsyncPgConnection};
use domain::{
    accounts::{Account, AccountState},
    id::LaboratoryId,
    laboratories::Laboratory,
};

/// What is needed to set up a laboratory.
#[derive(Debug, Clone)]
pub struct SetUp {
    /// Its particulars.
    pub laboratory: Laboratory,
    /// Login of the first administrator.
    pub login: String,
    /// Their name.
    pub printed_name: String,
    /// Their password, 12 characters at least.
    pub password: String,
}

/// Sets up a laboratory, logging in as the owner of the tables.
///
/// # Errors
/// [`ApiError::Invalid`], [`ApiError::Duplicate`] or [`ApiError::Unavailable`].
pub async fn set_up(app: &App, owner_url: &str, wanted: SetUp) -> Answer<LaboratoryKey> {
    wanted.laboratory.check()?;
    let administrator = Account {
        login: wanted.login,
        printed_name: wanted.printed_name,
        email: None,
        roles: vec![Role::Administrator],
        authorisations: Vec::new(),
        customer: None,
        state: AccountState::Active,
    };
    administrator.check()?;
    if wanted.password.chars().count() < 12 {
        return Err(ApiError::field(
            "/password",
            "A password has 12 to 200 characters.",
        ));
    }
    if app.laboratory(&wanted.laboratory.slug).await?.is_some() {
        return Err(ApiError::Duplicate(format!(
            "There is a laboratory \"{}\" already. Choose another name.",
            wanted.laboratory.slug
        )));
    }
    let hash = identity::hash_password(wanted.password).await?;
    let mut owner = AsyncPgConnection::establish(owner_url)
        .await
        .map_err(|error| ApiError::Unavailable(error.into()))?;
    let id: LaboratoryId = ids::fresh();
    let now = app.clock.now();
    let number = store::insert(&mut owner, id.0, &wanted.laboratory, now.utc()).await?;
    let key = LaboratoryKey {
        number,
        id,
        slug: wanted.laboratory.slug.clone(),
    };
    let permit = Permit::process(key.clone(), "set-up", "create-laboratory");
    let recorded = app
        .db
        .write(&permit, async |tx| {
            store::date(tx).await?;
            Kept::first(tx, id.0, wanted.laboratory.clone()).record(tx)?;
            ledger::announce_keys(tx, app.db.keyring()).await?;
            ledger::begin_first_log(tx, &app.config.public_url).await?;
            let account = Kept::first(tx, ids::fresh(), administrator.clone());
            identity::insert_account(tx, &account, &hash).await
        })
        .await;
    if let Err(error) = recorded {
        store::remove(&mut owner, number).await?;
        return Err(error);
    }
    Ok(key)
}
