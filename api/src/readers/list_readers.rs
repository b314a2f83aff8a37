//! Lists readers, newest first.

use super::{store, wire::ReaderView};
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, Lab},
    request::{Data, Listed, Page, listed},
};
use actix_web::{HttpRequest, HttpResponse, get, web};
use chrono::NaiveDate;
use domain::id::SiteId;

/// Which readers are asked for.
#[derive(Debug, serde::Deserialize, utoipa::IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct ReaderFilter {
    /// Only those at this site.
    pub site: Option<SiteId>,
    /// Only the one with this serial number.
    pub serial: Option<String>,
    /// Only those whose calibration or check is due before this day.
    pub due_before: Option<NaiveDate>,
}

/// List readers
#[utoipa::path(tag = "readers",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"), Page, ReaderFilter),
    responses((status = 200, body = Listed<ReaderView>), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/readers")]
pub(super) async fn list_readers(
    actor: Actor,
    lab: Lab,
    page: web::Query<Page>,
    filter: web::Query<ReaderFilter>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadReaders, &lab)?;
    let found = app
        .db
        .read(&permit, async |tx| store::list(tx, &page, &filter).await)
        .await?;
    let views: Vec<ReaderView> = found.into_iter().map(ReaderView::from).collect();
    Ok(listed(&request, &page, views, |view| view.id))
}
