//! Lists control materials, newest first.

use super::{store, wire::ControlMaterialView};
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, Lab},
    request::{Data, Listed, Page, listed},
};
use actix_web::{HttpRequest, HttpResponse, get, web};
use chrono::NaiveDate;

/// Which control materials are asked for.
#[derive(Debug, serde::Deserialize, utoipa::IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct ControlMaterialFilter {
    /// Only the one with this code.
    pub code: Option<String>,
    /// Only those whose last day of use lies before this day.
    pub expires_before: Option<NaiveDate>,
}

/// List control materials
#[utoipa::path(tag = "control-materials",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"), Page, ControlMaterialFilter),
    responses((status = 200, body = Listed<ControlMaterialView>), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/control-materials")]
pub(super) async fn list_control_materials(
    actor: Actor,
    lab: Lab,
    page: web::Query<Page>,
    filter: web::Query<ControlMaterialFilter>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadControlMaterials, &lab)?;
    let found = app
        .db
        .read(&permit, async |tx| store::list(tx, &page, &filter).await)
        .await?;
    let views: Vec<ControlMaterialView> =
        found.into_iter().map(ControlMaterialView::from).collect();
    Ok(listed(&request, &page, views, |view| view.id))
}
