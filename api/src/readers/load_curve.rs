//! Records that the curve of a lot was loaded into a reader: by the caller, unless somebody else is
//! named. Refuses a curve that is loaded already, and an account that is not there.

use super::{store, wire::ReaderView};
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, InLab},
    named::{Named, Thing},
    request::{Data, Entered, Once, Valid},
    results::{self, Again},
};
use actix_web::{HttpResponse, post};
use domain::{faults::Faults, id::ReaderId, readers::LoadedCurve};

impl Entered for LoadedCurve {
    fn check(&self) -> Result<(), Faults> {
        LoadedCurve::check(self)
    }
}

/// Load curve
#[utoipa::path(tag = "readers",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = ReaderId, Path, description = "Reader"),
        ("Idempotency-Key" = String, Header, description = "A random value of your own, the same when you repeat the request")),
    request_body(content = LoadedCurve, example = json!({"curve_lot": "C-2601", "matrix": "maize", "loaded_at": "2026-03-01T07:00:00Z"})),
    responses((status = 200, body = ReaderView), (status = "4XX", body = Problem)))]
#[post("/v1/laboratories/{lab}/readers/{id}/curves")]
pub(super) async fn load_curve(
    actor: Actor,
    reader: InLab<ReaderId>,
    once: Once,
    body: Valid<LoadedCurve>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::LoadCurve, reader.lab())?;
    app.db
        .act(&permit, &once, body.fingerprint(), async |tx| {
            tx.change_reference().await?;
            let before = store::lock(tx, reader.id().0).await?;
            let mut named = Named::default();
            named.add(Thing::Account, "/loaded_by", body.loaded_by);
            named.must_be_there(tx).await?;
            let mut curve = (*body).clone();
            curve.loaded_by = curve.loaded_by.or(permit.account());
            let after = before.next(tx, before.content.with_curve(curve)?);
            store::save(tx, &after).await?;
            results::ask_again(tx, after.id, after.version, Again::Reader(after.id)).await?;
            Ok((after.version, ReaderView::from(after)))
        })
        .await
}
