//! Shows one erasure.

use super::{store, wire::ErasureView};
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, InLab},
    request::{Data, shown},
};
use actix_web::{HttpRequest, HttpResponse, get};
use uuid::Uuid;

/// Show erasure
#[utoipa::path(tag = "erasures",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = Uuid, Path, description = "Erasure")),
    responses((status = 200, body = ErasureView), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/erasures/{id}")]
pub(super) async fn show_erasure(
    actor: Actor,
    erasure: InLab<Uuid>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadErasures, erasure.lab())?;
    let kept = app
        .db
        .read(&permit, async |tx| store::find(tx, erasure.id()).await)
        .await?;
    Ok(shown(&request, kept.version, &ErasureView::from(kept)))
}
