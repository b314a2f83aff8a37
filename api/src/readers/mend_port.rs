//! Records that a port of a reader is mended. Refuses a port that was not faulty then.

use super::{store, wire::ReaderView};
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, InLab},
    request::{Data, Entered, Once, Valid},
    results::{self, Again},
};
use actix_web::{HttpResponse, post};
use domain::{faults::Faults, id::ReaderId, time::Moment};
use serde::Deserialize;

/// Which port is mended, and since when.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct MendPort {
    /// Which port, from 1.
    pub port: u8,
    /// From when on it is good.
    pub at: Moment,
}

impl Entered for MendPort {
    fn check(&self) -> Result<(), Faults> {
        Ok(())
    }
}

/// Mend port
#[utoipa::path(tag = "readers",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = ReaderId, Path, description = "Reader"),
        ("Idempotency-Key" = String, Header, description = "A random value of your own, the same when you repeat the request")),
    request_body(content = MendPort, example = json!({"port": 2, "at": "2026-03-02T07:00:00Z"})),
    responses((status = 200, body = ReaderView), (status = "4XX", body = Problem)))]
#[post("/v1/laboratories/{lab}/readers/{id}/port-faults/mending")]
pub(super) async fn mend_port(
    actor: Actor,
    reader: InLab<ReaderId>,
    once: Once,
    body: Valid<MendPort>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::MendPort, reader.lab())?;
    app.db
        .act(&permit, &once, body.fingerprint(), async |tx| {
            tx.change_reference().await?;
            let before = store::lock(tx, reader.id().0).await?;
            let after = before.next(tx, before.content.with_port_mended(body.port, body.at)?);
            store::save(tx, &after).await?;
            results::ask_again(tx, after.id, after.version, Again::Reader(after.id)).await?;
            Ok((after.version, ReaderView::from(after)))
        })
        .await
}
