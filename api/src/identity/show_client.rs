//! Shows one service client. No secret, which nobody knows but the client.

use super::{Action, Actor, InLab, store};
use crate::{
    error::{Answer, Problem},
    kept::Kept,
    request::{Data, shown},
};
use actix_web::{HttpRequest, HttpResponse, get};
use domain::{accounts::Client, id::ClientId, time::Moment};
use serde::Serialize;
use uuid::Uuid;

/// A service client, as it is shown.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct ClientView {
    /// The client.
    pub id: Uuid,
    /// Its version.
    pub version: i32,
    /// What it says.
    #[serde(flatten)]
    pub client: Client,
    /// When it was registered.
    pub created_at: Moment,
    /// When this version was recorded.
    pub changed_at: Moment,
}

impl From<Kept<Client>> for ClientView {
    fn from(kept: Kept<Client>) -> Self {
        Self {
            id: kept.id,
            version: kept.version,
            client: kept.content,
            created_at: kept.created_at,
            changed_at: kept.changed_at,
        }
    }
}

/// Show client
#[utoipa::path(tag = "accounts",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = ClientId, Path, description = "Client")),
    responses((status = 200, body = ClientView), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/clients/{id}")]
pub(super) async fn show_client(
    actor: Actor,
    client: InLab<ClientId>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadAccounts, client.lab())?;
    let kept = app
        .db
        .read(&permit, async |tx| store::client(tx, client.id()).await)
        .await?;
    Ok(shown(&request, kept.version, &ClientView::from(kept)))
}
