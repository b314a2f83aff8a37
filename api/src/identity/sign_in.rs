//! Signs in: login and password, or client and secret, for a token of fifteen minutes.
//!
//! Refuses without saying which of the two was wrong. Each attempt at an account that exists leaves
//! a record.

use super::{
    LaboratoryKey, Role,
    attempts::{GivenFor, attempt},
    passwords, store,
    tokens::{self, TOKEN_LIFE_S},
};
use crate::{
    app::App,
    error::{Answer, ApiError, Problem},
    request::{Data, Entered, Valid},
};
use actix_web::{HttpResponse, post, web};
use domain::{accounts::Account, faults::Faults};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

/// What is given to sign in: login and password, or client and secret.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct SignIn {
    /// Login of a person.
    #[schema(example = "ines")]
    pub login: Option<String>,
    /// The person's password.
    #[schema(example = "a long sentence of my own")]
    pub password: Option<String>,
    /// Id of a service client.
    pub client: Option<Uuid>,
    /// The client's secret.
    pub secret: Option<String>,
}

impl Entered for SignIn {
    fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        let person = self.login.is_some() && self.password.is_some();
        let client = self.client.is_some() && self.secret.is_some();
        faults.require(person != client, "", || {
            "Give login and password, or client and secret.".into()
        });
        faults.into_result()
    }
}

/// A token.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct TokenView {
    /// The token, for the header `Authorization: Bearer <token>`.
    pub access_token: String,
    /// Always `Bearer`.
    #[schema(example = "Bearer")]
    pub token_type: &'static str,
    /// Seconds for which it is good.
    #[schema(example = 900)]
    pub expires_in: i64,
}

/// Sign in
#[utoipa::path(tag = "accounts", security(()),
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses")),
    request_body(content = SignIn, example = json!({"login": "ines", "password": "a long sentence of my own"})),
    responses((status = 200, body = TokenView), (status = "4XX", body = Problem)))]
#[post("/v1/laboratories/{lab}/tokens")]
pub(super) async fn sign_in(
    lab: web::Path<String>,
    body: Valid<SignIn>,
    app: Data,
) -> Answer<HttpResponse> {
    let access_token = token_for(&app, &lab, &body).await?;
    Ok(HttpResponse::Ok().json(TokenView {
        access_token,
        token_type: "Bearer",
        expires_in: TOKEN_LIFE_S,
    }))
}

/// Checks credentials and issues a token.
///
/// # Errors
/// [`ApiError::Unauthenticated`], or [`ApiError::TooManyAttempts`].
pub(crate) async fn token_for(app: &App, slug: &str, given: &SignIn) -> Answer<String> {
    let Some(laboratory) = app.laboratory(slug).await? else {
        return Err(refusal());
    };
    let subject = match (&given.login, &given.password, given.client, &given.secret) {
        (Some(login), Some(password), _, _) => person(app, &laboratory, login, password).await?,
        (_, _, Some(id), Some(secret)) => client(app, &laboratory, id, secret).await?,
        _ => return Err(refusal()),
    };
    app.tokens.issue(subject, app.clock.now())
}

fn refusal() -> ApiError {
    ApiError::Unauthenticated(
        "Laboratory, login and password do not go together. Try again, or ask the administrator."
            .into(),
    )
}

async fn person(
    app: &App,
    laboratory: &LaboratoryKey,
    login: &str,
    password: &str,
) -> Answer<tokens::Subject> {
    let found = {
        let mut connection = app.db.sign_in().await?;
        store::credentials_of_account(&mut connection, laboratory.number, login).await?
    };
    let Some(found) = found else {
        // As slow as a wrong password, so that the time does not tell which logins exist.
        passwords::hash_password(password.to_owned()).await?;
        return Err(refusal());
    };
    let good = attempt(app, laboratory, &found, password, GivenFor::SignIn).await?;
    if !good {
        return Err(refusal());
    }
    let account: Account = serde_json::from_value(found.content).map_err(ApiError::internal)?;
    Ok(tokens::Subject {
        id: found.id,
        laboratory: laboratory.id.0,
        slug: laboratory.slug.clone(),
        client: false,
        customer: account.customer.map(|customer| customer.0),
        roles: account.roles,
    })
}

async fn client(
    app: &App,
    laboratory: &LaboratoryKey,
    id: Uuid,
    secret: &str,
) -> Answer<tokens::Subject> {
    let found = {
        let mut connection = app.db.sign_in().await?;
        store::credentials_of_client(&mut connection, laboratory.number, id).await?
    };
    let Some(found) = found else {
        passwords::hash_password(secret.to_owned()).await?;
        return Err(refusal());
    };
    if !passwords::matches(found.hash, secret.to_owned()).await? {
        return Err(refusal());
    }
    Ok(tokens::Subject {
        id: found.id,
        laboratory: laboratory.id.0,
        slug: laboratory.slug.clone(),
        client: true,
        customer: None,
        roles: vec![Role::Integrator],
    })
}
