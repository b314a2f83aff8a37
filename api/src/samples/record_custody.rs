//! Adds a custody event to a sample.
//!
//! Refuses an event before the last one, after disposal, in the future, and the disposal of what
//! is to be kept longer.

use super::{store, wire::SampleView};
use crate::{
    error::{Answer, ApiError, Problem},
    identity::{Action, Actor, InLab},
    named::{Named, Thing},
    request::{Data, Entered, Once, Valid},
};
use actix_web::{HttpResponse, post};
use domain::{
    faults::Faults,
    id::SampleId,
    samples::{CustodyError, CustodyEvent},
};

/// How far a caller's clock may be ahead of the service's. An event further ahead can never be
/// changed and would keep every true one out.
const CLOCK_AHEAD_S: i64 = 300;

impl Entered for CustodyEvent {
    fn check(&self) -> Result<(), Faults> {
        CustodyEvent::check(self)
    }
}

/// Record custody
#[utoipa::path(tag = "samples",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = SampleId, Path, description = "Sample"),
        ("Idempotency-Key" = String, Header, description = "A random value of your own, the same when you repeat the request")),
    request_body(content = CustodyEvent, example = json!({"at": "2026-03-01T09:00:00Z", "action": "moved", "place": "shelf 4"})),
    responses((status = 200, body = SampleView), (status = "4XX", body = Problem)))]
#[post("/v1/laboratories/{lab}/samples/{id}/custody")]
pub(super) async fn record_custody(
    actor: Actor,
    sample: InLab<SampleId>,
    once: Once,
    body: Valid<CustodyEvent>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::RecordCustody, sample.lab())?;
    app.db
        .act(&permit, &once, body.fingerprint(), async |tx| {
            let before = store::lock(tx, sample.id().0).await?;
            let mut event = (*body).clone();
            event.by = event.by.or(permit.account());
            let mut named = Named::default();
            named.add(Thing::Account, "/by", event.by);
            named.must_be_there(tx).await?;
            let (at, now) = (event.at, tx.now());
            if at.seconds_since(now) > CLOCK_AHEAD_S {
                return Err(ApiError::field(
                    "/at",
                    format!("{at} lies in the future; it is {now}. Give the time it happened."),
                ));
            }
            let content = before.content.with_custody(event).map_err(refused)?;
            let after = before.next(tx, content);
            store::save(tx, &after).await?;
            Ok((after.version, SampleView::from(after)))
        })
        .await
}

fn refused(error: CustodyError) -> ApiError {
    let slug = match error {
        CustodyError::Disposed { .. } => "sample-disposed-of",
        CustodyError::OutOfOrder { .. } => "custody-out-of-order",
        CustodyError::StillRetained { .. } => "still-retained",
    };
    let remedy = match error {
        CustodyError::Disposed { .. } => "Look at its custody.",
        CustodyError::OutOfOrder { .. } => "Give the time at which it happened.",
        CustodyError::StillRetained { .. } => {
            "Wait, or revise the retained portion, saying why it is kept less long."
        }
    };
    ApiError::refused(slug, format!("Refused: {error}. {remedy}"))
}
