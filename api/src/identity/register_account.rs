//! Registers an account of a person.
//!
//! Refuses a password under twelve characters, and a login that somebody has.

use super::{Action, Actor, Lab, passwords, store};
use crate::{
    db::Created,
    error::{Answer, ApiError, Problem},
    ids,
    kept::Kept,
    request::{Data, Entered, Once, Valid},
};
use actix_web::{HttpResponse, post};
use domain::{accounts::Account, faults::Faults, time::Moment};
use serde::{Deserialize, Serialize};
use sha2::{Digest as _, Sha256};
use uuid::Uuid;

/// An account and its first password.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct RegisterAccount {
    /// The account.
    pub account: Account,
    /// The first password, 12 to 200 characters.
    #[schema(
        min_length = 12,
        max_length = 200,
        example = "a long sentence of my own"
    )]
    pub password: String,
}

impl Entered for RegisterAccount {
    fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        faults.nest("/account", self.account.check());
        faults.nest("", check_password("/password", &self.password));
        faults.into_result()
    }
}

/// Refuses a password that is too short or too long.
pub(super) fn check_password(pointer: &str, password: &str) -> Result<(), Faults> {
    let mut faults = Faults::default();
    faults.require(
        (12..=200).contains(&password.chars().count()),
        pointer,
        || "A password has 12 to 200 characters.".into(),
    );
    faults.into_result()
}

/// An account, as it is shown. No credentials.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct AccountView {
    /// The account.
    pub id: Uuid,
    /// Its version.
    pub version: i32,
    /// What it says.
    #[serde(flatten)]
    pub account: Account,
    /// When it was registered.
    pub created_at: Moment,
    /// When this version was recorded.
    pub changed_at: Moment,
}

impl From<Kept<Account>> for AccountView {
    fn from(kept: Kept<Account>) -> Self {
        Self {
            id: kept.id,
            version: kept.version,
            account: kept.content,
            created_at: kept.created_at,
            changed_at: kept.changed_at,
        }
    }
}

/// Register account
#[utoipa::path(tag = "accounts",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("Idempotency-Key" = String, Header, description = "A random value of your own, the same when you repeat the request")),
    request_body(content = RegisterAccount, example = json!({"account": {"login": "ines", "printed_name": "Inés Duarte", "roles": ["analyst"]}, "password": "a long sentence of my own"})),
    responses((status = 201, body = AccountView), (status = "4XX", body = Problem)))]
#[post("/v1/laboratories/{lab}/accounts")]
pub(super) async fn register_account(
    actor: Actor,
    lab: Lab,
    once: Once,
    body: Valid<RegisterAccount>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::RegisterAccount, &lab)?;
    let hash = passwords::hash_password(body.password.clone()).await?;
    let id: Uuid = ids::fresh();
    // The fingerprint is kept, so it must not be one of the password, which could be guessed by it.
    let told = serde_json::to_vec(&body.account).map_err(ApiError::internal)?;
    app.db
        .create(&permit, &once, Sha256::digest(&told).into(), async |tx| {
            let kept = Kept::first(tx, id, body.account.clone());
            store::insert_account(tx, &kept, &hash).await?;
            Ok(Created {
                location: format!("/v1/laboratories/{}/accounts/{id}", lab.slug()),
                version: kept.version,
                view: AccountView::from(kept),
            })
        })
        .await
}
