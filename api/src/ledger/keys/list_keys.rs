//! Lists the laboratory's keys, newest first.

use super::wire::KeyView;
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, Lab},
    ledger::store,
    request::{Data, Listed},
};
use actix_web::{HttpResponse, get};

/// List keys
///
/// The public halves, with the entries that each is good for.
#[utoipa::path(tag = "records",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses")),
    responses((status = 200, body = Listed<KeyView>), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/keys")]
pub(super) async fn list_keys(actor: Actor, lab: Lab, app: Data) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadKeys, &lab)?;
    let rows = app
        .db
        .read(&permit, async |tx| {
            let laboratory = tx.laboratory_id();
            store::keys::all(tx.connection(), laboratory).await
        })
        .await?;
    let items = rows
        .into_iter()
        .map(KeyView::of)
        .collect::<Answer<Vec<_>>>()?;
    Ok(HttpResponse::Ok().json(Listed { items }))
}
