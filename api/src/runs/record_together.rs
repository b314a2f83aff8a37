//! Records readings that are typed or posted at about the same time in one transaction, each with
//! an act of its own.
//!
//! Promises that nobody waits for company: a reading that comes alone is recorded at once, those
//! that come while others are being recorded go together as soon as these are done. Leaves to be
//! recorded alone what bears on more than its own sample, and whatever the others must not fail by.

use super::{
    gathering::{Turn, WaitingReading},
    record::{Made, NewRun, Placed},
    wire::RunView,
};
use crate::{
    app::App,
    db::{Answered, Asking, Created, MadeFor, Tx},
    error::{Answer, chain},
    kept::Kept,
    ledger::Hashes,
    request::Data,
    results::{self, HeldSamples, Outcome, hold_samples},
    statement::Batch,
};
use domain::{holds::LiftedBy, runs::Run, samples::Purpose};
use std::collections::{BTreeSet, HashMap};
use tokio::sync::oneshot;
use uuid::Uuid;

/// Records a reading with those that come at the same time; none where it has to be recorded
/// alone.
pub(super) async fn record_together(app: &Data, asking: &Asking, run: &NewRun) -> Option<Answered> {
    let sample = run.entry.sample.filter(|_| run.entry.series.is_none())?;
    let laboratory = asking.permit.laboratory().number;
    let (tell, told) = oneshot::channel();
    let is_first = app.readings.add(
        laboratory,
        WaitingReading {
            asking: asking.clone(),
            sample: sample.0,
            run: run.clone(),
            tell,
        },
    );
    if is_first {
        // A task of its own: it goes on for the others when this caller hangs up.
        actix_web::rt::spawn(record_what_waits(app.clone(), laboratory));
    }
    told.await.ok()
}

async fn record_what_waits(app: Data, laboratory: i32) {
    let mut turn = Turn::of(&app.readings, laboratory);
    while let Some(readings) = turn.next_group() {
        record(&app, readings).await;
    }
}

async fn record(app: &App, readings: Vec<WaitingReading>) {
    let (mut asking, mut samples, mut runs, mut tell) = (vec![], vec![], vec![], vec![]);
    for reading in readings {
        asking.push(reading.asking);
        samples.push(reading.sample);
        runs.push((reading.sample, reading.run));
        tell.push(reading.tell);
    }
    let ahead = async |tx: &Tx| hold_samples(tx, &samples).await;
    let work = async |tx: &mut Tx, held: HeldSamples, free: &[bool]| {
        let wanted = runs.iter().zip(free).enumerate();
        let wanted = wanted
            .filter(|(_, (_, free))| **free)
            .map(|(place, ((sample, run), _))| (Some(*sample), place, run.clone()))
            .collect();
        let mut made = Vec::new();
        made.resize_with(runs.len(), || None);
        for (place, one) in make(tx, held, wanted).await? {
            if let Some(slot) = made.get_mut(place) {
                *slot = Some(one);
            }
        }
        Ok(made)
    };
    match app.db.create_together(&asking, ahead, work).await {
        Ok(answers) => {
            for (tell, answer) in tell.into_iter().zip(answers) {
                if let Some(answer) = answer {
                    // Whoever hung up finds the answer when they repeat the request.
                    drop(tell.send(answer));
                }
            }
        }
        Err(error) => {
            let cause = chain(&error);
            tracing::debug!(cause, "readings are recorded one by one after all");
        }
    }
}

/// Makes the runs and what follows from them, each with its place; the rows are left for the end
/// of the transaction.
async fn make(
    tx: &mut Tx,
    held: HeldSamples,
    mut wanted: Vec<Placed>,
) -> Answer<Vec<(usize, MadeFor<RunView>)>> {
    let (laboratory, now) = (tx.laboratory_id(), tx.now());
    let (reference, dossiers) = held.loaded(tx).await?;
    // A control bears on what was read beside it.
    wanted.retain(|(sample, _, _)| {
        let dossier = sample.and_then(|id| dossiers.samples.get(&id));
        dossier.is_some_and(|one| one.sample.content.purpose != Purpose::Control)
    });
    let mut made = Made::of(&reference, dossiers, wanted, now);
    let recorded: BTreeSet<Uuid> = made
        .kept
        .iter()
        .filter_map(|(run, _)| sample_of(run))
        .collect();
    made.dossiers.samples.retain(|id, _| recorded.contains(id));
    let how = LiftedBy::AnotherRun;
    let outcomes = results::outcomes_by_sample(&reference, &made.dossiers, how, now)?;
    let mut outcomes: HashMap<Uuid, Outcome> = outcomes.into_iter().collect();
    let mut all = Outcome::default();
    let mut found = Vec::with_capacity(made.kept.len());
    for (run, _) in &made.kept {
        let outcome = sample_of(run).and_then(|id| outcomes.remove(&id));
        let outcome = outcome.unwrap_or_default();
        let place = made.answers.iter().find_map(|(place, answer)| {
            answer
                .as_ref()
                .is_ok_and(|id| id.0 == run.id)
                .then_some(*place)
        });
        if let Some(place) = place {
            let one = made_for(tx, run, &outcome, &made.dossiers.earlier)?;
            found.push((place, one));
        }
        all.add(outcome);
    }
    let mut batch = Batch::default();
    made.add_rows(laboratory, now, &mut batch)?;
    all.add_rows(laboratory, now, &mut batch)?;
    tx.at_last(batch);
    Ok(found)
}

fn sample_of(run: &Kept<Run>) -> Option<Uuid> {
    run.content.entry.sample.map(|id| id.0)
}

fn made_for(
    tx: &Tx,
    run: &Kept<Run>,
    outcome: &Outcome,
    known: &Hashes,
) -> Answer<MadeFor<RunView>> {
    let mut records = vec![run.as_record()?];
    records.extend(outcome.records()?);
    let mut earlier = Hashes::new();
    for record in &records {
        let before = (record.subject, record.version.saturating_sub(1));
        earlier.extend(known.get(&before).map(|hash| (before, *hash)));
    }
    let mut holds: Vec<_> = outcome.holds.clone();
    holds.retain(|hold| hold.content.of.subject() == run.id);
    holds.sort_by_key(|hold| hold.id);
    Ok(MadeFor {
        created: Created {
            location: format!("/v1/laboratories/{}/runs/{}", tx.laboratory().slug, run.id),
            version: run.version,
            view: RunView::with_holds(run.clone(), &holds),
        },
        records,
        earlier,
    })
}
