//! Lists samplings, newest first.

use super::{store, wire::SamplingView};
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, Lab},
    request::{Data, Listed, Page, listed},
};
use actix_web::{HttpRequest, HttpResponse, get, web};
use uuid::Uuid;

/// Which samplings are asked for.
#[derive(Debug, serde::Deserialize, utoipa::IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct SamplingFilter {
    /// Only those of this lot.
    pub lot: Option<Uuid>,
}

/// List samplings
#[utoipa::path(tag = "samplings",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"), Page, SamplingFilter),
    responses((status = 200, body = Listed<SamplingView>), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/samplings")]
pub(super) async fn list_samplings(
    actor: Actor,
    lab: Lab,
    page: web::Query<Page>,
    filter: web::Query<SamplingFilter>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadSamplings, &lab)?;
    let views = app
        .db
        .read(&permit, async |tx| {
            let found = store::list(tx, &page, filter.lot).await?;
            super::all_checked(tx, found).await
        })
        .await?;
    Ok(listed(&request, &page, views, |view| view.id))
}
