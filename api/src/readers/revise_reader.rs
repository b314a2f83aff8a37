//! Changes a reader. Refuses a stale version, and a change without a reason.
//!
//! The change is a correction: the old version stays readable.

use super::{store, wire::ReaderView};
use crate::{
    corrections::{self, Reason},
    error::{Answer, Problem},
    identity::{Action, Actor, InLab},
    request::{Data, Entered, Seen, Valid, shown},
    results::{self, Again},
};
use actix_web::{HttpRequest, HttpResponse, put};
use domain::{faults::Faults, id::ReaderId, readers::Reader};
use serde::Deserialize;

/// The reader as it is to be, and why.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ReviseReader {
    /// The reader as it is to be.
    pub reader: Reader,
    /// Why it changes.
    pub reason: Reason,
}

impl Entered for ReviseReader {
    fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        faults.nest("/reader", self.reader.check());
        faults.nest("/reason", self.reason.check());
        faults.into_result()
    }
}

/// Revise reader
#[utoipa::path(tag = "readers",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = ReaderId, Path, description = "Reader"),
        ("If-Match" = String, Header, description = "ETag of the version that you saw")),
    request_body(content = ReviseReader, example = json!({"reader": {"serial": "R-1001", "name": "bench 2", "ports": 3}, "reason": {"code": "late-information", "text": "It stands on another bench now."}})),
    responses((status = 200, body = ReaderView), (status = "4XX", body = Problem)))]
#[put("/v1/laboratories/{lab}/readers/{id}")]
pub(super) async fn revise_reader(
    actor: Actor,
    reader: InLab<ReaderId>,
    seen: Seen,
    body: Valid<ReviseReader>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReviseReader, reader.lab())?;
    let kept = app
        .db
        .write(&permit, async |tx| {
            tx.change_reference().await?;
            let before = store::lock(tx, reader.id().0).await?;
            seen.must_be(before.version)?;
            super::names(&body.reader, "/reader")
                .must_be_there(tx)
                .await?;
            let after = before.next(tx, body.reader.clone());
            corrections::record(tx, &before, &after, &body.reason).await?;
            store::save(tx, &after).await?;
            results::ask_again(tx, after.id, after.version, Again::Reader(after.id)).await?;
            Ok(after)
        })
        .await?;
    Ok(shown(&request, kept.version, &ReaderView::from(kept)))
}
