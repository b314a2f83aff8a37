//! Withdraws a validation: no procedure decides by it any more, and its figures stay readable.
//! Refuses one that an adopted procedure decides by, and one that is withdrawn already.

use super::{STATE, standing::Standing, store, wire::ScreeningValidationView};
use crate::{
    corrections::Reason,
    error::{Answer, ApiError, Problem},
    identity::{Action, Actor, InLab},
    request::{Data, Entered, Once, Seen, Valid},
};
use actix_web::{HttpResponse, post};
use domain::{faults::Faults, id::ScreeningValidationId};
use serde::Deserialize;

/// Why the validation is withdrawn.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct WithdrawScreeningValidation {
    /// Why.
    pub reason: Reason,
}

impl Entered for WithdrawScreeningValidation {
    fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        faults.nest("/reason", self.reason.check());
        faults.into_result()
    }
}

/// Withdraw screening validation
#[utoipa::path(tag = "screening-validations",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = ScreeningValidationId, Path, description = "Validation"),
        ("Idempotency-Key" = String, Header, description = "A random value of your own, the same when you repeat the request"),
        ("If-Match" = String, Header, description = "ETag of the version that you saw")),
    request_body(content = WithdrawScreeningValidation, example = json!({"reason": {"code": "late-information", "text": "The blanks were not free of the toxin."}})),
    responses((status = 200, body = ScreeningValidationView), (status = "4XX", body = Problem)))]
#[post("/v1/laboratories/{lab}/screening-validations/{id}/withdrawal")]
pub(super) async fn withdraw_screening_validation(
    actor: Actor,
    validation: InLab<ScreeningValidationId>,
    once: Once,
    seen: Seen,
    body: Valid<WithdrawScreeningValidation>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::WithdrawScreeningValidation, validation.lab())?;
    app.db
        .act(&permit, &once, body.fingerprint(), async |tx| {
            tx.change_reference().await?;
            let before = store::lock(tx, validation.id().0).await?;
            seen.must_be(before.version)?;
            let withdrawn = before.content.withdraw()?;
            let deciding = store::deciding_procedures(tx, before.id).await?;
            if !deciding.is_empty() {
                let deciding = deciding.join(", ");
                return Err(ApiError::refused(
                    STATE,
                    format!("Refused: {deciding} decides by it. Revise the procedure first."),
                ));
            }
            tx.draft.because(body.reason.code.name(), &body.reason.text);
            let after = before.next(tx, withdrawn);
            store::save(tx, &after).await?;
            let view = ScreeningValidationView::from(Standing::of(tx, after).await?);
            Ok((view.version, view))
        })
        .await
}
