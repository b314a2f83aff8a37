//! Registers a reader. Refuses a serial number that is in use, and a site or account that is
//! not there.

use super::{store, wire::ReaderView};
use crate::{
    db::Created,
    error::{Answer, Problem},
    identity::{Action, Actor, Lab},
    ids,
    kept::Kept,
    request::{Data, Entered, Once, Valid},
    results::{self, Again},
};
use actix_web::{HttpResponse, post};
use domain::{faults::Faults, readers::Reader};
use uuid::Uuid;

impl Entered for Reader {
    fn check(&self) -> Result<(), Faults> {
        Reader::check(self)
    }
}

/// Register reader
#[utoipa::path(tag = "readers",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("Idempotency-Key" = String, Header, description = "A random value of your own, the same when you repeat the request")),
    request_body(content = Reader, example = json!({"serial": "R-1001", "name": "bench 1", "ports": 3, "calibration_due_on": "2027-01-31"})),
    responses((status = 201, body = ReaderView), (status = "4XX", body = Problem)))]
#[post("/v1/laboratories/{lab}/readers")]
pub(super) async fn register_reader(
    actor: Actor,
    lab: Lab,
    once: Once,
    body: Valid<Reader>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::RegisterReader, &lab)?;
    let id: Uuid = ids::fresh();
    app.db
        .create(&permit, &once, body.fingerprint(), async |tx| {
            tx.change_reference().await?;
            super::names(&body, "").must_be_there(tx).await?;
            let kept = Kept::first(tx, id, (*body).clone());
            store::insert(tx, &kept).await?;
            results::ask_again(tx, id, kept.version, Again::Reader(id)).await?;
            Ok(Created {
                location: format!("/v1/laboratories/{}/readers/{id}", lab.slug()),
                version: kept.version,
                view: ReaderView::from(kept),
            })
        })
        .await
}
