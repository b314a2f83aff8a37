//! Shows one hold.

use super::{store, wire::HoldView};
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, InLab},
    request::{Data, shown},
};
use actix_web::{HttpRequest, HttpResponse, get};
use domain::id::HoldId;

/// Show hold
#[utoipa::path(tag = "holds",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = HoldId, Path, description = "Hold")),
    responses((status = 200, body = HoldView), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/holds/{id}")]
pub(super) async fn show_hold(
    actor: Actor,
    hold: InLab<HoldId>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadHolds, hold.lab())?;
    let kept = app
        .db
        .read(&permit, async |tx| store::find(tx, hold.id().0).await)
        .await?;
    Ok(shown(&request, kept.version, &HoldView::from(kept)))
}
