//! Everything that the results of one sample are computed from, read in bulk for many samples.
//!
//! Promises that the samples' rows are locked, in the order of their ids, before anything else of
//! them is read.

use crate::{
    db::Tx,
    error::{Answer, ApiError},
    kept::Kept,
};
use chrono::{DateTime, Utc};
use diesel::{
    QueryableByName,
    sql_types::{Array, Integer, Jsonb, Nullable, Text, Timestamptz, Uuid as SqlUuid},
};
use diesel_async::{AsyncPgConnection, RunQueryDsl as _};
use domain::{
    assessment::{self, RecordedRun},
    holds::Hold,
    lots::Lot,
    orders::Order,
    preparations::Preparation,
    quality_control::SeriesRun,
    results::ResultVersion,
    runs::Run,
    samples::Sample,
    versions::SubjectVersion,
};
use futures_util::future::{try_join, try_join3};
use serde::de::DeserializeOwned;
use std::collections::{BTreeMap, HashMap, HashSet};
use std::sync::Arc;
use uuid::Uuid;

use super::{
    reference::{Reference, Shared},
    series_runs::load_series,
};

/// What there is of one sample.
pub(crate) struct Dossier {
    pub(crate) id: Uuid,
    pub(crate) sample: Shared<Sample>,
    pub(crate) lot: Option<(Uuid, Arc<Shared<Lot>>)>,
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
    content: serde_json::Value,
    #[diesel(sql_type = Timestamptz)]
    created_at: DateTime<Utc>,
    #[diesel(sql_type = Timestamptz)]
    changed_at: DateTime<Utc>,
}

const SAMPLES: &str = "\
    SELECT 'sample' AS kind, sample_id AS id, NULL::uuid AS sample_id, version, content, \
           created_at, changed_at \
      FROM samples_sample WHERE laboratory_id = $1 AND sample_id = ANY($2) \
     ORDER BY sample_id";

/// The samples' lots; the samples' orders and the lots'.
const GOODS: &str = "\
    WITH wanted AS (SELECT DISTINCT lot_id, order_id FROM samples_sample \
                     WHERE laboratory_id = $1 AND sample_id = ANY($2)), \
         lots AS (SELECT * FROM lots_lot \
                   WHERE laboratory_id = $1 AND lot_id IN (SELECT lot_id FROM wanted)) \
    SELECT 'lot' AS kind, lot_id AS id, NULL::uuid AS sample_id, version, content, created_at, \
           changed_at FROM lots UNION ALL \
    SELECT 'order', order_id, NULL, version, content, created_at, changed_at \
      FROM orders_order WHERE laboratory_id = $1 AND order_id IN \
        (SELECT order_id FROM wanted UNION SELECT order_id FROM lots)";

const WORK: &str = "\
    SELECT 'preparation' AS kind, preparation_id AS id, sample_id, version, content, created_at, \
           changed_at \
      FROM preparations_preparation WHERE laboratory_id = $1 AND sample_id = ANY($2) UNION ALL \
    SELECT 'run', run_id, sample_id, version, content, created_at, changed_at \
      FROM runs_run WHERE laboratory_id = $1 AND sample_id = ANY($2) UNION ALL \
    SELECT 'result', result_id, sample_id, version, content, created_at, changed_at \
      FROM results_result WHERE laboratory_id = $1 AND sample_id = ANY($2) UNION ALL \
    SELECT 'hold', hold.hold_id, run.sample_id, hold.version, hold.content, hold.created_at, \
           hold.changed_at \
      FROM runs_run AS run JOIN holds_hold AS hold \
        ON hold.laboratory_id = run.laboratory_id AND hold.subject_id = run.run_id \
     WHERE run.laboratory_id = $1 AND run.sample_id = ANY($2) UNION ALL \
    SELECT 'hold', hold_id, sample_id, version, content, created_at, changed_at \
      FROM holds_hold WHERE laboratory_id = $1 AND sample_id = ANY($2) \
       AND NOT content->'of' ? 'run'";

/// Locks the samples and reads what there is of them. A sample that is not there is left out.
pub(crate) async fn load(tx: &mut Tx, reference: &Reference, samples: &[Uuid]) -> Answer<Dossiers> {
    of(tx, reference, samples, &format!("{SAMPLES} FOR UPDATE")).await
}

/// Takes hold of what many samples share, then locks the samples and reads what there is of them,
/// all in one round trip.
pub(crate) async fn load_with_reference(
    tx: &mut Tx,
    samples: &[Uuid],
) -> Answer<(Arc<Reference>, Dossiers)> {
    let query = format!("{SAMPLES} FOR UPDATE");
    let (stamp, found) = try_join(tx.share_reference(), find(tx, samples, &query)).await?;
    let reference = tx.reference_at(stamp).await?;
    let dossiers = arrange(tx, &reference, found).await?;
    Ok((reference, dossiers))
}

/// Reads what there is of some samples, without locking them: for looking, not for changing.
pub(crate) async fn read(tx: &mut Tx, reference: &Reference, samples: &[Uuid]) -> Answer<Dossiers> {
    of(tx, reference, samples, SAMPLES).await
}

/// Locks one sample.
///
/// # Errors
/// [`ApiError::NotFound`].
pub(crate) async fn lock(tx: &mut Tx, sample: Uuid) -> Answer<()> {
    let query = format!("{SAMPLES} FOR UPDATE");
    let found = rows(tx.together(), tx.laboratory_id(), &query, &[sample]).await?;
    match found.is_empty() {
        true => Err(ApiError::missing("sample", sample)),
        false => Ok(()),
    }
}

async fn of(tx: &mut Tx, reference: &Reference, samples: &[Uuid], query: &str) -> Answer<Dossiers> {
    let found = find(tx, samples, query).await?;
    arrange(tx, reference, found).await
}

/// Rows of the samples, of their goods, and of what was done with them.
#[derive(Default)]
struct Found {
    samples: Vec<Row>,
    goods: Vec<Row>,
    work: Vec<Row>,
}

/// Sends the queries together; they are done one after the other. So what belongs to the samples
/// is read once they are locked, when nothing of it can change any more.
async fn find(tx: &Tx, samples: &[Uuid], query: &str) -> Answer<Found> {
    if samples.is_empty() {
        return Ok(Found::default());
    }
    let (laboratory, connection) = (tx.laboratory_id(), tx.together());
    let (samples, goods, work) = try_join3(
        rows(connection, laboratory, query, samples),
        rows(connection, laboratory, GOODS, samples),
        rows(connection, laboratory, WORK, samples),
    )
    .await?;
    Ok(Found {
        samples,
        goods,
        work,
    })
}

async fn arrange(tx: &mut Tx, reference: &Reference, found: Found) -> Answer<Dossiers> {
    let mut dossiers = Dossiers::default();
    for row in found.samples {
        let dossier = Dossier {
            id: row.id,
            sample: Shared {
                version: row.version,
                content: parsed(row.content)?,
            },
            lot: None,
            order: None,
            preparations: Vec::new(),
            runs: Vec::new(),
            results: Vec::new(),
            holds: Vec::new(),
        };
        dossiers.samples.insert(row.id, dossier);
    }
    place_goods(&mut dossiers, found.goods)?;
    for row in found.work {
        place(&mut dossiers, row)?;
    }
    for dossier in dossiers.samples.values_mut() {
        dossier.preparations.sort_by_key(|(id, _)| *id);
        dossier.runs.sort_by_key(|run| run.id);
        dossier.results.sort_by_key(|result| result.id);
        dossier.holds.sort_by_key(|hold| hold.id);
    }
    let wanted: HashSet<Uuid> = dossiers
        .samples
        .values()
        .flat_map(|dossier| dossier.runs.iter())
        .filter_map(|run| run.content.entry.series.map(|series| series.0))
        .collect();
    load_series(tx, reference, &mut dossiers, wanted.into_iter().collect()).await?;
    Ok(dossiers)
}

/// One sample is asked for by an equality: PostgreSQL keeps the plan of that, but makes the plan of
/// an array anew with each call, which takes longer than the rows.
async fn rows(
    mut connection: &AsyncPgConnection,
    laboratory: i32,
    query: &str,
    samples: &[Uuid],
) -> Answer<Vec<Row>> {
    if let [sample] = samples {
        let query = query.replace("= ANY($2)", "= $2");
        return Ok(crate::statement::statement(query)
            .bind::<Integer, _>(laboratory)
            .bind::<SqlUuid, _>(*sample)
            .load(&mut connection)
            .await?);
    }
    Ok(crate::statement::statement(query)
        .bind::<Integer, _>(laboratory)
        .bind::<Array<SqlUuid>, _>(samples)
        .load(&mut connection)
        .await?)
}

fn parsed<T: DeserializeOwned>(content: serde_json::Value) -> Answer<T> {
    serde_json::from_value(content).map_err(ApiError::internal)
}

/// Gives each sample its lot and its order: the one that the sample names, else its lot's.
fn place_goods(dossiers: &mut Dossiers, rows: Vec<Row>) -> Answer<()> {
    let mut lots: HashMap<Uuid, Arc<Shared<Lot>>> = HashMap::new();
    let mut orders: HashMap<Uuid, Arc<Shared<Order>>> = HashMap::new();
    for row in rows {
        let version = row.version;
        if row.kind == "lot" {
            let content = parsed(row.content)?;
            lots.insert(row.id, Arc::new(Shared { version, content }));
        } else {
            let content = parsed(row.content)?;
            orders.insert(row.id, Arc::new(Shared { version, content }));
        }
    }
    for dossier in dossiers.samples.values_mut() {
        let sample = &dossier.sample.content;
        dossier.lot = sample
            .lot
            .and_then(|id| Some((id.0, Arc::clone(lots.get(&id.0)?))));
        let of_lot = dossier.lot.as_ref().and_then(|(_, lot)| lot.content.order);
        dossier.order = sample
            .order
            .or(of_lot)
            .and_then(|id| Some((id.0, Arc::clone(orders.get(&id.0)?))));
    }
    Ok(())
}

fn place(dossiers: &mut Dossiers, row: Row) -> Answer<()> {
    let Some(dossier) = row.sample_id.and_then(|id| dossiers.samples.get_mut(&id)) else {
        return Ok(());
    };
    match row.kind.as_str() {
        "preparation" => {
            let shared = Shared {
                version: row.version,
                content: parsed(row.content)?,
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
        content: parsed(row.content)?,
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
