//! Begins a run: the strip is in the reader, nothing was read yet.
//!
//! Refuses equipment that is past its date: what is recorded afterwards is held, what has not been
//! done yet can still be done right.

use super::{
    record::{NewRun, hold_sample, record_one},
    wire::RunView,
};
use crate::{
    db::{Created, Tx},
    error::{Answer, Problem},
    identity::{Action, Actor, Lab},
    ids,
    request::{Data, Once, Valid},
    results::Reference,
};
use actix_web::{HttpResponse, post};
use domain::{
    id::RunId,
    runs::{Due, DueDate, Origin, RunEntry},
};

/// Begin run
#[utoipa::path(tag = "runs",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("Idempotency-Key" = String, Header, description = "A random value of your own, the same when you repeat the request")),
    request_body(content = RunEntry, example = json!({"sample": "019ca869-5003-7d46-b59c-6cf85cca57e4", "kit_lot_code": "AF-2601", "reader_serial": "R-1", "port": 2, "begun_at": "2026-03-01T08:25:00Z"})),
    responses((status = 201, body = RunView), (status = "4XX", body = Problem)))]
#[post("/v1/laboratories/{lab}/runs/begun")]
pub(super) async fn begin_run(
    actor: Actor,
    lab: Lab,
    once: Once,
    body: Valid<RunEntry>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::BeginRun, &lab)?;
    let id: RunId = ids::fresh();
    let mut entry = (*body).clone();
    entry.analyst = entry.analyst.or(permit.account());
    let ahead = async |tx: &Tx| hold_sample(tx, &entry).await;
    app.db
        .create_after(
            &permit,
            &once,
            body.fingerprint(),
            ahead,
            async |tx, held| {
                let new = NewRun {
                    id,
                    entry: entry.clone(),
                    origins: vec![Origin::bench()],
                    import_key: None,
                    begun: true,
                };
                let (run, _) = record_one(tx, held, new).await?;
                Ok(Created {
                    location: format!("/v1/laboratories/{}/runs/{id}", lab.slug()),
                    version: run.version,
                    view: RunView::with_holds(run, &[]),
                })
            },
        )
        .await
}

/// The dates of everything that a run is going to use.
pub(super) fn due_dates(reference: &Reference, entry: &RunEntry) -> Vec<DueDate> {
    let mut dates = Vec::new();
    let mut add = |of: Due, on: Option<chrono::NaiveDate>| {
        dates.extend(on.map(|on| DueDate { of, on }));
    };
    if let Some((id, reader)) = entry
        .reader
        .and_then(|id| Some((id, reference.readers.get(&id.0)?)))
    {
        add(
            Due::ReaderCalibration(id),
            reader.content.calibration_due_on,
        );
        add(Due::ReaderCheck(id), reader.content.check_due_on);
    }
    if let Some((id, lot)) = entry
        .kit_lot
        .and_then(|id| Some((id, reference.kit_lots.get(&id.0)?)))
    {
        add(Due::KitLot(id), Some(lot.content.entry.expires_on));
        for packet in &lot.content.entry.packets {
            add(Due::KitLot(id), packet.expires_on);
        }
    }
    let pipettes = entry
        .dilution
        .iter()
        .flat_map(|step| [step.pipette, step.diluent_pipette]);
    for id in pipettes.flatten() {
        if let Some(item) = reference.equipment.get(&id.0) {
            add(
                Due::EquipmentCalibration(id),
                item.content.calibration_due_on,
            );
            add(Due::EquipmentCheck(id), item.content.check_due_on);
        }
    }
    dates
}
