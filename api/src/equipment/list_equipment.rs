//! Lists equipment, newest first.

use super::{store, wire::EquipmentView};
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, Lab},
    request::{Data, Listed, Page, listed},
};
use actix_web::{HttpRequest, HttpResponse, get, web};
use chrono::NaiveDate;
use domain::{equipment::EquipmentKind, id::SiteId};

/// Which equipment are asked for.
#[derive(Debug, serde::Deserialize, utoipa::IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct EquipmentFilter {
    /// Only of this kind.
    pub kind: Option<EquipmentKind>,
    /// Only what stands at this site.
    pub site: Option<SiteId>,
    /// Only the piece with this code.
    pub code: Option<String>,
    /// Only what has its calibration or check due before this day.
    pub due_before: Option<NaiveDate>,
}

/// List equipment
#[utoipa::path(tag = "equipment",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"), Page, EquipmentFilter),
    responses((status = 200, body = Listed<EquipmentView>), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/equipment")]
pub(super) async fn list_equipment(
    actor: Actor,
    lab: Lab,
    page: web::Query<Page>,
    filter: web::Query<EquipmentFilter>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadEquipment, &lab)?;
    let found = app
        .db
        .read(&permit, async |tx| store::list(tx, &page, &filter).await)
        .await?;
    let views: Vec<EquipmentView> = found.into_iter().map(EquipmentView::from).collect();
    Ok(listed(&request, &page, views, |view| view.id))
}
