//! All SQL of the ledger: acts, versions, pending rows, disclosures. Nothing here updates.

pub(super) mod erased;
pub(super) mod keys;
pub(super) mod replayed;

use super::{Hashes, Sealed};
use crate::{
    db::Tx,
    error::{Answer, ApiError},
    schema::{laboratories_laboratory, ledger_act, ledger_disclosure, ledger_version},
    statement::{Statement, statement},
};
use chrono::{DateTime, Utc};
use diesel::{
    BoolExpressionMethods as _, ExpressionMethods as _, JoinOnDsl as _, OptionalExtension as _,
    QueryDsl as _, QueryableByName,
    sql_types::{Array, Binary, Integer, Jsonb, SmallInt, Text, Timestamptz, Uuid as SqlUuid},
};
use diesel_async::{AsyncPgConnection, RunQueryDsl as _};
use domain::{ledger::Hash, time::Moment};
use uuid::Uuid;

mod logs;

pub(super) use logs::{insert_log, lock_log};

#[derive(QueryableByName)]
struct HashRow {
    #[diesel(sql_type = SqlUuid)]
    subject_id: Uuid,
    #[diesel(sql_type = Integer)]
    version: i32,
    #[diesel(sql_type = Binary)]
    record_hash: Vec<u8>,
}

/// Hashes of versions that were recorded.
pub(super) async fn hashes(tx: &Tx, versions: Vec<(Uuid, i32)>) -> Answer<Hashes> {
    if versions.is_empty() {
        return Ok(Hashes::new());
    }
    let laboratory = tx.laboratory_id();
    // The plan of the one is kept, that of the many is made anew with each call.
    let rows: Vec<HashRow> = if let [(subject, version)] = versions.as_slice() {
        statement(
            "SELECT subject_id, version, record_hash FROM ledger_version \
             WHERE laboratory_id = $1 AND subject_id = $2 AND version = $3",
        )
        .bind::<Integer, _>(laboratory)
        .bind::<SqlUuid, _>(*subject)
        .bind::<Integer, _>(*version)
        .load(&mut tx.together())
        .await?
    } else {
        let (subjects, versions): (Vec<Uuid>, Vec<i32>) = versions.into_iter().unzip();
        statement(
            "SELECT subject_id, version, record_hash FROM ledger_version \
             JOIN UNNEST($2, $3) AS wanted (wanted_id, wanted_version) \
               ON subject_id = wanted_id AND version = wanted_version \
             WHERE laboratory_id = $1",
        )
        .bind::<Integer, _>(laboratory)
        .bind::<Array<SqlUuid>, _>(subjects)
        .bind::<Array<Integer>, _>(versions)
        .load(&mut tx.together())
        .await?
    };
    rows.into_iter()
        .map(|row| {
            let hash = Hash::from_slice(&row.record_hash).map_err(ApiError::internal)?;
            Ok(((row.subject_id, row.version), hash))
        })
        .collect()
}

const INSERT: &str = "WITH acts AS ( \
       INSERT INTO ledger_act (laboratory_id, act_id, action, actor, recorded_at, \
                               record_count, entry, records) \
       SELECT $1, act_id, action, actor, $2, record_count, entry, records \
       FROM UNNEST($3, $4, $5, $6, $7, $8) \
         AS new (act_id, action, actor, record_count, entry, records)), \
     pending AS ( \
       INSERT INTO ledger_pending (laboratory_id, act_id) SELECT $1, UNNEST($3)), \
     disclosures AS ( \
       INSERT INTO ledger_disclosure (laboratory_id, digest, disclosure, act_id) \
       SELECT $1, digest, disclosure, act_id \
       FROM UNNEST($14, $15, $16) AS new (digest, disclosure, act_id)) \
     INSERT INTO ledger_version (laboratory_id, subject_id, version, act_id, position, \
                                 record_hash) \
     SELECT $1, subject_id, version, act_id, position, record_hash \
     FROM UNNEST($9, $10, $11, $12, $13) \
       AS new (subject_id, version, act_id, position, record_hash)";

/// The statement that stores acts, where each version stands, what waits for the log, and the
/// disclosures: one, since each statement costs more than its rows.
pub(super) fn insertion(laboratory: i32, now: Moment, sealed: Sealed) -> Statement<'static> {
    let (mut subjects, mut numbers) = (Vec::new(), Vec::new());
    let (mut of, mut positions, mut hashes) = (Vec::new(), Vec::new(), Vec::new());
    for act in &sealed.acts {
        for ((subject, version, hash), position) in act.versions.iter().zip(0_i16..) {
            subjects.push(*subject);
            numbers.push(*version);
            of.push(act.id.0);
            positions.push(position);
            hashes.push(hash.as_bytes().to_vec());
        }
    }
    let ids: Vec<Uuid> = sealed.acts.iter().map(|act| act.id.0).collect();
    let counts: Vec<i32> = sealed
        .acts
        .iter()
        .map(|act| i32::try_from(act.versions.len()).unwrap_or(i32::MAX))
        .collect();
    let (mut actions, mut actors) = (Vec::new(), Vec::new());
    let (mut entries, mut lines) = (Vec::new(), Vec::new());
    for act in sealed.acts {
        actions.push(act.action);
        actors.push(act.actor);
        entries.push(act.entry);
        lines.push(act.lines);
    }
    let said = &sealed.disclosures;
    let digests: Vec<String> = said
        .iter()
        .map(|(_, one)| one.digest().to_owned())
        .collect();
    let texts: Vec<String> = said.iter().map(|(_, one)| one.text().to_owned()).collect();
    let belong: Vec<Uuid> = said.iter().map(|(act, _)| act.0).collect();
    statement(INSERT)
        .bind::<Integer, _>(laboratory)
        .bind::<Timestamptz, _>(now.utc())
        .bind::<Array<SqlUuid>, _>(ids)
        .bind::<Array<Text>, _>(actions)
        .bind::<Array<Jsonb>, _>(actors)
        .bind::<Array<Integer>, _>(counts)
        .bind::<Array<Text>, _>(entries)
        .bind::<Array<Binary>, _>(lines)
        .bind::<Array<SqlUuid>, _>(subjects)
        .bind::<Array<Integer>, _>(numbers)
        .bind::<Array<SqlUuid>, _>(of)
        .bind::<Array<SmallInt>, _>(positions)
        .bind::<Array<Binary>, _>(hashes)
        .bind::<Array<Text>, _>(digests)
        .bind::<Array<Text>, _>(texts)
        .bind::<Array<SqlUuid>, _>(belong)
}

/// One version of a subject, with the act that recorded it.
#[derive(diesel::Queryable)]
pub(super) struct VersionRow {
    pub(super) subject_id: Uuid,
    pub(super) version: i32,
    pub(super) position: i16,
    pub(super) record_hash: Vec<u8>,
    pub(super) act_id: Uuid,
    pub(super) action: String,
    pub(super) actor: serde_json::Value,
    pub(super) recorded_at: DateTime<Utc>,
    pub(super) entry: String,
    pub(super) records: Vec<u8>,
}

type Columns = (
    ledger_version::subject_id,
    ledger_version::version,
    ledger_version::position,
    ledger_version::record_hash,
    ledger_act::act_id,
    ledger_act::action,
    ledger_act::actor,
    ledger_act::recorded_at,
    ledger_act::entry,
    ledger_act::records,
);

const COLUMNS: Columns = (
    ledger_version::subject_id,
    ledger_version::version,
    ledger_version::position,
    ledger_version::record_hash,
    ledger_act::act_id,
    ledger_act::action,
    ledger_act::actor,
    ledger_act::recorded_at,
    ledger_act::entry,
    ledger_act::records,
);

/// The versions of a subject, newest first, below `before` where that is given.
pub(super) async fn versions(
    tx: &mut Tx,
    subject: Uuid,
    before: Option<i32>,
    rows: i64,
) -> Answer<Vec<VersionRow>> {
    let laboratory = tx.laboratory_id();
    Ok(ledger_version::table
        .inner_join(
            ledger_act::table.on(ledger_act::laboratory_id
                .eq(ledger_version::laboratory_id)
                .and(ledger_act::act_id.eq(ledger_version::act_id))),
        )
        .filter(ledger_version::laboratory_id.eq(laboratory))
        .filter(ledger_version::subject_id.eq(subject))
        .filter(ledger_version::version.lt(before.unwrap_or(i32::MAX)))
        .order(ledger_version::version.desc())
        .limit(rows)
        .select(COLUMNS)
        .load(tx.connection())
        .await?)
}

/// One version of a subject.
pub(super) async fn version(
    tx: &mut Tx,
    subject: Uuid,
    version: i32,
) -> Answer<Option<VersionRow>> {
    let found = versions(tx, subject, version.checked_add(1), 1).await?;
    Ok(found
        .into_iter()
        .next()
        .filter(|row| row.version == version))
}

/// The disclosures of an act that are left.
pub(super) async fn disclosures(tx: &mut Tx, act: Uuid) -> Answer<Vec<String>> {
    let laboratory = tx.laboratory_id();
    Ok(ledger_disclosure::table
        .filter(ledger_disclosure::laboratory_id.eq(laboratory))
        .filter(ledger_disclosure::act_id.eq(act))
        .select(ledger_disclosure::disclosure)
        .load(tx.connection())
        .await?)
}

/// The number of a laboratory's rows, and its name, for whoever asks by its id.
pub(super) async fn public_laboratory(
    connection: &mut AsyncPgConnection,
    id: Uuid,
) -> Answer<Option<(i32, String)>> {
    use laboratories_laboratory as laboratories;
    let row: Option<(i32, serde_json::Value)> = laboratories::table
        .filter(laboratories::id.eq(id))
        .select((laboratories::laboratory_id, laboratories::content))
        .first(connection)
        .await
        .optional()?;
    Ok(row.map(|(number, content)| {
        let name = content.get("name").and_then(serde_json::Value::as_str);
        (number, name.unwrap_or_default().to_owned())
    }))
}

/// An act with its records.
#[derive(QueryableByName)]
pub(crate) struct ActRow {
    #[diesel(sql_type = SqlUuid)]
    pub(crate) act_id: Uuid,
    #[diesel(sql_type = Text)]
    pub(crate) action: String,
    #[diesel(sql_type = Jsonb)]
    pub(crate) actor: serde_json::Value,
    #[diesel(sql_type = Timestamptz)]
    pub(crate) recorded_at: DateTime<Utc>,
    #[diesel(sql_type = Text)]
    pub(crate) entry: String,
    #[diesel(sql_type = Binary)]
    pub(crate) records: Vec<u8>,
}

/// The newest acts that recorded a version of one of the subjects.
pub(super) async fn acts_about(tx: &mut Tx, subjects: Vec<Uuid>, most: i64) -> Answer<Vec<ActRow>> {
    let laboratory = tx.laboratory_id();
    Ok(diesel::sql_query(
        "SELECT act_id, action, actor, recorded_at, entry, records FROM ledger_act \
         WHERE laboratory_id = $1 AND act_id IN (SELECT act_id FROM ledger_version \
           WHERE laboratory_id = $1 AND subject_id = ANY($2)) \
         ORDER BY recorded_at DESC, act_id DESC LIMIT $3",
    )
    .bind::<Integer, _>(laboratory)
    .bind::<Array<SqlUuid>, _>(subjects)
    .bind::<diesel::sql_types::BigInt, _>(most)
    .load(tx.connection())
    .await?)
}
