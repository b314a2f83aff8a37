//! Uploaded bytes, kept under their digest: the same bytes twice are one.

use crate::{
    db::Tx,
    error::{Answer, ApiError},
    schema::imports_upload::dsl,
};
use diesel::{
    ExpressionMethods as _, OptionalExtension as _, QueryDsl as _, QueryableByName,
    sql_types::{Array, Binary, Integer, Text},
};
use diesel_async::RunQueryDsl as _;
use domain::erasures::{bytes_hold, spellings};

/// Keeps the bytes, unless they are there.
pub(in crate::imports) async fn keep(
    tx: &mut Tx,
    digest: &str,
    bytes: &[u8],
    media_type: &str,
) -> Answer<()> {
    let (laboratory, now) = (tx.laboratory_id(), tx.now().utc());
    diesel::insert_into(dsl::imports_upload)
        .values((
            dsl::laboratory_id.eq(laboratory),
            dsl::digest.eq(digest),
            dsl::bytes.eq(bytes),
            dsl::media_type.eq(media_type),
            dsl::uploaded_at.eq(now),
        ))
        .on_conflict_do_nothing()
        .execute(tx.connection())
        .await?;
    Ok(())
}

/// The bytes, and what their sender called them; those of an erased upload are refused.
pub(in crate::imports) async fn find(
    tx: &mut Tx,
    digest: &str,
) -> Answer<(Vec<u8>, Option<String>)> {
    let laboratory = tx.laboratory_id();
    let found: Option<(Vec<u8>, Option<String>, bool)> = dsl::imports_upload
        .filter(dsl::laboratory_id.eq(laboratory))
        .filter(dsl::digest.eq(digest))
        .select((dsl::bytes, dsl::media_type, dsl::erased))
        .first(tx.connection())
        .await
        .optional()?;
    match found {
        None => Err(ApiError::missing("upload", digest)),
        Some((_, _, true)) => Err(ApiError::NotFound(format!(
            "The upload {digest} was erased, since it held what the law asked to be erased. Its \
             digest stays, and so do the runs that it told."
        ))),
        Some((bytes, media_type, false)) => Ok((bytes, media_type)),
    }
}

#[derive(QueryableByName)]
struct Holding {
    #[diesel(sql_type = Text)]
    digest: String,
    #[diesel(sql_type = Binary)]
    bytes: Vec<u8>,
}

/// Deletes the bytes of uploads that hold one of these texts, in any encoding that is read here;
/// the answer is their digests, which stay.
pub(crate) async fn erase_holding(tx: &mut Tx, texts: &[String]) -> Answer<Vec<String>> {
    let written: Vec<Vec<u8>> = texts.iter().flat_map(|text| spellings(text)).collect();
    if written.is_empty() {
        return Ok(Vec::new());
    }
    let laboratory = tx.laboratory_id();
    let found: Vec<Holding> = diesel::sql_query(
        "SELECT digest, bytes FROM imports_upload WHERE laboratory_id = $1 \
           AND EXISTS (SELECT FROM UNNEST($2) AS sought (spelling) \
                       WHERE position(spelling IN bytes) > 0) \
         ORDER BY digest FOR UPDATE",
    )
    .bind::<Integer, _>(laboratory)
    .bind::<Array<Binary>, _>(&written)
    .load(tx.connection())
    .await?;
    let digests: Vec<String> = found
        .into_iter()
        .filter(|upload| written.iter().any(|text| bytes_hold(&upload.bytes, text)))
        .map(|upload| upload.digest)
        .collect();
    diesel::update(
        dsl::imports_upload
            .filter(dsl::laboratory_id.eq(laboratory))
            .filter(dsl::digest.eq_any(digests.clone())),
    )
    .set((dsl::bytes.eq(Vec::<u8>::new()), dsl::erased.eq(true)))
    .execute(tx.connection())
    .await?;
    Ok(digests)
}
