//! Lists corrections, newest first.

use super::{store, wire::CorrectionView};
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, Lab},
    request::{Data, Listed, Page, listed},
};
use actix_web::{HttpRequest, HttpResponse, get, web};
use uuid::Uuid;

/// Which corrections are asked for.
#[derive(Debug, serde::Deserialize, utoipa::IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct CorrectionFilter {
    /// Only those of this subject.
    pub subject: Option<Uuid>,
}

/// List corrections
#[utoipa::path(tag = "corrections",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"), Page, CorrectionFilter),
    responses((status = 200, body = Listed<CorrectionView>), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/corrections")]
pub(super) async fn list_corrections(
    actor: Actor,
    lab: Lab,
    page: web::Query<Page>,
    filter: web::Query<CorrectionFilter>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadCorrections, &lab)?;
    let found = app
        .db
        .read(&permit, async |tx| {
            store::list(tx, &page, filter.subject).await
        })
        .await?;
    let views: Vec<CorrectionView> = found.into_iter().map(CorrectionView::from).collect();
    Ok(listed(&request, &page, views, |view| view.id))
}
