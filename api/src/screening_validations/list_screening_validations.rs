//! Lists validations of screening methods, newest first.

use super::{store, wire::ScreeningValidationItem};
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, Lab},
    request::{Data, Listed, Page, listed},
};
use actix_web::{HttpRequest, HttpResponse, get, web};
use domain::{analytes::Analyte, id::ProcedureId, screening_validations::ScreeningValidationState};

/// Which validations are asked for.
#[derive(Debug, Default, serde::Deserialize, utoipa::IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct ScreeningValidationFilter {
    /// Only those of this procedure.
    pub procedure: Option<ProcedureId>,
    /// Only those for this analyte.
    #[param(inline)]
    pub analyte: Option<Analyte>,
    /// Only those in this state.
    #[param(inline)]
    pub state: Option<ScreeningValidationState>,
}

/// List screening validations
#[utoipa::path(tag = "screening-validations",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"), Page, ScreeningValidationFilter),
    responses((status = 200, body = Listed<ScreeningValidationItem>), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/screening-validations")]
pub(super) async fn list_screening_validations(
    actor: Actor,
    lab: Lab,
    page: web::Query<Page>,
    filter: web::Query<ScreeningValidationFilter>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadScreeningValidations, &lab)?;
    let found = app
        .db
        .read(&permit, async |tx| store::list(tx, &page, &filter).await)
        .await?;
    let views: Vec<ScreeningValidationItem> = found
        .into_iter()
        .map(ScreeningValidationItem::from)
        .collect();
    Ok(listed(&request, &page, views, |view| view.id))
}
