//! Changes the draft of a validation: mostly, adds determinations to it. Refuses a stale version,
//! an adopted or withdrawn one, and a change without a reason.
//!
//! The change is a correction: the old version stays readable.

use super::{checking, standing::Standing, store, wire::ScreeningValidationView};
use crate::{
    corrections::{self, Reason},
    error::{Answer, Problem},
    identity::{Action, Actor, InLab},
    request::{Data, Entered, Seen, Valid, shown},
};
use actix_web::{HttpRequest, HttpResponse, put};
use domain::{
    faults::Faults, id::ScreeningValidationId, screening_validations::ScreeningValidationEntry,
};
use serde::Deserialize;

/// The validation as it is to be, and why.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ReviseScreeningValidation {
    /// The validation as it is to be.
    pub validation: ScreeningValidationEntry,
    /// Why it changes.
    pub reason: Reason,
}

impl Entered for ReviseScreeningValidation {
    fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        faults.nest("/validation", Entered::check(&self.validation));
        faults.nest("/reason", self.reason.check());
        faults.into_result()
    }
}

/// Revise screening validation
#[utoipa::path(tag = "screening-validations",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = ScreeningValidationId, Path, description = "Validation"),
        ("If-Match" = String, Header, description = "ETag of the version that you saw")),
    request_body(content = ReviseScreeningValidation, example = json!({"validation": {"code": "SV-07", "procedure": "019ca869-5003-7d46-b59c-6cf85cca57e4", "analyte": "aflatoxin-total", "commodity_group": "high-starch", "screening_target": "20", "study": {"kind": "within-laboratory"}, "performed_by": ["019ca869-5003-7d46-b59c-6cf85cca57e5"], "determinations": [{"kind": "negative", "on": "2026-03-02", "value": "1.8"}, {"kind": "positive", "on": "2026-03-02", "value": "20.4"}]}, "reason": {"code": "late-information", "text": "The determinations of the second day."}})),
    responses((status = 200, body = ScreeningValidationView), (status = "4XX", body = Problem)))]
#[put("/v1/laboratories/{lab}/screening-validations/{id}")]
pub(super) async fn revise_screening_validation(
    actor: Actor,
    validation: InLab<ScreeningValidationId>,
    seen: Seen,
    body: Valid<ReviseScreeningValidation>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReviseScreeningValidation, validation.lab())?;
    let standing = app
        .db
        .write(&permit, async |tx| {
            let before = store::lock(tx, validation.id().0).await?;
            seen.must_be(before.version)?;
            let revised = before.content.revise(body.validation.clone())?;
            checking::check(tx, &body.validation, "/validation").await?;
            let after = before.next(tx, revised);
            corrections::record(tx, &before, &after, &body.reason).await?;
            store::save(tx, &after).await?;
            Standing::of(tx, after).await
        })
        .await?;
    let view = ScreeningValidationView::from(standing);
    Ok(shown(&request, view.version, &view))
}
