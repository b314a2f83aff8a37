//! Lists procedures, newest first.

use super::{store, wire::ProcedureView};
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, Lab},
    request::{Data, Listed, Page, listed},
};
use actix_web::{HttpRequest, HttpResponse, get, web};
use domain::procedures::ProcedureState;

/// Which procedures are asked for.
#[derive(Debug, serde::Deserialize, utoipa::IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct ProcedureFilter {
    /// Only those in this state.
    pub state: Option<ProcedureState>,
    /// Only the one with this code.
    pub code: Option<String>,
}

/// List procedures
#[utoipa::path(tag = "procedures",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"), Page, ProcedureFilter),
    responses((status = 200, body = Listed<ProcedureView>), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/procedures")]
pub(super) async fn list_procedures(
    actor: Actor,
    lab: Lab,
    page: web::Query<Page>,
    filter: web::Query<ProcedureFilter>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadProcedures, &lab)?;
    let found = app
        .db
        .read(&permit, async |tx| store::list(tx, &page, &filter).await)
        .await?;
    let views: Vec<ProcedureView> = found.into_iter().map(ProcedureView::from).collect();
    Ok(listed(&request, &page, views, |view| view.id))
}
