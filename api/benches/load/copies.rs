//! What a transaction left behind, and the same rows written by COPY: the fastest way that
//! PostgreSQL has.
//!
//! The rows go through files of the server itself, so that COPY pays for no transport.

use crate::{
    cluster::Failure,
    database::{self, Databases},
    meter::{Cost, Meter},
};
use diesel_async::AsyncPgConnection;

/// Rows of one table that are to be written again.
#[derive(Debug, Clone)]
pub(crate) struct Left {
    /// The table.
    pub(crate) table: String,
    /// How many rows.
    pub(crate) rows: i64,
    key: String,
    columns: String,
    file: String,
}

/// The id that the next transaction gets: rows of later ones have it or a higher one.
pub(crate) async fn next_transaction(owner: &mut AsyncPgConnection) -> Result<i64, Failure> {
    let query = "SELECT pg_snapshot_xmax(pg_current_snapshot())::text::bigint AS value";
    database::number(owner, query).await
}

/// What the log's sequencer writes, after the transaction and for many of them together: no part of
/// what is compared.
const OF_THE_LOG: &str = "'ledger_entry', 'ledger_tile', 'ledger_head', 'ledger_checkpoint'";

/// The tables of the database, each after those that it refers to; those of the log left out.
pub(crate) async fn tables(owner: &mut AsyncPgConnection) -> Result<Vec<String>, Failure> {
    let mut rest = database::texts(
        owner,
        &format!(
            "SELECT relname::text AS value FROM pg_class \
             WHERE relnamespace = 'public'::regnamespace AND relkind = 'r' \
               AND relname NOT IN ({OF_THE_LOG}) ORDER BY relname"
        ),
    )
    .await?;
    let references = database::texts(
        owner,
        "SELECT conrelid::regclass::text || ' ' || confrelid::regclass::text AS value \
         FROM pg_constraint WHERE contype = 'f' AND conrelid <> confrelid",
    )
    .await?;
    let mut ordered = Vec::new();
    while !rest.is_empty() {
        let waits = |table: &String| {
            references.iter().any(|pair| {
                pair.split_once(' ')
                    .is_some_and(|(from, to)| from == table && rest.iter().any(|other| other == to))
            })
        };
        // Tables that refer to each other in a ring come in the order of their names.
        let place = rest.iter().position(|table| !waits(table)).unwrap_or(0);
        ordered.push(rest.remove(place));
    }
    Ok(ordered)
}

/// Writes the rows of transactions from `mark` on to files of the server.
pub(crate) async fn take(
    databases: &Databases,
    name: &str,
    mark: i64,
) -> Result<Vec<Left>, Failure> {
    let mut owner = databases.connect(name).await?;
    let room = database::text(
        &mut owner,
        "SELECT current_setting('data_directory') AS value",
    )
    .await?;
    let mut left = Vec::new();
    for table in tables(&mut owner).await? {
        let of = format!("FROM {table} WHERE xmin::text::bigint >= {mark}");
        let count = format!("SELECT count(*) AS value {of}");
        let rows = database::number(&mut owner, &count).await?;
        if rows == 0 {
            continue;
        }
        let key = format!(
            "SELECT string_agg(attname::text, ', ') AS value FROM pg_index \
             JOIN pg_attribute ON attrelid = indrelid AND attnum = ANY(indkey) \
             WHERE indrelid = '{table}'::regclass AND indisprimary"
        );
        let columns = format!(
            "SELECT string_agg(attname::text, ', ' ORDER BY attnum) AS value FROM pg_attribute \
             WHERE attrelid = '{table}'::regclass AND attnum > 0 AND NOT attisdropped \
               AND attgenerated = ''"
        );
        let one = Left {
            key: database::text(&mut owner, &key).await?,
            columns: database::text(&mut owner, &columns).await?,
            file: format!("{room}/assize_bench_{table}"),
            table,
            rows,
        };
        let (columns, key, file) = (&one.columns, &one.key, &one.file);
        database::run(
            &mut owner,
            &format!(
                "COPY (SELECT {columns} {of}) TO '{file}'; \
                 COPY (SELECT {key} {of}) TO '{file}_keys'"
            ),
        )
        .await?;
        left.push(one);
    }
    Ok(left)
}

/// Removes from a clone the rows whose later versions are to be copied into it.
pub(crate) async fn make_room(
    databases: &Databases,
    name: &str,
    left: &[Left],
) -> Result<i64, Failure> {
    let mut owner = databases.connect(name).await?;
    let mut removed = 0_i64;
    for one in left {
        let (table, key, file) = (&one.table, &one.key, &one.file);
        database::run(
            &mut owner,
            &format!(
                "SET session_replication_role = replica; \
                 CREATE TEMPORARY TABLE coming AS SELECT {key} FROM {table} WHERE false; \
                 COPY coming FROM '{file}_keys'"
            ),
        )
        .await?;
        let count = format!(
            "WITH gone AS (DELETE FROM {table} WHERE ({key}) IN (SELECT {key} FROM coming) \
             RETURNING 1) SELECT count(*) AS value FROM gone"
        );
        let many = format!(
            "SELECT count(*) AS value FROM {table} WHERE ({key}) IN \
             (SELECT {key} FROM coming)"
        );
        if database::number(&mut owner, &many).await? > 0 {
            removed = removed.saturating_add(database::number(&mut owner, &count).await?);
        }
        database::run(&mut owner, "DROP TABLE coming").await?;
    }
    Ok(removed)
}

/// Copies the rows in one transaction: keys, indexes and triggers as they are.
pub(crate) async fn copy(
    databases: &Databases,
    name: &str,
    left: &[Left],
) -> Result<Cost, Failure> {
    copy_into(databases, name, "public", left).await
}

/// Copies the rows in one transaction into tables without keys and indexes.
pub(crate) async fn copy_bare(
    databases: &Databases,
    name: &str,
    left: &[Left],
) -> Result<Cost, Failure> {
    let mut owner = databases.connect(name).await?;
    database::run(&mut owner, "CREATE SCHEMA bare").await?;
    for Left { table, .. } in left {
        let make = format!(
            "CREATE TABLE bare.{table} (LIKE public.{table} INCLUDING STORAGE \
             INCLUDING COMPRESSION)"
        );
        database::run(&mut owner, &make).await?;
    }
    drop(owner);
    copy_into(databases, name, "bare", left).await
}

async fn copy_into(
    databases: &Databases,
    name: &str,
    schema: &str,
    left: &[Left],
) -> Result<Cost, Failure> {
    let mut owner = databases.connect(name).await?;
    databases.settle().await?;
    let meter = Meter::begin(databases, name, None).await?;
    database::run(&mut owner, "BEGIN").await?;
    for one in left {
        let copy = format!(
            "COPY {schema}.{} ({}) FROM '{}'",
            one.table, one.columns, one.file
        );
        database::run(&mut owner, &copy).await?;
    }
    database::run(&mut owner, "COMMIT").await?;
    meter.end(None).await
}

/// Empties the files: the server offers no way to remove them.
pub(crate) async fn put_away(databases: &Databases, left: &[Left]) -> Result<(), Failure> {
    let mut admin = databases.admin().await?;
    for Left { file, .. } in left {
        let empty = format!(
            "COPY (SELECT WHERE false) TO '{file}'; COPY (SELECT WHERE false) TO '{file}_keys'"
        );
        database::run(&mut admin, &empty).await?;
    }
    Ok(())
}
