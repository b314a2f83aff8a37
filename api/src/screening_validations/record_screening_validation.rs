//! Records a validation of a screening method, as a draft. Refuses a code that is in use, and a run
//! that does not read what is stated beside it. Too few determinations are no reason to refuse: the
//! answer says what is missing.

use super::{checking, standing::Standing, store, wire::ScreeningValidationView};
use crate::{
    db::Created,
    error::{Answer, Problem},
    identity::{Action, Actor, Lab},
    ids,
    kept::Kept,
    request::{Data, Once, Valid},
};
use actix_web::{HttpResponse, post};
use domain::screening_validations::{ScreeningValidation, ScreeningValidationEntry};
use uuid::Uuid;

/// Record screening validation
///
/// A draft: determinations are added by revising it, until it can be adopted.
#[utoipa::path(tag = "screening-validations",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("Idempotency-Key" = String, Header, description = "A random value of your own, the same when you repeat the request")),
    request_body(content = ScreeningValidationEntry, example = json!({"code": "SV-07", "procedure": "019ca869-5003-7d46-b59c-6cf85cca57e4", "analyte": "aflatoxin-total", "commodity_group": "high-starch", "screening_target": "20", "study": {"kind": "within-laboratory"}, "performed_by": ["019ca869-5003-7d46-b59c-6cf85cca57e5"], "determinations": [{"kind": "negative", "on": "2026-03-02", "value": "1.8"}, {"kind": "positive", "on": "2026-03-02", "value": "20.4"}]})),
    responses((status = 201, body = ScreeningValidationView), (status = "4XX", body = Problem)))]
#[post("/v1/laboratories/{lab}/screening-validations")]
pub(super) async fn record_screening_validation(
    actor: Actor,
    lab: Lab,
    once: Once,
    body: Valid<ScreeningValidationEntry>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::RecordScreeningValidation, &lab)?;
    let id: Uuid = ids::fresh();
    app.db
        .create(&permit, &once, body.fingerprint(), async |tx| {
            checking::check(tx, &body, "").await?;
            let kept = Kept::first(tx, id, ScreeningValidation::draft((*body).clone())?);
            store::insert(tx, &kept).await?;
            Ok(Created {
                location: format!("/v1/laboratories/{}/screening-validations/{id}", lab.slug()),
                version: kept.version,
                view: ScreeningValidationView::from(Standing::of(tx, kept).await?),
            })
        })
        .await
}
