//! SQL of the rebuilding: the scratch schema, the acts in the order of the log, and the comparing.
//! Makes tables, which are undone with the transaction; changes none that was there.

pub(super) mod comparing;

use super::tables::rebuilt;
use crate::{
    db::{LIVE, Tx},
    error::{Answer, ApiError},
    identity::{Action, LaboratoryKey, REPLAY_ERASURES},
    ids,
};
use chrono::{DateTime, Utc};
use diesel::{
    QueryableByName,
    sql_types::{Array, Binary, Integer, Jsonb, Text, Timestamptz, Uuid as SqlUuid},
};
use diesel_async::{
    AsyncConnection as _, AsyncPgConnection, RunQueryDsl as _, SimpleAsyncConnection as _,
};
use domain::ledger::Disclosure;
use std::{collections::HashMap, fmt::Write as _};
use uuid::Uuid;

/// How many acts are replayed at a time; an act has at most 256 records.
const ACTS_AT_ONCE: u32 = 100;

/// All laboratories, as the owner of the tables sees them.
pub(super) async fn laboratories(owner_url: &str) -> Answer<Vec<LaboratoryKey>> {
    let mut owner = AsyncPgConnection::establish(owner_url)
        .await
        .map_err(|error| ApiError::Unavailable(error.into()))?;
    Ok(crate::statement::statement(
        "SELECT laboratory_id, id, slug FROM laboratories_laboratory ORDER BY laboratory_id",
    )
    .load(&mut owner)
    .await?)
}

/// A table that is built again.
#[derive(QueryableByName)]
pub(super) struct RebuiltTable {
    /// Its name.
    #[diesel(sql_type = Text)]
    pub(super) name: String,
    /// The columns of its key.
    #[diesel(sql_type = Array<Text>)]
    pub(super) key: Vec<String>,
    /// Its other columns.
    #[diesel(sql_type = Array<Text>)]
    pub(super) columns: Vec<String>,
}

/// A schema of copies, in which the transaction's unqualified names are looked up first.
pub(super) struct Scratch {
    /// Its name.
    pub(super) schema: String,
    /// Its tables.
    pub(super) tables: Vec<RebuiltTable>,
}

const TABLES: &str = "\
    SELECT class.relname::text AS name, \
        array_agg(attribute.attname::text ORDER BY attribute.attnum) \
            FILTER (WHERE attribute.attnum = ANY(key.indkey)) AS key, \
        coalesce(array_agg(attribute.attname::text ORDER BY attribute.attnum) \
            FILTER (WHERE attribute.attnum <> ALL(key.indkey)), '{}') AS columns \
    FROM pg_class AS class \
    JOIN pg_namespace AS space ON space.oid = class.relnamespace AND space.nspname = $1 \
    JOIN pg_index AS key ON key.indrelid = class.oid AND key.indisprimary \
    JOIN pg_attribute AS attribute ON attribute.attrelid = class.oid \
        AND attribute.attnum > 0 AND NOT attribute.attisdropped \
    WHERE class.relname = ANY($2) GROUP BY class.relname ORDER BY class.relname";

/// Makes empty copies of the tables, without the columns that are left out. They have the key
/// alone: any other rule held when the rows were written, and may not hold half-way.
pub(super) async fn make_scratch(tx: &mut Tx) -> Answer<Scratch> {
    let wanted: HashMap<&str, Vec<&str>> = rebuilt().collect();
    let mut tables: Vec<RebuiltTable> = crate::statement::statement(TABLES)
        .bind::<Text, _>(LIVE)
        .bind::<Array<Text>, _>(wanted.keys().copied().collect::<Vec<_>>())
        .load(tx.connection())
        .await?;
    if tables.len() != wanted.len() {
        return Err(ApiError::internal(
            "the database lacks tables of the read model: run the migrations",
        ));
    }
    let random: [u8; 8] = ids::random_bytes().map_err(ApiError::internal)?;
    let schema = format!("rebuild_{:016x}", u64::from_be_bytes(random));
    let mut sql = format!("CREATE SCHEMA {schema}; ");
    for table in &mut tables {
        let (name, left_out) = (&table.name, wanted.get(table.name.as_str()));
        write!(
            sql,
            "CREATE UNLOGGED TABLE {schema}.{name} (LIKE {LIVE}.{name} INCLUDING DEFAULTS); "
        )
        .map_err(ApiError::internal)?;
        for column in left_out.into_iter().flatten() {
            write!(sql, "ALTER TABLE {schema}.{name} DROP COLUMN {column}; ")
                .map_err(ApiError::internal)?;
            table.columns.retain(|known| known != column);
        }
        let key = table.key.join(", ");
        write!(sql, "ALTER TABLE {schema}.{name} ADD PRIMARY KEY ({key}); ")
            .map_err(ApiError::internal)?;
    }
    write!(sql, "SET LOCAL search_path = {schema}, {LIVE}").map_err(ApiError::internal)?;
    tx.connection().batch_execute(&sql).await?;
    Ok(Scratch { schema, tables })
}

/// An act as it is stored.
#[derive(QueryableByName)]
pub(super) struct ActRow {
    #[diesel(sql_type = SqlUuid)]
    pub(super) act_id: Uuid,
    #[diesel(sql_type = Text)]
    pub(super) action: String,
    #[diesel(sql_type = Jsonb)]
    pub(super) actor: serde_json::Value,
    #[diesel(sql_type = Timestamptz)]
    pub(super) recorded_at: DateTime<Utc>,
    #[diesel(sql_type = Integer)]
    pub(super) record_count: i32,
    #[diesel(sql_type = Text)]
    pub(super) entry: String,
    #[diesel(sql_type = Binary)]
    pub(super) records: Vec<u8>,
}

/// Lines up the acts in the order of the log, and those that wait for it in the order in which
/// they wait: an act that builds on another was given its place after that one was committed. The
/// ids alone are sorted.
pub(super) async fn open_acts(tx: &mut Tx) -> Answer<()> {
    let laboratory = tx.laboratory_id();
    tx.connection()
        .batch_execute(&format!(
            "DECLARE acts NO SCROLL CURSOR FOR SELECT act_id FROM ledger_act \
             LEFT JOIN ledger_entry USING (laboratory_id, act_id) \
             LEFT JOIN ledger_pending USING (laboratory_id, act_id) \
             WHERE laboratory_id = {laboratory} \
             ORDER BY log_number, entry_index, pending_id, act_id"
        ))
        .await?;
    Ok(())
}

#[derive(QueryableByName)]
struct IdRow {
    #[diesel(sql_type = SqlUuid)]
    act_id: Uuid,
}

/// The next acts; none where all were given.
pub(super) async fn next_acts(tx: &mut Tx) -> Answer<Vec<ActRow>> {
    let ids: Vec<IdRow> = crate::statement::statement(format!("FETCH {ACTS_AT_ONCE} FROM acts"))
        .load(tx.connection())
        .await?;
    if ids.is_empty() {
        return Ok(Vec::new());
    }
    let ids: Vec<Uuid> = ids.into_iter().map(|row| row.act_id).collect();
    acts(tx, ids).await
}

async fn acts(tx: &mut Tx, ids: Vec<Uuid>) -> Answer<Vec<ActRow>> {
    Ok(crate::statement::statement(
        "SELECT act.act_id, action, actor, recorded_at, record_count, entry, records \
         FROM UNNEST($2) WITH ORDINALITY AS wanted (act_id, place) \
         JOIN ledger_act AS act ON act.laboratory_id = $1 AND act.act_id = wanted.act_id \
         ORDER BY wanted.place",
    )
    .bind::<Integer, _>(tx.laboratory_id())
    .bind::<Array<SqlUuid>, _>(ids)
    .load(tx.connection())
    .await?)
}

/// The acts that erased something.
pub(super) async fn erasing_acts(tx: &mut Tx) -> Answer<Vec<ActRow>> {
    let ids: Vec<IdRow> = crate::statement::statement(
        "SELECT act_id FROM ledger_act WHERE laboratory_id = $1 AND action = ANY($2) \
         ORDER BY act_id",
    )
    .bind::<Integer, _>(tx.laboratory_id())
    .bind::<Array<Text>, _>(vec![Action::EraseDisclosures.name(), REPLAY_ERASURES])
    .load(tx.connection())
    .await?;
    acts(tx, ids.into_iter().map(|row| row.act_id).collect()).await
}

#[derive(QueryableByName)]
struct DisclosureRow {
    #[diesel(sql_type = SqlUuid)]
    act_id: Uuid,
    #[diesel(sql_type = Text)]
    disclosure: String,
}

/// The disclosures that are left of some acts.
pub(super) async fn disclosures_of(
    tx: &mut Tx,
    acts: &[ActRow],
) -> Answer<HashMap<Uuid, Vec<Disclosure>>> {
    let rows: Vec<DisclosureRow> = crate::statement::statement(
        "SELECT act_id, disclosure FROM ledger_disclosure \
         WHERE laboratory_id = $1 AND act_id = ANY($2)",
    )
    .bind::<Integer, _>(tx.laboratory_id())
    .bind::<Array<SqlUuid>, _>(acts.iter().map(|act| act.act_id).collect::<Vec<_>>())
    .load(tx.connection())
    .await?;
    let mut left: HashMap<Uuid, Vec<Disclosure>> = HashMap::new();
    for row in rows {
        let one = Disclosure::parse(&row.disclosure).map_err(|fault| {
            ApiError::internal(format!("a disclosure of act {}: {fault}", row.act_id))
        })?;
        left.entry(row.act_id).or_default().push(one);
    }
    Ok(left)
}

#[derive(QueryableByName)]
struct SubjectRow {
    #[diesel(sql_type = SqlUuid)]
    subject_id: Uuid,
}

/// Subjects whose versions among the records are not 1, 2, 3 and so on.
pub(super) async fn with_gaps(tx: &mut Tx) -> Answer<Vec<Uuid>> {
    let rows: Vec<SubjectRow> = crate::statement::statement(
        "SELECT subject_id FROM ledger_version WHERE laboratory_id = $1 GROUP BY subject_id \
         HAVING max(version) <> count(*) OR min(version) <> 1 ORDER BY subject_id LIMIT 1000",
    )
    .bind::<Integer, _>(tx.laboratory_id())
    .load(tx.connection())
    .await?;
    Ok(rows.into_iter().map(|row| row.subject_id).collect())
}
