//! All SQL of anchoring.

use crate::{
    error::{Answer, ApiError},
    identity::LaboratoryKey,
    statement::statement,
};
use chrono::{DateTime, Utc};
use diesel::{
    QueryableByName,
    sql_types::{Array, BigInt, Binary, Integer, Nullable, Text, Timestamptz},
};
use diesel_async::{AsyncPgConnection, RunQueryDsl as _};

/// A log's newest checkpoint that a party said nothing of yet.
#[derive(QueryableByName)]
pub(super) struct Unanchored {
    #[diesel(embed)]
    pub(super) laboratory: LaboratoryKey,
    #[diesel(sql_type = Integer)]
    pub(super) log_number: i32,
    #[diesel(sql_type = BigInt)]
    pub(super) size: i64,
    #[diesel(sql_type = Text)]
    pub(super) party: String,
    #[diesel(sql_type = Nullable<BigInt>)]
    pub(super) last_size: Option<i64>,
    #[diesel(sql_type = Nullable<Timestamptz>)]
    pub(super) last_at: Option<DateTime<Utc>>,
}

/// Newest checkpoints that some of the parties said nothing of yet.
pub(super) async fn unanchored(
    connection: &mut AsyncPgConnection,
    parties: Vec<String>,
) -> Answer<Vec<Unanchored>> {
    Ok(statement(
        "SELECT head.laboratory_id, laboratory.id, laboratory.slug, head.log_number, \
                head.signed_size AS size, party, last.size AS last_size, \
                last.obtained_at AS last_at \
           FROM ledger_head AS head JOIN laboratories_laboratory AS laboratory \
             USING (laboratory_id) CROSS JOIN UNNEST($1::text[]) AS party \
           LEFT JOIN LATERAL (SELECT size, obtained_at FROM ledger_anchor AS anchor \
              WHERE anchor.laboratory_id = head.laboratory_id \
                AND anchor.log_number = head.log_number AND anchor.party = party.party \
              ORDER BY size DESC LIMIT 1) AS last ON true \
          WHERE head.signed_size >= 0 AND last.size IS DISTINCT FROM head.signed_size \
            AND NOT EXISTS (SELECT FROM ledger_head AS next \
              WHERE next.laboratory_id = head.laboratory_id \
                AND next.log_number > head.log_number)",
    )
    .bind::<Array<Text>, _>(parties)
    .load(connection)
    .await?)
}

#[derive(QueryableByName)]
struct NoteRow {
    #[diesel(sql_type = Text)]
    note: String,
}

/// A checkpoint as it was signed.
pub(super) async fn note(
    connection: &mut AsyncPgConnection,
    laboratory: i32,
    log: i32,
    size: i64,
) -> Answer<String> {
    let row: NoteRow = statement(
        "SELECT note FROM ledger_checkpoint \
          WHERE laboratory_id = $1 AND log_number = $2 AND size = $3",
    )
    .bind::<Integer, _>(laboratory)
    .bind::<Integer, _>(log)
    .bind::<BigInt, _>(size)
    .get_result(connection)
    .await?;
    Ok(row.note)
}

/// What a party said of a checkpoint.
pub(super) struct Said<'a> {
    pub(super) kind: &'static str,
    pub(super) content: &'a [u8],
    pub(super) query: Option<&'a [u8]>,
}

/// Keeps what a party said; another process may have kept the same.
pub(super) async fn keep(
    connection: &mut AsyncPgConnection,
    of: &Unanchored,
    said: &Said<'_>,
    now: DateTime<Utc>,
) -> Answer<()> {
    statement(
        "INSERT INTO ledger_anchor \
           (laboratory_id, log_number, size, party, kind, content, query, obtained_at) \
         VALUES ($1, $2, $3, $4, $5, $6, $7, $8) ON CONFLICT DO NOTHING",
    )
    .bind::<Integer, _>(of.laboratory.number)
    .bind::<Integer, _>(of.log_number)
    .bind::<BigInt, _>(of.size)
    .bind::<Text, _>(&of.party)
    .bind::<Text, _>(said.kind)
    .bind::<Binary, _>(said.content)
    .bind::<Nullable<Binary>, _>(said.query)
    .bind::<Timestamptz, _>(now)
    .execute(connection)
    .await
    .map_err(ApiError::from)?;
    Ok(())
}
