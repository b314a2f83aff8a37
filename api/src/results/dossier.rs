//! Everything that the results of one sample are computed from, read in bulk for many samples.
//!
//! Promises that the samples' rows are locked, in the order of their ids, before anything else of
//! them is read.

use crate::{
    db::Tx,
    error::{Answer, ApiError},
    kept::Kept,
    ledger::Hashes,
    statement::statement,
};
use actix_web::web;
use chrono::{DateTime, Utc};
use diesel::{
    QueryableByName,
    sql_types::{Array, Binary, Integer, Jsonb, Nullable, Text, Timestamptz, Uuid as SqlUuid},
};
use diesel_async::RunQueryDsl as _;
use domain::{
    assessment::{self, RecordedRun},
    holds::Hold,
    ledger::Hash,
    lots::Lot,
    orders::Order,
    preparations::Preparation,
    quality_control::SeriesRun,
    results::ResultVersion,
    runs::Run,
    samples::Sample,
    samplings::Sampling,
    versions::SubjectVersion,
};
use futures_util::future::try_join;
use serde::de::DeserializeOwned;
use std::collections::{BTreeMap, HashMap, HashSet};
use std::sync::Arc;
use uuid::Uuid;

mod queries;

use self::queries::{LOCK, LOOK, Queries, REST};
use super::{
    reference::{Reference, Shared},
    series_runs::load_series,
    unparsed::Unparsed,
};

/// What there is of one sample.
pub(crate) struct Dossier {
    pub(crate) id: Uuid,
    pub(crate) sample: Shared<Sample>,
    pub(crate) lot: Option<(Uuid, Arc<Shared<Lot>>)>,
    pub(crate) sampling: Option<(Uuid, Arc<Shared<Sampling>>)>,
    pub(crate) order: Option<(Uuid, Arc<Shared<Order>>)>,
    pub(crate) preparations: Vec<(Uuid, Shared<Preparation>)>,
    pub(crate) runs: Vec<Kept<Run>>,
    pub(crate) results: Vec<Kept<ResultVersion>>,
    pub(crate) holds: Vec<Kept<Hold>>,
}

impl Dossier {
    /// As the domain's rules take it.
    pub(crate) fn facts(&self) -> assessment::Dossier<'_> {
        assessment::Dossier {
            sample: self.sample.facts(self.id),
            lot: self.lot.as_ref().map(|(id, lot)| lot.facts(*id)),
            sampling: self.sampling.as_ref().map(|(id, one)| one.facts(*id)),
            order: self.order.as_ref().map(|(id, order)| order.facts(*id)),
            preparations: self
                .preparations
                .iter()
                .map(|(id, shared)| shared.facts(*id))
                .collect(),
            runs: self.runs.iter().map(recorded).collect(),
        }
    }
}

/// A run as the domain's rules take it.
pub(super) fn recorded(run: &Kept<Run>) -> RecordedRun<'_> {
    RecordedRun {
        source: source(run.id, run.version),
        run: &run.content,
        recorded_at: run.created_at,
    }
}

/// The dossiers of some samples, and the series that their runs belong to.
#[derive(Default)]
pub(crate) struct Dossiers {
    pub(crate) samples: BTreeMap<Uuid, Dossier>,
    pub(crate) series: HashMap<Uuid, Vec<SeriesRun>>,
    /// Hashes of what may be followed by a later version.
    pub(crate) earlier: Hashes,
}

#[derive(QueryableByName)]
struct Row {
    #[diesel(sql_type = Text)]
    kind: String,
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    sample_id: Option<Uuid>,
    #[diesel(sql_type = Integer)]
    version: i32,
    #[diesel(sql_type = Jsonb)]
    content: Unparsed,
    #[diesel(sql_type = Timestamptz)]
    created_at: DateTime<Utc>,
    #[diesel(sql_type = Timestamptz)]
    changed_at: DateTime<Utc>,
    #[diesel(sql_type = Nullable<Binary>)]
    record_hash: Option<Vec<u8>>,
}

/// Locks the samples and reads what there is of them. A sample that is not there is left out.
pub(crate) async fn load(tx: &Tx, reference: &Reference, samples: &[Uuid]) -> Answer<Dossiers> {
    of(tx, reference, samples, &LOCK).await
}

/// Takes hold of what many samples share, then locks the samples and reads what there is of them,
/// all in one round trip.
pub(crate) async fn load_with_reference(
    tx: &mut Tx,
    samples: &[Uuid],
) -> Answer<(Arc<Reference>, Dossiers)> {
    let held = hold(tx, samples).await?;
    held.loaded(tx).await
}

/// Samples that are locked, and all that was read of them.
pub(crate) struct HeldSamples {
    stamp: i64,
    found: Found,
}

/// Takes hold of what many samples share and locks the samples, as [`load_with_reference`] does.
pub(crate) async fn hold(tx: &Tx, samples: &[Uuid]) -> Answer<HeldSamples> {
    let (stamp, found) = try_join(tx.share_reference(), find(tx, samples, &LOCK)).await?;
    Ok(HeldSamples { stamp, found })
}

impl HeldSamples {
    /// What many samples share, and the samples' dossiers.
    pub(crate) async fn loaded(self, tx: &mut Tx) -> Answer<(Arc<Reference>, Dossiers)> {
        let reference = tx.reference_at(self.stamp).await?;
        let dossiers = arrange(tx, &reference, self.found).await?;
        Ok((reference, dossiers))
    }
}

/// Reads what there is of some samples, without locking them: for looking, not for changing.
pub(crate) async fn read(tx: &Tx, reference: &Reference, samples: &[Uuid]) -> Answer<Dossiers> {
    of(tx, reference, samples, &LOOK).await
}

/// Locks one sample.
///
/// # Errors
/// [`ApiError::NotFound`].
pub(crate) async fn lock(tx: &mut Tx, sample: Uuid) -> Answer<()> {
    let found = rows(tx, &LOCK, &[sample]).await?;
    match found.is_empty() {
        true => Err(ApiError::missing("sample", sample)),
        false => Ok(()),
    }
}

async fn of(tx: &Tx, reference: &Reference, samples: &[Uuid], query: &Queries) -> Answer<Dossiers> {
    let found = find(tx, samples, query).await?;
    arrange(tx, reference, found).await
}

/// Rows of the samples, and of their goods and what was done with them.
#[derive(Default)]
struct Found {
    samples: Vec<Row>,
    rest: Vec<Row>,
}

/// Sends both queries together; they are done one after the other. So what belongs to the samples
/// is read once they are locked, when nothing of it can change any more.
async fn find(tx: &Tx, samples: &[Uuid], query: &Queries) -> Answer<Found> {
    if samples.is_empty() {
        return Ok(Found::default());
    }
    let (samples, rest) = try_join(rows(tx, query, samples), rows(tx, &REST, samples)).await?;
    Ok(Found { samples, rest })
}

/// So many rows are parsed on a thread of their own; the threads that serve requests go on serving.
const MANY_ROWS: usize = 50;

async fn arrange(tx: &Tx, reference: &Reference, found: Found) -> Answer<Dossiers> {
    let rows = found.samples.len().saturating_add(found.rest.len());
    let mut dossiers = if rows > MANY_ROWS {
        let parsed = web::block(move || arranged(found)).await;
        parsed.map_err(ApiError::internal)??
    } else {
        arranged(found)?
    };
    let wanted: HashSet<Uuid> = dossiers
        .samples
        .values()
        .flat_map(|dossier| dossier.runs.iter())
        .filter_map(|run| run.content.entry.series.map(|series| series.0))
        .collect();
    load_series(tx, reference, &mut dossiers, wanted.into_iter().collect()).await?;
    Ok(dossiers)
}

fn arranged(found: Found) -> Answer<Dossiers> {
    let mut dossiers = Dossiers::default();
    for row in found.samples {
        let dossier = Dossier {
            id: row.id,
            sample: Shared {
                version: row.version,
                content: row.content.parsed()?,
            },
            lot: None,
            sampling: None,
            order: None,
            preparations: Vec::new(),
            runs: Vec::new(),
            results: Vec::new(),
            holds: Vec::new(),
        };
        dossiers.samples.insert(row.id, dossier);
    }
    let (goods, work): (Vec<Row>, Vec<Row>) = found
        .rest
        .into_iter()
        .partition(|row| row.sample_id.is_none());
    place_goods(&mut dossiers, goods)?;
    for row in work {
        place(&mut dossiers, row)?;
    }
    for dossier in dossiers.samples.values_mut() {
        dossier.preparations.sort_by_key(|(id, _)| *id);
        dossier.runs.sort_by_key(|run| run.id);
        dossier.results.sort_by_key(|result| result.id);
        dossier.holds.sort_by_key(|hold| hold.id);
    }
    Ok(dossiers)
}

async fn rows(tx: &Tx, query: &Queries, samples: &[Uuid]) -> Answer<Vec<Row>> {
    let laboratory = tx.laboratory_id();
    if let [sample] = samples {
        return Ok(statement(query.one.as_str())
            .bind::<Integer, _>(laboratory)
            .bind::<SqlUuid, _>(*sample)
            .load(&mut tx.together())
            .await?);
    }
    Ok(statement(query.many.as_str())
        .bind::<Integer, _>(laboratory)
        .bind::<Array<SqlUuid>, _>(samples)
        .load(&mut tx.together())
        .await?)
}

/// Gives each sample its lot, its sampling and its order: the one that the sample names, else its
/// lot's.
fn place_goods(dossiers: &mut Dossiers, rows: Vec<Row>) -> Answer<()> {
    let mut lots: HashMap<Uuid, Arc<Shared<Lot>>> = HashMap::new();
    let mut samplings: HashMap<Uuid, Arc<Shared<Sampling>>> = HashMap::new();
    let mut orders: HashMap<Uuid, Arc<Shared<Order>>> = HashMap::new();
    for row in rows {
        match row.kind.as_str() {
            "lot" => lots.insert(row.id, shared(row)?).is_some(),
            "sampling" => samplings.insert(row.id, shared(row)?).is_some(),
            _ => orders.insert(row.id, shared(row)?).is_some(),
        };
    }
    for dossier in dossiers.samples.values_mut() {
        let sample = &dossier.sample.content;
        dossier.lot = sample
            .lot
            .and_then(|id| Some((id.0, Arc::clone(lots.get(&id.0)?))));
        dossier.sampling = sample
            .sampling
            .and_then(|id| Some((id.0, Arc::clone(samplings.get(&id.0)?))));
        let of_lot = dossier.lot.as_ref().and_then(|(_, lot)| lot.content.order);
        dossier.order = sample
            .order
            .or(of_lot)
            .and_then(|id| Some((id.0, Arc::clone(orders.get(&id.0)?))));
    }
    Ok(())
}

fn shared<T: DeserializeOwned>(row: Row) -> Answer<Arc<Shared<T>>> {
    Ok(Arc::new(Shared {
        version: row.version,
        content: row.content.parsed()?,
    }))
}

fn place(dossiers: &mut Dossiers, row: Row) -> Answer<()> {
    let Some(dossier) = row.sample_id.and_then(|id| dossiers.samples.get_mut(&id)) else {
        return Ok(());
    };
    if let Some(hash) = &row.record_hash {
        let hash = Hash::from_slice(hash).map_err(ApiError::internal)?;
        dossiers.earlier.insert((row.id, row.version), hash);
    }
    match row.kind.as_str() {
        "preparation" => {
            let shared = Shared {
                version: row.version,
                content: row.content.parsed()?,
            };
            dossier.preparations.push((row.id, shared));
        }
        "run" => dossier.runs.push(kept(row)?),
        "result" => dossier.results.push(kept(row)?),
        _ => dossier.holds.push(kept(row)?),
    }
    Ok(())
}

fn kept<T: DeserializeOwned>(row: Row) -> Answer<Kept<T>> {
    Ok(Kept {
        id: row.id,
        version: row.version,
        content: row.content.parsed()?,
        created_at: row.created_at.into(),
        changed_at: row.changed_at.into(),
    })
}

/// A version as records name it.
pub(super) fn source(subject: Uuid, version: i32) -> SubjectVersion {
    SubjectVersion {
        subject,
        version: u32::try_from(version).unwrap_or(1),
    }
}
