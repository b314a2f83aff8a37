//! Announces a new key; the service signs with it from the entry after its announcement.

use super::wire::KeyView;
use crate::{
    db::Created,
    error::{Answer, Problem},
    identity::{Action, Actor, Lab},
    ids,
    ledger::{keyring, store},
    request::{Data, Entered, Once, Valid},
};
use actix_web::{HttpResponse, post};
use domain::{faults::Faults, id::KeyId, ledger::rotation::SignsWhat};
use serde::Deserialize;

/// What the new key is to sign.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct AnnounceKey {
    /// Acts and certificates, or checkpoints.
    #[serde(rename = "use")]
    pub signs_what: SignsWhat,
}

impl Entered for AnnounceKey {
    fn check(&self) -> Result<(), Faults> {
        Ok(())
    }
}

/// Announce key
///
/// Makes a key of the laboratory and records its public half. The service signs with it once the
/// announcement has its entry in the log, within a second or two; the old key stays good until it
/// is withdrawn.
#[utoipa::path(tag = "records",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("Idempotency-Key" = String, Header, description = "A random value of your own, the same when you repeat the request")),
    request_body(content = AnnounceKey, example = json!({"use": "record"})),
    responses((status = 201, body = KeyView), (status = "4XX", body = Problem)))]
#[post("/v1/laboratories/{lab}/keys")]
pub(super) async fn announce_key(
    actor: Actor,
    lab: Lab,
    once: Once,
    body: Valid<AnnounceKey>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::AnnounceKey, &lab)?;
    let id: KeyId = ids::fresh();
    app.db
        .create(&permit, &once, body.fingerprint(), async |tx| {
            let begins = store::keys::Begins::AfterItsEntry;
            keyring::announce(tx, app.db.keyring(), id, body.signs_what, begins).await?;
            let row = store::keys::lock(tx, id.0).await?;
            Ok(Created {
                location: format!("/v1/laboratories/{}/records?subject={id}", lab.slug()),
                version: row.version,
                view: KeyView::of(row)?,
            })
        })
        .await
}
