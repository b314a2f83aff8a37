//! Takes a mass from the stock of a control material. Refuses more than is left, and a stock that
//! is
//! not kept.

use super::{store, wire::ControlMaterialView};
use crate::{
    error::{Answer, ApiError, Problem},
    identity::{Action, Actor, InLab},
    request::{Data, Entered, Once, Valid},
};
use actix_web::{HttpResponse, post};
use domain::{faults::Faults, id::ControlMaterialId, quantity::Number};
use serde::Deserialize;

/// What is taken.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct DrawControlMaterial {
    /// Mass in g, above zero.
    pub mass_g: Number,
}

impl Entered for DrawControlMaterial {
    fn check(&self) -> Result<(), Faults> {
        Ok(())
    }
}

/// Draw control material
#[utoipa::path(tag = "control-materials",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = ControlMaterialId, Path, description = "Control material"),
        ("Idempotency-Key" = String, Header, description = "A random value of your own, the same when you repeat the request")),
    request_body(content = DrawControlMaterial, example = json!({"mass_g": "10"})),
    responses((status = 200, body = ControlMaterialView), (status = "4XX", body = Problem)))]
#[post("/v1/laboratories/{lab}/control-materials/{id}/draws")]
pub(super) async fn draw_control_material(
    actor: Actor,
    control_material: InLab<ControlMaterialId>,
    once: Once,
    body: Valid<DrawControlMaterial>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::DrawControlMaterial, control_material.lab())?;
    app.db
        .act(&permit, &once, body.fingerprint(), async |tx| {
            tx.change_reference().await?;
            let before = store::lock(tx, control_material.id().0).await?;
            let next = before.content.draw(body.mass_g)?;
            if next == before.content {
                return Err(ApiError::refused(
                    "stock-not-kept",
                    "The mass that is left of this material is not recorded. Revise it first.",
                ));
            }
            let after = before.next(tx, next);
            store::save(tx, &after).await?;
            Ok((after.version, ControlMaterialView::from(after)))
        })
        .await
}
