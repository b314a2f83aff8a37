//! Adopts a validation: its figures are recorded beside it, and procedures may decide by them.
//!
//! Refuses a study that lacks something, naming the quantity; a verification that did not pass; a
//! law that ended; and a run that was corrected meanwhile and no longer reads what is stated.

use super::{checking, standing::Standing, store, wire::ScreeningValidationView};
use crate::{
    corrections::Reason,
    error::{Answer, ApiError, Problem},
    identity::{Action, Actor, InLab},
    laboratories,
    request::{Data, Entered, Once, Seen, Valid},
};
use actix_web::{HttpResponse, post};
use domain::{faults::Faults, id::ScreeningValidationId, screening_validations::ScreeningAdoption};
use serde::Deserialize;

/// That the validation is adopted.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct AdoptScreeningValidation {
    /// Why, where there is something to say.
    #[serde(default)]
    pub reason: Option<Reason>,
}

impl Entered for AdoptScreeningValidation {
    fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        if let Some(reason) = &self.reason {
            faults.nest("/reason", reason.check());
        }
        faults.into_result()
    }
}

/// Adopt screening validation
#[utoipa::path(tag = "screening-validations",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = ScreeningValidationId, Path, description = "Validation"),
        ("Idempotency-Key" = String, Header, description = "A random value of your own, the same when you repeat the request"),
        ("If-Match" = String, Header, description = "ETag of the version that you saw")),
    request_body(content = AdoptScreeningValidation, example = json!({})),
    responses((status = 200, body = ScreeningValidationView), (status = "4XX", body = Problem)))]
#[post("/v1/laboratories/{lab}/screening-validations/{id}/adoption")]
pub(super) async fn adopt_screening_validation(
    actor: Actor,
    validation: InLab<ScreeningValidationId>,
    once: Once,
    seen: Seen,
    body: Valid<AdoptScreeningValidation>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::AdoptScreeningValidation, validation.lab())?;
    let by = permit.account().ok_or_else(|| {
        ApiError::Forbidden("A validation is adopted by a person, who answers for it.".into())
    })?;
    app.db
        .act(&permit, &once, body.fingerprint(), async |tx| {
            tx.change_reference().await?;
            let before = store::lock(tx, validation.id().0).await?;
            seen.must_be(before.version)?;
            let on = laboratories::today(tx).await?;
            let adoption = ScreeningAdoption { on, by };
            let looked = checking::check(tx, &before.content.entry, "").await?;
            let base = looked.base.as_ref().map(|base| &base.content);
            let adopted = before.content.adopt(adoption, base, looked.from)?;
            if let Some(reason) = &body.reason {
                tx.draft.because(reason.code.name(), &reason.text);
            }
            let after = before.next(tx, adopted);
            store::save(tx, &after).await?;
            let view = ScreeningValidationView::from(Standing::of(tx, after).await?);
            Ok((view.version, view))
        })
        .await
}
