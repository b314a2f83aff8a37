//! Shows one correction.

use super::{store, wire::CorrectionView};
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, InLab},
    request::{Data, shown},
};
use actix_web::{HttpRequest, HttpResponse, get};
use domain::id::CorrectionId;

/// Show correction
#[utoipa::path(tag = "corrections",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = CorrectionId, Path, description = "Correction")),
    responses((status = 200, body = CorrectionView), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/corrections/{id}")]
pub(super) async fn show_correction(
    actor: Actor,
    correction: InLab<CorrectionId>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadCorrections, correction.lab())?;
    let kept = app
        .db
        .read(&permit, async |tx| store::find(tx, correction.id().0).await)
        .await?;
    Ok(shown(&request, kept.version, &CorrectionView::from(kept)))
}
