//! Shows one validation of a screening method.

use super::{standing::Standing, store, wire::ScreeningValidationView};
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, InLab},
    request::{Data, shown},
};
use actix_web::{HttpRequest, HttpResponse, get};
use domain::id::ScreeningValidationId;

/// Show screening validation
#[utoipa::path(tag = "screening-validations",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = ScreeningValidationId, Path, description = "Validation")),
    responses((status = 200, body = ScreeningValidationView), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/screening-validations/{id}")]
pub(super) async fn show_screening_validation(
    actor: Actor,
    validation: InLab<ScreeningValidationId>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadScreeningValidations, validation.lab())?;
    let standing = app
        .db
        .read(&permit, async |tx| {
            let kept = store::find(tx, validation.id().0).await?;
            Standing::of(tx, kept).await
        })
        .await?;
    let view = ScreeningValidationView::from(standing);
    Ok(shown(&request, view.version, &view))
}
