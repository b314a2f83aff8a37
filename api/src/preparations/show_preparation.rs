//! Shows one preparation.

use super::{store, wire::PreparationView};
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, InLab},
    request::{Data, shown},
};
use actix_web::{HttpRequest, HttpResponse, get};
use domain::id::PreparationId;

/// Show preparation
#[utoipa::path(tag = "preparations",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = PreparationId, Path, description = "Preparation")),
    responses((status = 200, body = PreparationView), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/preparations/{id}")]
pub(super) async fn show_preparation(
    actor: Actor,
    preparation: InLab<PreparationId>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadPreparations, preparation.lab())?;
    let kept = app
        .db
        .read(&permit, async |tx| {
            store::find(tx, preparation.id().0).await
        })
        .await?;
    Ok(shown(&request, kept.version, &PreparationView::from(kept)))
}
