//! Shows one sample.

use super::{store, wire::SampleView};
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, InLab},
    request::{Data, shown},
};
use actix_web::{HttpRequest, HttpResponse, get};
use domain::id::SampleId;

/// Show sample
#[utoipa::path(tag = "samples",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = SampleId, Path, description = "Sample")),
    responses((status = 200, body = SampleView), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/samples/{id}")]
pub(super) async fn show_sample(
    actor: Actor,
    sample: InLab<SampleId>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadSamples, sample.lab())?;
    let kept = app
        .db
        .read(&permit, async |tx| store::find(tx, sample.id().0).await)
        .await?;
    Ok(shown(&request, kept.version, &SampleView::from(kept)))
}
