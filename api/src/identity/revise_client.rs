//! Renames a service client, or closes it: it gets no more tokens.
//!
//! Refuses a stale version, and a change without a reason. A token that a closed client still holds
//! is good until it is past, a quarter of an hour at the most.

use super::{Action, Actor, InLab, show_client::ClientView, store};
use crate::{
    corrections::{self, Reason},
    error::{Answer, Problem},
    request::{Data, Entered, Seen, Valid, shown},
};
use actix_web::{HttpRequest, HttpResponse, put};
use domain::{accounts::Client, faults::Faults, id::ClientId};
use serde::Deserialize;

/// The client as it is to be, and why.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ReviseClient {
    /// The client as it is to be.
    pub client: Client,
    /// Why it changes.
    pub reason: Reason,
}

impl Entered for ReviseClient {
    fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        faults.nest("/client", self.client.check());
        faults.nest("/reason", self.reason.check());
        faults.into_result()
    }
}

/// Revise client
///
/// `"state": "closed"` ends it: it gets no more tokens, and what it recorded stays.
#[utoipa::path(tag = "accounts",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = ClientId, Path, description = "Client"),
        ("If-Match" = String, Header, description = "ETag of the version that you saw")),
    request_body(content = ReviseClient, example = json!({"client": {"name": "Export of bench 2", "state": "closed"}, "reason": {"code": "other", "text": "The bench was given up."}})),
    responses((status = 200, body = ClientView), (status = "4XX", body = Problem)))]
#[put("/v1/laboratories/{lab}/clients/{id}")]
pub(super) async fn revise_client(
    actor: Actor,
    client: InLab<ClientId>,
    seen: Seen,
    body: Valid<ReviseClient>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReviseClient, client.lab())?;
    let kept = app
        .db
        .write(&permit, async |tx| {
            let before = store::client(tx, client.id()).await?;
            seen.must_be(before.version)?;
            let after = before.next(tx, body.client.clone());
            corrections::record(tx, &before, &after, &body.reason).await?;
            store::save_client(tx, &after).await?;
            Ok(after)
        })
        .await?;
    Ok(shown(&request, kept.version, &ClientView::from(kept)))
}
