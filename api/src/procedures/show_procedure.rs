//! Shows one procedure.

use super::{store, wire::ProcedureView};
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, InLab},
    request::{Data, shown},
};
use actix_web::{HttpRequest, HttpResponse, get};
use domain::id::ProcedureId;

/// Show procedure
#[utoipa::path(tag = "procedures",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = ProcedureId, Path, description = "Procedure")),
    responses((status = 200, body = ProcedureView), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/procedures/{id}")]
pub(super) async fn show_procedure(
    actor: Actor,
    procedure: InLab<ProcedureId>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadProcedures, procedure.lab())?;
    let kept = app
        .db
        .read(&permit, async |tx| store::find(tx, procedure.id().0).await)
        .await?;
    Ok(shown(&request, kept.version, &ProcedureView::from(kept)))
}
