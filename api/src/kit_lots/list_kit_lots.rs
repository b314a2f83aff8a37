//! Lists kit lots, newest first.

use super::{store, wire::KitLotView};
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, Lab},
    request::{Data, Listed, Page, listed},
};
use actix_web::{HttpRequest, HttpResponse, get, web};
use chrono::NaiveDate;
use domain::{id::ProcedureId, kit_lots::KitLotState};

/// Which kit lots are asked for.
#[derive(Debug, Default, serde::Deserialize, utoipa::IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct KitLotFilter {
    /// Only those in this state.
    pub state: Option<KitLotState>,
    /// Only those that this procedure is worked with.
    pub procedure: Option<ProcedureId>,
    /// Only the one with this code.
    pub code: Option<String>,
    /// Only those whose last day of use lies before this day.
    pub expires_before: Option<NaiveDate>,
}

/// List kit lots
#[utoipa::path(tag = "kit-lots",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"), Page, KitLotFilter),
    responses((status = 200, body = Listed<KitLotView>), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/kit-lots")]
pub(super) async fn list_kit_lots(
    actor: Actor,
    lab: Lab,
    page: web::Query<Page>,
    filter: web::Query<KitLotFilter>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadKitLots, &lab)?;
    let views = app
        .db
        .read(&permit, async |tx| {
            let lots = store::list(tx, &page, &filter).await?;
            KitLotView::all_counted(tx, lots).await
        })
        .await?;
    Ok(listed(&request, &page, views, |view| view.id))
}
