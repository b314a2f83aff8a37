//! Shows one sampling.

use super::{store, wire::SamplingView};
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, InLab},
    request::{Data, shown},
};
use actix_web::{HttpRequest, HttpResponse, get};
use domain::id::SamplingId;

/// Show sampling
#[utoipa::path(tag = "samplings",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = SamplingId, Path, description = "Sampling")),
    responses((status = 200, body = SamplingView), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/samplings/{id}")]
pub(super) async fn show_sampling(
    actor: Actor,
    sampling: InLab<SamplingId>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadSamplings, sampling.lab())?;
    let kept = app
        .db
        .read(&permit, async |tx| store::find(tx, sampling.id().0).await)
        .await?;
    Ok(shown(&request, kept.version, &SamplingView::from(kept)))
}
