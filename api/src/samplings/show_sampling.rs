//! Shows one sampling.

use super::{store, wire::SamplingView};
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, InLab},
    request::{Data, etag},
};
use actix_web::{HttpResponse, get};
use domain::id::SamplingId;

/// Show sampling
///
/// With what its plan asks for the lot as it is recorded now, and what departs from it.
#[utoipa::path(tag = "samplings",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = SamplingId, Path, description = "Sampling")),
    responses((status = 200, body = SamplingView), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/samplings/{id}")]
pub(super) async fn show_sampling(
    actor: Actor,
    sampling: InLab<SamplingId>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadSamplings, sampling.lab())?;
    let view = app
        .db
        .read(&permit, async |tx| {
            let kept = store::find(tx, sampling.id().0).await?;
            super::checked(tx, kept).await
        })
        .await?;
    // Never 304: what the plan asks depends on the lot too, whose versions are its own.
    Ok(HttpResponse::Ok()
        .insert_header(etag(view.version))
        .json(view))
}
