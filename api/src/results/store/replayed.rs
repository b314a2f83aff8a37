//! Results as records tell them, for a rebuilt copy.
//!
//! Promises the time of release that the live row has: it depends on the versions between, so that
//! every version is stored over the one before it.

use super::{Answer, Kept, Row, Tx, dsl};
use crate::kept::ROWS_AT_ONCE;
use diesel::{
    ExpressionMethods as _, dsl::sql, sql_types::Nullable, sql_types::Timestamptz, upsert::excluded,
};
use diesel_async::RunQueryDsl as _;
use domain::results::ResultVersion;
use std::collections::HashMap;
use uuid::Uuid;

/// As the live row is updated: released once, and so until it is released no longer.
const RELEASED_AT: &str = "CASE WHEN excluded.state <> 'released' THEN NULL \
    WHEN results_result.state = 'released' THEN results_result.released_at \
    ELSE excluded.changed_at END";

/// Stores versions in the order given.
pub(crate) async fn replay_every(tx: &mut Tx, versions: &[Kept<ResultVersion>]) -> Answer<()> {
    let mut seen: HashMap<Uuid, usize> = HashMap::new();
    let mut waves: Vec<Vec<&Kept<ResultVersion>>> = Vec::new();
    for version in versions {
        let wave = seen.entry(version.id).or_default();
        match waves.get_mut(*wave) {
            Some(wave) => wave.push(version),
            None => waves.push(vec![version]),
        }
        *wave = wave.saturating_add(1);
    }
    for wave in waves {
        for chunk in wave.chunks(ROWS_AT_ONCE) {
            store(tx, chunk).await?;
        }
    }
    Ok(())
}

async fn store(tx: &mut Tx, results: &[&Kept<ResultVersion>]) -> Answer<()> {
    let laboratory = tx.laboratory_id();
    let rows = results
        .iter()
        .map(|result| Row::of(laboratory, result))
        .collect::<Answer<Vec<Row>>>()?;
    diesel::insert_into(dsl::results_result)
        .values(&rows)
        .on_conflict((dsl::laboratory_id, dsl::result_id))
        .do_update()
        .set((
            dsl::version.eq(excluded(dsl::version)),
            dsl::state.eq(excluded(dsl::state)),
            dsl::content.eq(excluded(dsl::content)),
            dsl::concentration.eq(excluded(dsl::concentration)),
            dsl::decision.eq(excluded(dsl::decision)),
            dsl::released_at.eq(sql::<Nullable<Timestamptz>>(RELEASED_AT)),
            dsl::changed_at.eq(excluded(dsl::changed_at)),
        ))
        .execute(tx.connection())
        .await?;
    Ok(())
}
