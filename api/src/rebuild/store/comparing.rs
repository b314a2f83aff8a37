//! Compares the live tables with the copies, by the text of every column: a decimal with other
//! places is another one.

use super::{
    super::report::{Checked, Drift, Fault, places},
    RebuiltTable, Scratch,
};
use crate::{
    db::{LIVE, Tx},
    error::Answer,
};
use diesel::{
    QueryableByName,
    sql_types::{Array, BigInt, Bool, Integer, Jsonb, Nullable, Text},
};
use diesel_async::{RunQueryDsl as _, SimpleAsyncConnection as _};
use serde_json::Value;

/// How many rows of a table are listed.
const MOST_LISTED: u32 = 1000;

/// Columns whose order says nothing: entries of 24 bytes, one a reading.
const ENTRIES: (&str, &str) = ("imports_import", "fingerprints");

#[derive(QueryableByName)]
struct DriftRow {
    #[diesel(sql_type = Text)]
    subject: String,
    #[diesel(sql_type = Bool)]
    is_missing: bool,
    #[diesel(sql_type = Bool)]
    is_extra: bool,
    #[diesel(sql_type = Array<Text>)]
    columns: Vec<String>,
    #[diesel(sql_type = Nullable<Jsonb>)]
    live: Option<Value>,
    #[diesel(sql_type = Nullable<Jsonb>)]
    told: Option<Value>,
    #[diesel(sql_type = BigInt)]
    all_rows: i64,
}

#[derive(QueryableByName)]
struct CountRow {
    #[diesel(sql_type = BigInt)]
    count: i64,
}

/// Compares all tables, and notes every row that differs.
pub(in crate::rebuild) async fn compare(
    tx: &mut Tx,
    scratch: &Scratch,
    checked: &mut Checked,
) -> Answer<()> {
    let schema = &scratch.schema;
    tx.connection()
        .batch_execute(&format!(
            "CREATE FUNCTION {schema}.in_order(bytes bytea) RETURNS bytea LANGUAGE sql AS $$ \
             SELECT string_agg(substring(bytes FROM place FOR 24), ''::bytea \
                 ORDER BY substring(bytes FROM place FOR 24)) \
             FROM generate_series(1, length(bytes), 24) AS place $$"
        ))
        .await?;
    for table in &scratch.tables {
        let laboratory = tx.laboratory_id();
        let count: CountRow = crate::statement::statement(format!(
            "SELECT count(*) AS count FROM {schema}.{}",
            table.name
        ))
        .get_result(tx.connection())
        .await?;
        let rows: Vec<DriftRow> = crate::statement::statement(query(schema, table))
            .bind::<Integer, _>(laboratory)
            .load(tx.connection())
            .await?;
        checked.tables = checked.tables.saturating_add(1);
        checked.rows = checked.rows.saturating_add(count.count.unsigned_abs());
        let all = rows
            .as_slice()
            .first()
            .map_or(0, |row| row.all_rows.unsigned_abs());
        let listed = u64::try_from(rows.len()).unwrap_or(u64::MAX);
        checked.more = checked.more.saturating_add(all.saturating_sub(listed));
        checked
            .drifts
            .extend(rows.into_iter().map(|row| row.drift(&table.name)));
    }
    Ok(())
}

impl DriftRow {
    fn drift(self, table: &str) -> Drift {
        let fault = if self.is_missing {
            Fault::Missing
        } else if self.is_extra {
            Fault::NotRecorded
        } else {
            let mut columns = self.columns;
            if let (Some(live), Some(told)) = (&self.live, &self.told) {
                columns.retain(|column| column != "content");
                places(live, told, "content", &mut columns);
            }
            Fault::Differs(columns)
        };
        Drift {
            table: table.to_owned(),
            subject: self.subject,
            fault,
        }
    }
}

/// The rows of a table that differ, as many as are listed, and how many there are.
fn query(schema: &str, table: &RebuiltTable) -> String {
    let name = &table.name;
    let others = |column: &&String| *column != "laboratory_id";
    let joined = table
        .key
        .iter()
        .map(|column| format!("live.{column} = told.{column}"))
        .collect::<Vec<_>>()
        .join(" AND ");
    let mut subject = table.key.iter().filter(others).collect::<Vec<_>>();
    if subject.is_empty() {
        subject.extend(table.columns.iter().find(|column| *column == "id"));
    }
    let subject = subject
        .into_iter()
        .map(|column| format!("coalesce(live.{column}, told.{column})"))
        .collect::<Vec<_>>()
        .join(", ");
    let text = |side: &str, column: &str| {
        if (name.as_str(), column) == ENTRIES {
            format!("{schema}.in_order({side}.{column})::text")
        } else {
            format!("{side}.{column}::text")
        }
    };
    let differs: Vec<(String, &String)> = table
        .columns
        .iter()
        .map(|column| {
            let (live, told) = (text("live", column), text("told", column));
            (format!("{live} IS DISTINCT FROM {told}"), column)
        })
        .collect();
    let any = differs.iter().fold(String::new(), |any, (differs, _)| {
        format!("{any} OR {differs}")
    });
    let columns = differs
        .iter()
        .map(|(differs, column)| format!("CASE WHEN {differs} THEN '{column}' END"))
        .collect::<Vec<_>>()
        .join(", ");
    let (live, told) = if table.columns.iter().any(|column| column == "content") {
        ("live.content", "told.content")
    } else {
        ("NULL::jsonb", "NULL::jsonb")
    };
    format!(
        "SELECT concat_ws(' ', {subject}) AS subject, live.laboratory_id IS NULL AS is_missing, \
             told.laboratory_id IS NULL AS is_extra, \
             array_remove(ARRAY[{columns}]::text[], NULL) AS columns, \
             {live} AS live, {told} AS told, count(*) OVER () AS all_rows \
         FROM (SELECT * FROM {LIVE}.{name} WHERE laboratory_id = $1) AS live \
         FULL JOIN (SELECT * FROM {schema}.{name}) AS told ON {joined} \
         WHERE live.laboratory_id IS NULL OR told.laboratory_id IS NULL{any} \
         ORDER BY subject LIMIT {MOST_LISTED}"
    )
}
