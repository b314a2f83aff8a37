//! Shows the report of a validation: target, cut-off, false-suspect rate, and how they were found.

use super::{standing::Standing, store, wire::ScreeningReportView};
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, InLab},
    procedures,
    request::Data,
};
use actix_web::{get, web};
use domain::id::ScreeningValidationId;

/// Show screening report
///
/// Of an adopted validation, the figures that were adopted; of a draft, what it comes to now, or
/// what it lacks. The same stands as a page, to be printed, under the laboratory's own pages.
#[utoipa::path(tag = "screening-validations",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = ScreeningValidationId, Path, description = "Validation")),
    responses((status = 200, body = ScreeningReportView), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/screening-validations/{id}/report")]
pub(super) async fn show_screening_report(
    actor: Actor,
    validation: InLab<ScreeningValidationId>,
    app: Data,
) -> Answer<web::Json<ScreeningReportView>> {
    let permit = actor.permit(Action::ReadScreeningValidations, validation.lab())?;
    app.db
        .read(&permit, async |tx| {
            let kept = store::find(tx, validation.id().0).await?;
            let procedure = procedures::store::find(tx, kept.content.entry.procedure.0).await?;
            let standing = Standing::of(tx, kept).await?;
            Ok(web::Json(ScreeningReportView::of(
                standing,
                &procedure.content,
            )))
        })
        .await
}
