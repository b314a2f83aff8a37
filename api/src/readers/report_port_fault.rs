//! Records that a port of a reader is faulty from a moment on.
//!
//! Refuses a port that the reader does not have, and one that is faulty already.

use super::{store, wire::ReaderView};
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, InLab},
    request::{Data, Entered, Once, Valid},
    results::{self, Again},
};
use actix_web::{HttpResponse, post};
use domain::{entries, faults::Faults, id::ReaderId, readers::PortFault, time::Moment};
use serde::Deserialize;

/// What is wrong with a port.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ReportPortFault {
    /// Which port, from 1.
    pub port: u8,
    /// From when on.
    pub since: Moment,
    /// What was seen.
    #[serde(default)]
    pub observation: Option<String>,
}

impl Entered for ReportPortFault {
    fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        let seen = self.observation.as_deref();
        entries::optional_text(&mut faults, "/observation", seen, entries::TEXT_LENGTH);
        faults.into_result()
    }
}

impl ReportPortFault {
    fn fault(&self) -> PortFault {
        PortFault {
            port: self.port,
            since: self.since,
            until: None,
            observation: self.observation.clone(),
        }
    }
}

/// Report port fault
#[utoipa::path(tag = "readers",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = ReaderId, Path, description = "Reader"),
        ("Idempotency-Key" = String, Header, description = "A random value of your own, the same when you repeat the request")),
    request_body(content = ReportPortFault, example = json!({"port": 2, "since": "2026-03-01T07:00:00Z", "observation": "The lamp flickers."})),
    responses((status = 200, body = ReaderView), (status = "4XX", body = Problem)))]
#[post("/v1/laboratories/{lab}/readers/{id}/port-faults")]
pub(super) async fn report_port_fault(
    actor: Actor,
    reader: InLab<ReaderId>,
    once: Once,
    body: Valid<ReportPortFault>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReportPortFault, reader.lab())?;
    app.db
        .act(&permit, &once, body.fingerprint(), async |tx| {
            tx.change_reference().await?;
            let before = store::lock(tx, reader.id().0).await?;
            let after = before.next(tx, before.content.with_port_fault(body.fault())?);
            store::save(tx, &after).await?;
            results::ask_again(tx, after.id, after.version, Again::Reader(after.id)).await?;
            Ok((after.version, ReaderView::from(after)))
        })
        .await
}
