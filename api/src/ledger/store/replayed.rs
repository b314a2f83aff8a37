//! What the ledger keeps beside the acts to find things in them, as the records tell it: for a
//! rebuilt copy.

use crate::{
    db::Tx,
    error::{Answer, ApiError},
    kept::Kept,
    schema::{ledger_key as keys, ledger_log as logs},
};
use diesel::{
    ExpressionMethods as _, QueryableByName,
    sql_types::{Array, Binary, Integer, SmallInt, Uuid as SqlUuid},
    upsert::excluded,
};
use diesel_async::RunQueryDsl as _;
use domain::ledger::{Hash, PublicKey, log::Log};
use serde_json::Value;
use uuid::Uuid;

/// Where a version of a subject stands.
#[derive(Debug, Clone)]
pub(crate) struct PlacedVersion {
    /// The subject.
    pub(crate) subject: Uuid,
    /// Its version.
    pub(crate) version: i32,
    /// The act.
    pub(crate) act: Uuid,
    /// Where in the act, from 0.
    pub(crate) position: i16,
    /// The record's hash.
    pub(crate) hash: Hash,
}

#[derive(QueryableByName)]
struct Stored {
    #[diesel(sql_type = SqlUuid)]
    subject_id: Uuid,
    #[diesel(sql_type = Integer)]
    version: i32,
}

/// Stores where versions stand; the answer is those that stood somewhere before.
pub(crate) async fn replay_versions(
    tx: &mut Tx,
    versions: &[PlacedVersion],
) -> Answer<Vec<PlacedVersion>> {
    let of = |get: fn(&PlacedVersion) -> Uuid| versions.iter().map(get).collect::<Vec<_>>();
    let stored: Vec<Stored> = crate::statement::statement(
        "INSERT INTO ledger_version (laboratory_id, subject_id, version, act_id, position, \
             record_hash) \
         SELECT $1, * FROM UNNEST($2, $3, $4, $5, $6) ON CONFLICT DO NOTHING \
         RETURNING subject_id, version",
    )
    .bind::<Integer, _>(tx.laboratory_id())
    .bind::<Array<SqlUuid>, _>(of(|one| one.subject))
    .bind::<Array<Integer>, _>(versions.iter().map(|one| one.version).collect::<Vec<_>>())
    .bind::<Array<SqlUuid>, _>(of(|one| one.act))
    .bind::<Array<SmallInt>, _>(versions.iter().map(|one| one.position).collect::<Vec<_>>())
    .bind::<Array<Binary>, _>(
        versions
            .iter()
            .map(|one| one.hash.as_bytes().to_vec())
            .collect::<Vec<_>>(),
    )
    .load(tx.connection())
    .await?;
    let mut stored: std::collections::HashSet<(Uuid, i32)> = stored
        .into_iter()
        .map(|row| (row.subject_id, row.version))
        .collect();
    Ok(versions
        .iter()
        .filter(|one| !stored.remove(&(one.subject, one.version)))
        .cloned()
        .collect())
}

/// Stores the public halves of keys. Version 1 announces a key, a later one withdraws it.
pub(crate) async fn replay_keys(tx: &mut Tx, versions: &[Kept<Value>]) -> Answer<()> {
    let laboratory = tx.laboratory_id();
    for kept in versions {
        let jwk = kept.content.get("jwk").unwrap_or(&Value::Null);
        let key = PublicKey::from_jwk(jwk).map_err(ApiError::internal)?;
        let key_use = kept.content.get("use").and_then(Value::as_str);
        diesel::insert_into(keys::table)
            .values((
                keys::laboratory_id.eq(laboratory),
                keys::key_id.eq(kept.id),
                keys::key_use.eq(key_use.unwrap_or_default()),
                keys::thumbprint.eq(key.kid()),
                keys::public_key.eq(key.as_bytes().as_slice()),
                keys::version.eq(kept.version),
                keys::retired.eq(kept.version > 1),
            ))
            .on_conflict((keys::laboratory_id, keys::key_id))
            .do_update()
            .set((
                keys::key_use.eq(excluded(keys::key_use)),
                keys::thumbprint.eq(excluded(keys::thumbprint)),
                keys::public_key.eq(excluded(keys::public_key)),
                keys::version.eq(excluded(keys::version)),
                keys::retired.eq(excluded(keys::retired)),
            ))
            .execute(tx.connection())
            .await?;
    }
    Ok(())
}

/// Stores logs: each was begun by the one version of its record.
pub(crate) async fn replay_logs(tx: &mut Tx, versions: &[Kept<Value>]) -> Answer<()> {
    let laboratory = tx.laboratory_id();
    for kept in versions {
        let log: Log = serde_json::from_value(kept.content.clone()).map_err(ApiError::internal)?;
        let number = i32::try_from(log.number).map_err(ApiError::internal)?;
        let follows_size = log.follows.as_ref().map(|ended| i64::try_from(ended.size));
        let follows_size = follows_size.transpose().map_err(ApiError::internal)?;
        let follows_root = log.follows.as_ref().map(|ended| ended.root.0.to_vec());
        diesel::insert_into(logs::table)
            .values((
                logs::laboratory_id.eq(laboratory),
                logs::log_number.eq(number),
                logs::origin.eq(&log.origin),
                logs::log_id.eq(kept.id),
                logs::began_at.eq(kept.changed_at.utc()),
                logs::follows_size.eq(follows_size),
                logs::follows_root.eq(follows_root),
            ))
            .execute(tx.connection())
            .await?;
    }
    Ok(())
}
