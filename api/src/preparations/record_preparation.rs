//! Records a step of preparing a sample, filled in from the bench of the sample's site.
//!
//! Refuses a step that does not follow from the one it names, and equipment that is not there.
//! Equipment past its date is taken: what is measured with it is held, not lost.

use super::{
    store,
    wire::{PreparationView, RecordedPreparationView},
};
use crate::{
    db::{Created, Tx},
    error::{Answer, Problem},
    identity::{Action, Actor, Lab},
    ids,
    kept::Kept,
    request::{Data, Entered, Once, Valid},
    results, samples, sites,
};
use actix_web::{HttpResponse, post};
use domain::{faults::Faults, holds::LiftedBy, preparations::Preparation, samples::Sample};
use uuid::Uuid;

impl Entered for Preparation {
    fn check(&self) -> Result<(), Faults> {
        Preparation::check(self)
    }
}

/// Record preparation
#[utoipa::path(tag = "preparations",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("Idempotency-Key" = String, Header, description = "A random value of your own, the same when you repeat the request")),
    request_body(content = Preparation, example = json!({"kind": "extract", "sample": "019ca869-5003-7d46-b59c-6cf85cca57e5", "parent": "019ca869-5003-7d46-b59c-6cf85cca57e6", "at": "2026-03-01T08:40:00Z", "shaking_s": 180, "clarification": "filter", "clarified_volume_ml": "3"})),
    responses((status = 201, body = RecordedPreparationView), (status = "4XX", body = Problem)))]
#[post("/v1/laboratories/{lab}/preparations")]
pub(super) async fn record_preparation(
    actor: Actor,
    lab: Lab,
    once: Once,
    body: Valid<Preparation>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::RecordPreparation, &lab)?;
    let id: Uuid = ids::fresh();
    app.db
        .create(&permit, &once, body.fingerprint(), async |tx| {
            let sample = samples::store::lock(tx, body.sample.0)
                .await
                .map_err(|missing| missing.named_at("/sample"))?;
            let mut typed = (*body).clone();
            typed.by = typed.by.or(permit.account());
            let step = filled(tx, &sample.content, typed.clone()).await?;
            let filled_in = difference(&typed, &step);
            super::check(tx, &step).await?;
            let kept = Kept::first(tx, id, step);
            store::insert(tx, &kept).await?;
            results::assess(tx, &[sample.id], LiftedBy::LaterFact).await?;
            Ok(Created {
                location: format!("/v1/laboratories/{}/preparations/{id}", lab.slug()),
                version: kept.version,
                view: RecordedPreparationView {
                    recorded: PreparationView::from(kept),
                    filled_in,
                },
            })
        })
        .await
}

async fn filled(tx: &mut Tx, sample: &Sample, typed: Preparation) -> Answer<Preparation> {
    match sample.site {
        Some(site) => {
            let site = sites::store::find(tx, site.0).await?;
            Ok(site.content.bench.fill_preparation(typed))
        }
        None => Ok(typed),
    }
}

fn difference(typed: &Preparation, filled: &Preparation) -> Vec<String> {
    [
        ("/procedure", typed.procedure != filled.procedure),
        ("/equipment", typed.equipment != filled.equipment),
        ("/liquids", typed.liquids != filled.liquids),
    ]
    .into_iter()
    .filter(|(_, differs)| *differs)
    .map(|(pointer, _)| pointer.to_owned())
    .collect()
}
