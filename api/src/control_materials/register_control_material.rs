//! Registers a control material. Refuses a code that is in use, and a commodity that the vocabulary
//! does not have.

use super::{store, wire::ControlMaterialView};
use crate::{
    db::Created,
    error::{Answer, Problem},
    identity::{Action, Actor, Lab},
    ids,
    kept::Kept,
    request::{Data, Once, Valid},
};
use actix_web::{HttpResponse, post};
use domain::control_materials::ControlMaterial;
use uuid::Uuid;

/// Register control material
#[utoipa::path(tag = "control-materials",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("Idempotency-Key" = String, Header, description = "A random value of your own, the same when you repeat the request")),
    request_body(content = ControlMaterial, example = json!({"code": "CM-1", "name": "maize, naturally contaminated", "commodity": "maize-grain", "lot": "2026-A", "analytes": [{"analyte": "deoxynivalenol", "assigned_value": "1000", "lower": "800", "upper": "1200"}], "expires_on": "2027-01-31", "stock_g": "400"})),
    responses((status = 201, body = ControlMaterialView), (status = "4XX", body = Problem)))]
#[post("/v1/laboratories/{lab}/control-materials")]
pub(super) async fn register_control_material(
    actor: Actor,
    lab: Lab,
    once: Once,
    body: Valid<ControlMaterial>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::RegisterControlMaterial, &lab)?;
    let id: Uuid = ids::fresh();
    app.db
        .create(&permit, &once, body.fingerprint(), async |tx| {
            tx.change_reference().await?;
            let kept = Kept::first(tx, id, (*body).clone());
            store::insert(tx, &kept).await?;
            Ok(Created {
                location: format!("/v1/laboratories/{}/control-materials/{id}", lab.slug()),
                version: kept.version,
                view: ControlMaterialView::from(kept),
            })
        })
        .await
}
