//! Lists samples, newest first, and finds one by its code or barcode.

use super::{
    store::{self, SampleFilter},
    wire::SampleView,
};
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, Lab},
    request::{Data, Listed, Page, listed},
};
use actix_web::{HttpRequest, HttpResponse, get, web};

/// List samples
#[utoipa::path(tag = "samples",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"), Page, SampleFilter),
    responses((status = 200, body = Listed<SampleView>), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/samples")]
pub(super) async fn list_samples(
    actor: Actor,
    lab: Lab,
    page: web::Query<Page>,
    filter: web::Query<SampleFilter>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadSamples, &lab)?;
    let found = app
        .db
        .read(&permit, async |tx| store::list(tx, &page, &filter).await)
        .await?;
    let views: Vec<SampleView> = found.into_iter().map(SampleView::from).collect();
    Ok(listed(&request, &page, views, |view| view.id))
}
