//! Lists checks of equipment and readers, newest first.

use super::{store, wire::EquipmentCheckView};
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, Lab},
    request::{Data, Listed, Page, listed},
};
use actix_web::{HttpRequest, HttpResponse, get, web};
use domain::id::{EquipmentId, ReaderId};

/// Which checks of equipment and readers are asked for.
#[derive(Debug, serde::Deserialize, utoipa::IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct CheckFilter {
    /// Only those of this piece of equipment.
    pub equipment: Option<EquipmentId>,
    /// Only those of this reader.
    pub reader: Option<ReaderId>,
}

/// List checks
#[utoipa::path(tag = "equipment",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"), Page, CheckFilter),
    responses((status = 200, body = Listed<EquipmentCheckView>), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/equipment-checks")]
pub(super) async fn list_checks(
    actor: Actor,
    lab: Lab,
    page: web::Query<Page>,
    filter: web::Query<CheckFilter>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadEquipment, &lab)?;
    let found = app
        .db
        .read(&permit, async |tx| {
            store::checks::list(tx, &page, &filter).await
        })
        .await?;
    let views: Vec<EquipmentCheckView> = found.into_iter().map(EquipmentCheckView::from).collect();
    Ok(listed(&request, &page, views, |view| view.id))
}
