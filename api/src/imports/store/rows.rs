//! Refused rows.

use crate::{kept::Subject, request::Page};
use diesel::{
    QueryableByName,
    sql_types::{Array, Binary, Integer, Jsonb, Nullable, Text, Timestamptz, Uuid as SqlUuid},
};
use domain::imports::{ImportedExport, REFUSED_ROW_DISCLOSED, RefusedRow};
use sha2::{Digest as _, Sha256};
use uuid::Uuid;

impl Subject for RefusedRow {
    const KIND: &'static str = "import-row";
    const DISCLOSED: &'static [&'static str] = REFUSED_ROW_DISCLOSED;

    fn state(&self) -> &'static str {
        if self.mending.is_some() {
            "mended"
        } else {
            "refused"
        }
    }
}

crate::keep_rows! {
    table: imports_row,
    key: row_id,
    content: RefusedRow,
    called: "refused row",
    columns: {
        import_id: Uuid = |row| row.import.0,
        line: i32 = |row| i32::try_from(row.line).unwrap_or(i32::MAX),
        text_digest: Vec<u8> = |row| text_digest(&row.text),
        run_id: Option<Uuid> = |row| row.mending.as_ref().map(|mending| mending.run.0),
    }
}

/// By what the same row is known in a later export.
pub(in crate::imports) fn text_digest(text: &str) -> Vec<u8> {
    Sha256::digest(text.as_bytes()).to_vec()
}

/// How many rows are written by one statement.
const AT_ONCE: usize = 1000;

const INSERT: &str = "\
    INSERT INTO imports_row (laboratory_id, row_id, version, state, content, import_id, line, \
        text_digest, created_at, changed_at) \
    SELECT $1, row_id, 1, 'refused', content::jsonb, $3, line, text_digest, $2, $2 \
    FROM UNNEST($4, $5, $6, $7) AS new (row_id, content, line, text_digest)";

/// Stores rows that were refused, of one import, and records them.
pub(in crate::imports) async fn insert_many(
    tx: &mut Tx,
    import: Uuid,
    rows: &[Kept<RefusedRow>],
) -> Answer<()> {
    let (laboratory, now) = (tx.laboratory_id(), tx.now().utc());
    for chunk in rows.chunks(AT_ONCE) {
        let mut contents = Vec::with_capacity(chunk.len());
        for row in chunk {
            contents.push(serde_json::to_string(&row.content).map_err(ApiError::internal)?);
            row.record(tx)?;
        }
        diesel::sql_query(INSERT)
            .bind::<Integer, _>(laboratory)
            .bind::<Timestamptz, _>(now)
            .bind::<SqlUuid, _>(import)
            .bind::<Array<SqlUuid>, _>(chunk.iter().map(|row| row.id).collect::<Vec<_>>())
            .bind::<Array<Text>, _>(contents)
            .bind::<Array<Integer>, _>(
                chunk
                    .iter()
                    .map(|row| i32::try_from(row.content.line).unwrap_or(i32::MAX))
                    .collect::<Vec<_>>(),
            )
            .bind::<Array<Binary>, _>(
                chunk
                    .iter()
                    .map(|row| text_digest(&row.content.text))
                    .collect::<Vec<_>>(),
            )
            .execute(tx.connection())
            .await?;
    }
    Ok(())
}

/// A page of the rows that an import refused, in the order of their lines.
pub(in crate::imports) async fn list(
    tx: &mut Tx,
    import: Uuid,
    page: &Page,
    state: Option<&str>,
) -> Answer<Vec<Kept<RefusedRow>>> {
    let mut query = dsl::imports_row
        .filter(dsl::laboratory_id.eq(tx.laboratory_id()))
        .filter(dsl::import_id.eq(import))
        .filter(dsl::row_id.gt(page.after.unwrap_or(Uuid::nil())))
        .order(dsl::row_id.asc())
        .limit(page.rows())
        .select(Row::as_select())
        .into_boxed();
    if let Some(state) = state {
        query = query.filter(dsl::state.eq(state));
    }
    let rows: Vec<Row> = query.load(tx.connection()).await?;
    rows.into_iter().map(Row::kept).collect()
}

/// How many rows of an import are refused and not mended.
pub(in crate::imports) async fn count_unmended(tx: &mut Tx, import: Uuid) -> Answer<i64> {
    let laboratory = tx.laboratory_id();
    Ok(dsl::imports_row
        .filter(dsl::laboratory_id.eq(laboratory))
        .filter(dsl::import_id.eq(import))
        .filter(dsl::state.eq("refused"))
        .count()
        .get_result(tx.connection())
        .await?)
}

/// A refused row of an import by its line, locked until the transaction ends.
pub(in crate::imports) async fn lock_line(
    tx: &mut Tx,
    import: Uuid,
    line: u64,
) -> Answer<Kept<RefusedRow>> {
    let laboratory = tx.laboratory_id();
    dsl::imports_row
        .filter(dsl::laboratory_id.eq(laboratory))
        .filter(dsl::import_id.eq(import))
        .filter(dsl::line.eq(i32::try_from(line).unwrap_or(-1)))
        .select(Row::as_select())
        .for_update()
        .first(tx.connection())
        .await
        .optional()?
        .ok_or_else(|| {
            ApiError::NotFound(format!(
                "The import refused no row that begins on line {line}. Look it up in its list."
            ))
        })?
        .kept()
}

/// The text by which a line was read in the end, where it was mended.
pub(in crate::imports) async fn mended_text(
    tx: &mut Tx,
    import: Uuid,
    line: u64,
) -> Answer<Option<String>> {
    let laboratory = tx.laboratory_id();
    let row: Option<Row> = dsl::imports_row
        .filter(dsl::laboratory_id.eq(laboratory))
        .filter(dsl::import_id.eq(import))
        .filter(dsl::line.eq(i32::try_from(line).unwrap_or(-1)))
        .select(Row::as_select())
        .first(tx.connection())
        .await
        .optional()?;
    let kept = row.map(Row::kept).transpose()?;
    Ok(kept
        .and_then(|row| row.content.mending)
        .map(|mending| mending.text))
}

/// A row that was refused in an earlier import by the same map.
#[derive(QueryableByName)]
pub(in crate::imports) struct Earlier {
    /// Digest of its text.
    #[diesel(sql_type = Binary)]
    pub(in crate::imports) text_digest: Vec<u8>,
    /// The import.
    #[diesel(sql_type = SqlUuid)]
    pub(in crate::imports) import_id: Uuid,
    /// Its line there.
    #[diesel(sql_type = Integer)]
    pub(in crate::imports) line: i32,
    /// The run that it tells, since it was mended.
    #[diesel(sql_type = Nullable<SqlUuid>)]
    pub(in crate::imports) run_id: Option<Uuid>,
}

/// Which of these texts were refused before, in imports by the same map and under the same header.
pub(in crate::imports) async fn earlier(
    tx: &mut Tx,
    about: &ImportedExport,
    digests: Vec<Vec<u8>>,
) -> Answer<Vec<Earlier>> {
    if digests.is_empty() {
        return Ok(Vec::new());
    }
    let laboratory = tx.laboratory_id();
    let delimiter = serde_json::to_value(about.delimiter).map_err(ApiError::internal)?;
    Ok(diesel::sql_query(
        "SELECT DISTINCT ON (one.text_digest) one.text_digest, one.import_id, one.line, \
             one.run_id \
         FROM imports_row AS one JOIN imports_import AS import \
           ON import.laboratory_id = one.laboratory_id AND import.import_id = one.import_id \
         WHERE one.laboratory_id = $1 AND import.column_map_id = $2 \
           AND one.text_digest = ANY($3) AND import.content->'header' = $4 \
           AND import.content->>'delimiter' = $5 \
         ORDER BY one.text_digest, one.row_id",
    )
    .bind::<Integer, _>(laboratory)
    .bind::<SqlUuid, _>(about.column_map.0)
    .bind::<Array<Binary>, _>(digests)
    .bind::<Jsonb, _>(serde_json::to_value(&about.header).map_err(ApiError::internal)?)
    .bind::<Text, _>(delimiter.as_str().unwrap_or_default())
    .load(tx.connection())
    .await?)
}
