//! Shows one result.

use super::{store, wire::ResultView};
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, InLab},
    request::{Data, shown},
};
use actix_web::{HttpRequest, HttpResponse, get};
use domain::id::ResultId;

/// Show result
#[utoipa::path(tag = "results",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = ResultId, Path, description = "Result")),
    responses((status = 200, body = ResultView), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/results/{id}")]
pub(super) async fn show_result(
    actor: Actor,
    result: InLab<ResultId>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadResults, result.lab())?;
    let kept = app
        .db
        .read(&permit, async |tx| store::find(tx, result.id().0).await)
        .await?;
    Ok(shown(&request, kept.version, &ResultView::from(kept)))
}
