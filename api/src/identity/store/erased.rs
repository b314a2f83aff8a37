//! What goes of accounts and clients where the law asks for it, and the laboratories by their ids.

use super::super::LaboratoryKey;
use crate::{
    db::Tx,
    error::{Answer, ApiError},
    kept,
    schema::{identity_account as accounts, identity_client as clients, laboratories_laboratory},
};
use diesel::{ExpressionMethods as _, OptionalExtension as _, QueryDsl as _};
use diesel_async::{AsyncPgConnection, RunQueryDsl as _};
use domain::{
    accounts::{Account, Client},
    erasures::ErasedMember,
    id::LaboratoryId,
};
use serde_json::Value;
use uuid::Uuid;

/// Puts what stands in for erased members of an account in their place, where the row shows this
/// version.
pub(crate) async fn erase_account(
    tx: &mut Tx,
    id: Uuid,
    version: i32,
    erased: &[ErasedMember],
) -> Answer<()> {
    let laboratory = tx.laboratory_id();
    let found: Option<Value> = accounts::table
        .filter(accounts::laboratory_id.eq(laboratory))
        .filter(accounts::account_id.eq(id))
        .filter(accounts::version.eq(version))
        .select(accounts::content)
        .for_update()
        .first(tx.connection())
        .await
        .optional()?;
    let Some(content) = found else { return Ok(()) };
    let content = kept::without::<Account>(content, erased)?;
    let login = content
        .get("login")
        .and_then(Value::as_str)
        .unwrap_or_default();
    diesel::update(
        accounts::table
            .filter(accounts::laboratory_id.eq(laboratory))
            .filter(accounts::account_id.eq(id)),
    )
    .set((accounts::login.eq(login), accounts::content.eq(&content)))
    .execute(tx.connection())
    .await?;
    Ok(())
}

/// Puts what stands in for erased members of a client in their place, where the row shows this
/// version.
pub(crate) async fn erase_client(
    tx: &mut Tx,
    id: Uuid,
    version: i32,
    erased: &[ErasedMember],
) -> Answer<()> {
    let laboratory = tx.laboratory_id();
    let found: Option<Value> = clients::table
        .filter(clients::laboratory_id.eq(laboratory))
        .filter(clients::client_id.eq(id))
        .filter(clients::version.eq(version))
        .select(clients::content)
        .for_update()
        .first(tx.connection())
        .await
        .optional()?;
    let Some(content) = found else { return Ok(()) };
    let content = kept::without::<Client>(content, erased)?;
    diesel::update(
        clients::table
            .filter(clients::laboratory_id.eq(laboratory))
            .filter(clients::client_id.eq(id)),
    )
    .set(clients::content.eq(content))
    .execute(tx.connection())
    .await?;
    Ok(())
}

/// The laboratory with this id.
///
/// # Errors
/// [`ApiError::Unavailable`] or [`ApiError::Internal`].
pub(crate) async fn laboratory_by_id(
    connection: &mut AsyncPgConnection,
    id: LaboratoryId,
) -> Answer<Option<LaboratoryKey>> {
    use laboratories_laboratory::dsl;
    let row: Option<(i32, String)> = dsl::laboratories_laboratory
        .filter(dsl::id.eq(id.0))
        .select((dsl::laboratory_id, dsl::slug))
        .first(connection)
        .await
        .optional()
        .map_err(ApiError::from)?;
    Ok(row.map(|(number, slug)| LaboratoryKey { number, id, slug }))
}
