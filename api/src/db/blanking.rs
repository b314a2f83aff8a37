//! Answers that are kept for a repeat, made again without what was erased.

use super::Tx;
use crate::error::{Answer, ApiError};
use diesel::{
    QueryableByName,
    sql_types::{Array, Binary, Integer, Text, Uuid as SqlUuid},
};
use diesel_async::RunQueryDsl as _;
use domain::erasures::{blank, written_in_json};

#[derive(QueryableByName)]
struct Holding {
    #[diesel(sql_type = SqlUuid)]
    caller_id: uuid::Uuid,
    #[diesel(sql_type = Text)]
    method: String,
    #[diesel(sql_type = Text)]
    path: String,
    #[diesel(sql_type = Text)]
    idempotency_key: String,
    #[diesel(sql_type = Binary)]
    body: Vec<u8>,
}

/// Blanks these texts in every kept answer of the laboratory; the answer is in how many they were.
/// The request that an answer belongs to is still not done twice.
///
/// # Errors
/// [`ApiError::Internal`] where an answer that was kept is no JSON.
pub(crate) async fn blank_answers(tx: &mut Tx, texts: &[String]) -> Answer<usize> {
    if texts.is_empty() {
        return Ok(0);
    }
    let laboratory = tx.laboratory_id();
    let written: Vec<Vec<u8>> = texts
        .iter()
        .map(|text| written_in_json(text).into_bytes())
        .collect();
    let found: Vec<Holding> = diesel::sql_query(
        "SELECT caller_id, method, path, idempotency_key, body FROM idempotency_answer \
         WHERE laboratory_id = $1 \
           AND EXISTS (SELECT FROM UNNEST($2) AS sought (spelling) \
                       WHERE position(spelling IN body) > 0)",
    )
    .bind::<Integer, _>(laboratory)
    .bind::<Array<Binary>, _>(written)
    .load(tx.connection())
    .await?;
    let mut blanked: usize = 0;
    for answer in found {
        let mut body = serde_json::from_slice(&answer.body).map_err(ApiError::internal)?;
        if !blank(&mut body, texts) {
            continue;
        }
        crate::statement::statement(
            "UPDATE idempotency_answer SET body = $6 WHERE laboratory_id = $1 AND caller_id = $2 \
               AND method = $3 AND path = $4 AND idempotency_key = $5",
        )
        .bind::<Integer, _>(laboratory)
        .bind::<SqlUuid, _>(answer.caller_id)
        .bind::<Text, _>(&answer.method)
        .bind::<Text, _>(&answer.path)
        .bind::<Text, _>(&answer.idempotency_key)
        .bind::<Binary, _>(serde_json::to_vec(&body).map_err(ApiError::internal)?)
        .execute(tx.connection())
        .await?;
        blanked = blanked.saturating_add(1);
    }
    Ok(blanked)
}
