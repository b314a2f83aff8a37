//! Shows the laboratory's own particulars.

use super::store;
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, Lab},
    kept::Kept,
    request::{Data, shown},
};
use actix_web::{HttpRequest, HttpResponse, get};
use domain::{laboratories::Laboratory, time::Moment};
use serde::Serialize;
use uuid::Uuid;

/// A laboratory, as it is shown.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct LaboratoryView {
    /// The laboratory.
    pub id: Uuid,
    /// Its version.
    pub version: i32,
    /// What it says.
    #[serde(flatten)]
    pub laboratory: Laboratory,
    /// When it was set up.
    pub created_at: Moment,
}

impl From<Kept<Laboratory>> for LaboratoryView {
    fn from(kept: Kept<Laboratory>) -> Self {
        Self {
            id: kept.id,
            version: kept.version,
            laboratory: kept.content,
            created_at: kept.created_at,
        }
    }
}

/// Show laboratory
#[utoipa::path(tag = "laboratories",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses")),
    responses((status = 200, body = LaboratoryView), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}")]
pub(super) async fn show_laboratory(
    actor: Actor,
    lab: Lab,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadLaboratory, &lab)?;
    let kept = app.db.read(&permit, store::find).await?;
    let view = LaboratoryView::from(kept);
    Ok(shown(&request, view.version, &view))
}
