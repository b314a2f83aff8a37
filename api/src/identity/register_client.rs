//! Registers a service client. Its secret is shown once, in this answer, and never again.

use super::{Action, Actor, Lab, passwords, store};
use crate::{
    db::Created,
    error::{Answer, ApiError, Problem},
    ids,
    kept::Kept,
    request::{Data, Entered, Once, Valid},
};
use actix_web::{HttpResponse, post};
use base64::{Engine as _, engine::general_purpose::URL_SAFE_NO_PAD};
use domain::{accounts::Client, faults::Faults};
use serde::Serialize;
use uuid::Uuid;

impl Entered for Client {
    fn check(&self) -> Result<(), Faults> {
        Client::check(self)
    }
}

/// A client and its secret.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct NewClientView {
    /// The client: what it gives to sign in, beside the secret.
    pub id: Uuid,
    /// Its version.
    pub version: i32,
    /// What it says.
    #[serde(flatten)]
    pub client: Client,
    /// The secret, in the first answer alone: the service keeps only its hash.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub secret: Option<String>,
}

/// Register client
///
/// The secret is shown once, in the first answer. A repeat with the same Idempotency-Key answers
/// without it, since the service keeps only its hash: where the first answer was lost, close the
/// client and register another.
#[utoipa::path(tag = "accounts",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("Idempotency-Key" = String, Header, description = "A random value of your own, the same when you repeat the request")),
    request_body(content = Client, example = json!({"name": "Export of bench 2"})),
    responses((status = 201, body = NewClientView), (status = "4XX", body = Problem)))]
#[post("/v1/laboratories/{lab}/clients")]
pub(super) async fn register_client(
    actor: Actor,
    lab: Lab,
    once: Once,
    body: Valid<Client>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::RegisterClient, &lab)?;
    let id: Uuid = ids::fresh();
    let secret = URL_SAFE_NO_PAD.encode(ids::random_bytes::<32>().map_err(ApiError::internal)?);
    let hash = passwords::hash_password(secret.clone()).await?;
    app.db
        .create_with_secret(&permit, &once, body.fingerprint(), async |tx| {
            let kept = Kept::first(tx, id, (*body).clone());
            store::insert_client(tx, &kept, &hash).await?;
            let view = |secret: Option<String>| NewClientView {
                id,
                version: kept.version,
                client: kept.content.clone(),
                secret,
            };
            let created = Created {
                location: format!("/v1/laboratories/{}/clients/{id}", lab.slug()),
                version: kept.version,
                view: view(None),
            };
            Ok((created, view(Some(secret.clone()))))
        })
        .await
}
