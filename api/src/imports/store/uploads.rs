//! Uploaded bytes, kept under their digest: the same bytes twice are one.

use crate::{
    db::Tx,
    error::{Answer, ApiError},
    schema::imports_upload::dsl,
};
use diesel::{ExpressionMethods as _, OptionalExtension as _, QueryDsl as _};
use diesel_async::RunQueryDsl as _;

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

/// The bytes, and what their sender called them.
pub(in crate::imports) async fn find(
    tx: &mut Tx,
    digest: &str,
) -> Answer<(Vec<u8>, Option<String>)> {
    let laboratory = tx.laboratory_id();
    dsl::imports_upload
        .filter(dsl::laboratory_id.eq(laboratory))
        .filter(dsl::digest.eq(digest))
        .select((dsl::bytes, dsl::media_type))
        .first(tx.connection())
        .await
        .optional()?
        .ok_or_else(|| ApiError::missing("upload", digest))
}
