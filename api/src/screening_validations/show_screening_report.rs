//! Shows the report of a validation: target, cut-off, false-suspect rate, and how they were found.

use super::{standing::Standing, store, wire::ScreeningReportView};
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, InLab},
    pages::{self, Visit},
    procedures,
    request::Data,
};
use actix_web::{HttpRequest, HttpResponse, ResponseError as _, get};
use domain::id::ScreeningValidationId;

/// Show screening report
///
/// Of an adopted validation, the figures that were adopted; of a draft, what it comes to now, or
/// what it lacks. Whoever asks for text/html is given the same as a page to be printed, with a
/// picture; it stands among the laboratory's own pages too.
#[utoipa::path(tag = "screening-validations",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = ScreeningValidationId, Path, description = "Validation")),
    responses((status = 200, body = ScreeningReportView), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/screening-validations/{id}/report")]
pub(super) async fn show_screening_report(
    actor: Actor,
    validation: InLab<ScreeningValidationId>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadScreeningValidations, validation.lab())?;
    if pages::wanted(&request) {
        let lab = validation.lab().clone();
        let visit = Visit { actor, lab, app };
        let page = super::pages::show(&visit, validation.id()).await;
        return Ok(page.unwrap_or_else(|refusal| refusal.error_response()));
    }
    let view = app
        .db
        .read(&permit, async |tx| {
            let kept = store::find(tx, validation.id().0).await?;
            let procedure = procedures::store::find(tx, kept.content.entry.procedure.0).await?;
            let standing = Standing::of(tx, kept).await?;
            Ok(ScreeningReportView::of(standing, &procedure.content))
        })
        .await?;
    Ok(HttpResponse::Ok().json(view))
}
