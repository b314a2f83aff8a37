//! Records a run and its readings; the sample's results are computed at once.

use super::{
    record::{NewRun, hold_sample, record_one},
    record_together::record_together,
    wire::RunView,
};
use crate::{
    db::{Asking, Created, Tx},
    error::{Answer, Problem},
    identity::{Action, Actor, Lab},
    ids,
    request::{Data, Entered, Once, Valid},
};
use actix_web::{HttpResponse, post};
use domain::{
    faults::Faults,
    id::RunId,
    runs::{Origin, RunContext, RunEntry},
};

impl Entered for RunEntry {
    fn check(&self) -> Result<(), Faults> {
        if self.read_at.is_none() && self.readings.is_empty() && self.begun_at.is_some() {
            return self.check_beginning(&RunContext::default());
        }
        RunEntry::check(self, &RunContext::default())
    }
}

/// Record run
///
/// What is amiss with the run holds it: `holds` says what, and what lifts it.
#[utoipa::path(tag = "runs",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("Idempotency-Key" = String, Header, description = "A random value of your own, the same when you repeat the request")),
    request_body(content = RunEntry, example = json!({"sample": "019ca869-5003-7d46-b59c-6cf85cca57e4", "kit_lot_code": "AF-2601", "reader_serial": "R-1", "port": 2, "begun_at": "2026-03-01T08:25:00Z", "read_at": "2026-03-01T08:31:00Z", "dilution": [{"sample_volume_ul": "100", "diluent_volume_ul": "500", "diluent": "water"}], "readings": [{"analyte": "aflatoxin-total", "kind": "number", "value": "46", "unit": "ug/kg"}]})),
    responses((status = 201, body = RunView), (status = "4XX", body = Problem)))]
#[post("/v1/laboratories/{lab}/runs")]
pub(super) async fn record_run(
    actor: Actor,
    lab: Lab,
    once: Once,
    body: Valid<RunEntry>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::RecordRun, &lab)?;
    let id: RunId = ids::fresh();
    let mut entry = (*body).clone();
    // Who types a run at the bench ran it, unless they say who did.
    entry.analyst = entry.analyst.or(permit.account());
    let new = NewRun {
        id,
        entry,
        origins: vec![Origin::bench()],
        import_key: None,
        begun: false,
    };
    let asking = Asking {
        permit,
        once,
        fingerprint: body.fingerprint(),
    };
    if let Some(answered) = record_together(&app, &asking, &new).await {
        return Ok(answered.into_response());
    }
    let ahead = async |tx: &Tx| hold_sample(tx, &new.entry).await;
    app.db
        .create_after(
            &asking.permit,
            &asking.once,
            asking.fingerprint,
            ahead,
            async |tx, held| {
                let (run, holds) = record_one(tx, held, new.clone()).await?;
                Ok(Created {
                    location: format!("/v1/laboratories/{}/runs/{id}", lab.slug()),
                    version: run.version,
                    view: RunView::with_holds(run, &holds),
                })
            },
        )
        .await
}
