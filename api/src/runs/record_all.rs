//! Records runs by the hundred thousand, in one transaction.
//!
//! Promises that three things go on at once: the database stores what was computed, a thread of
//! its own computes, and the dossiers of the next samples are read; and that memory holds a few
//! thousand runs of all this, however many there are. The samples are locked in the order of their
//! ids, so that two imports never wait for each other in a ring.

use super::record::{Made, NewRun, Placed, record_made};
use crate::{
    db::Tx,
    error::{Answer, ApiError},
    ledger::SealingAhead,
    results::{Dossiers, Reference, load_dossiers},
    statement::Batch,
};
use actix_web::web;
use domain::{id::RunId, runs::RunError, time::Moment};
use futures_util::future::try_join3;
use std::{collections::BTreeSet, iter::Peekable, sync::Arc};
use uuid::Uuid;

/// How many samples are computed at once, and how many runs: bounds memory, not meaning.
const SAMPLES_AT_ONCE: usize = 500;
const RUNS_AT_ONCE: usize = 1000;

/// What became of a run: it is recorded, or why it is none.
type Recorded = Result<RunId, RunError>;

/// Records runs; the answers are in the order of the runs.
///
/// # Errors
/// Where the database fails; then nothing was recorded.
pub(crate) async fn record_all(tx: &mut Tx, runs: Vec<NewRun>) -> Answer<Vec<Recorded>> {
    let reference = tx.reference().await?;
    let mut answers: Vec<Option<Recorded>> = Vec::new();
    answers.resize_with(runs.len(), || None);
    let mut keep = |told: Vec<(usize, Recorded)>| {
        for (place, answer) in told {
            if let Some(slot) = answers.get_mut(place) {
                *slot = Some(answer);
            }
        }
    };
    let in_series = runs.iter().any(|run| run.entry.series.is_some());
    let chunks = Chunks::of(runs);
    if in_series {
        // Runs of a series bear on each other across chunks: one chunk after the other.
        for chunk in chunks {
            let dossiers = load_dossiers(tx, &reference, &chunk.samples).await?;
            let mut made = Made::of(&reference, dossiers, chunk.runs, tx.now());
            record_made(tx, &reference, &mut made).await?;
            tx.send_last().await?;
            keep(made.answers);
        }
    } else {
        overlapping(tx, &reference, chunks, &mut keep).await?;
    }
    Ok(answers.into_iter().flatten().collect())
}

/// While one chunk is computed, the one before is stored and the one after it is read.
async fn overlapping(
    tx: &mut Tx,
    reference: &Arc<Reference>,
    mut chunks: Chunks,
    keep: &mut impl FnMut(Vec<(usize, Recorded)>),
) -> Answer<()> {
    let mut ahead = SealingAhead::begin(tx).await?;
    let here: &Tx = tx;
    let mut next = read(here, reference, chunks.next()).await?;
    let mut batch = Batch::default();
    while let Some((chunk, dossiers)) = next {
        let work = Work {
            reference: Arc::clone(reference),
            dossiers,
            runs: chunk.runs,
            laboratory: here.laboratory_id(),
            now: here.now(),
            ahead,
        };
        let work = web::block(move || work.done());
        // The order matters: what is read next is computed next, what is stored only has to be
        // stored by the end.
        let (found, (), done) = try_join3(
            read(here, reference, chunks.next()),
            batch.send(here),
            async { work.await.map_err(ApiError::internal)? },
        )
        .await?;
        keep(done.answers);
        (next, batch, ahead) = (found, done.batch, done.ahead);
    }
    batch.send(here).await?;
    ahead.end(tx);
    Ok(())
}

async fn read(
    tx: &Tx,
    reference: &Reference,
    chunk: Option<Chunk>,
) -> Answer<Option<(Chunk, Dossiers)>> {
    let Some(chunk) = chunk else {
        return Ok(None);
    };
    let dossiers = load_dossiers(tx, reference, &chunk.samples).await?;
    Ok(Some((chunk, dossiers)))
}

/// All that computing a chunk takes; it needs no database.
struct Work {
    reference: Arc<Reference>,
    dossiers: Dossiers,
    runs: Vec<Placed>,
    laboratory: i32,
    now: Moment,
    ahead: SealingAhead,
}

/// What came of it.
struct Done {
    answers: Vec<(usize, Recorded)>,
    batch: Batch,
    ahead: SealingAhead,
}

impl Work {
    fn done(mut self) -> Answer<Done> {
        let mut made = Made::of(&self.reference, self.dossiers, self.runs, self.now);
        let changed = made.outcome(&self.reference, self.now)?;
        let mut batch = Batch::default();
        made.add_rows(self.laboratory, self.now, &mut batch)?;
        changed.add_rows(self.laboratory, self.now, &mut batch)?;
        let records = made.records(&changed)?;
        let earlier = std::mem::take(&mut made.dossiers.earlier);
        self.ahead.add(records, earlier, &mut batch)?;
        Ok(Done {
            answers: made.answers,
            batch,
            ahead: self.ahead,
        })
    }
}

/// Runs of some samples: all that there are of each.
struct Chunk {
    runs: Vec<Placed>,
    samples: Vec<Uuid>,
}

/// The runs in chunks, in the order of their samples' ids.
struct Chunks(Peekable<std::vec::IntoIter<Placed>>);

impl Chunks {
    fn of(runs: Vec<NewRun>) -> Self {
        let mut order: Vec<Placed> = runs
            .into_iter()
            .enumerate()
            .map(|(place, run)| (run.entry.sample.map(|id| id.0), place, run))
            .collect();
        order.sort_by_key(|(sample, place, _)| (*sample, *place));
        Self(order.into_iter().peekable())
    }
}

impl Iterator for Chunks {
    type Item = Chunk;

    fn next(&mut self) -> Option<Chunk> {
        let mut runs = Vec::new();
        let mut samples = BTreeSet::new();
        while let Some((sample, _, _)) = self.0.peek() {
            let is_full = samples.len() >= SAMPLES_AT_ONCE || runs.len() >= RUNS_AT_ONCE;
            if is_full && !sample.is_some_and(|id| samples.contains(&id)) {
                break;
            }
            samples.extend(*sample);
            runs.extend(self.0.next());
        }
        (!runs.is_empty()).then(|| Chunk {
            runs,
            samples: samples.into_iter().collect(),
        })
    }
}
