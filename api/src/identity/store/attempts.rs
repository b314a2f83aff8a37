//! The SQL of passwords as they are given: their count, and the lock.

use super::Credentials;
use crate::{db::Tx, error::Answer, schema::identity_account as accounts};
use chrono::{DateTime, Utc};
use diesel::sql_types::{Integer, Timestamptz, Uuid as SqlUuid};
use diesel::{ExpressionMethods as _, OptionalExtension as _, QueryDsl as _};
use diesel_async::RunQueryDsl as _;
use domain::{accounts::AccountState, id::AccountId};
use uuid::Uuid;

/// What a signature needs to know of an account; none where it is closed.
pub(in crate::identity) async fn credentials(
    tx: &mut Tx,
    account: AccountId,
) -> Answer<Option<Credentials>> {
    let laboratory = tx.laboratory_id();
    type Row = (String, i32, Option<DateTime<Utc>>, serde_json::Value);
    let row: Option<Row> = accounts::table
        .filter(accounts::laboratory_id.eq(laboratory))
        .filter(accounts::account_id.eq(account.0))
        .filter(accounts::state.eq(AccountState::Active.name()))
        .select((
            accounts::password_hash,
            accounts::failed_attempts,
            accounts::locked_until,
            accounts::content,
        ))
        .first(tx.connection())
        .await
        .optional()?;
    Ok(row.map(
        |(hash, failed_attempts, locked_until, content)| Credentials {
            id: account.0,
            hash,
            failed_attempts,
            locked_until,
            content,
        },
    ))
}

/// Notes a password that was good: no refused ones after it.
pub(in crate::identity) async fn note_accepted(tx: &mut Tx, account: Uuid) -> Answer<()> {
    let laboratory = tx.laboratory_id();
    diesel::update(
        accounts::table
            .filter(accounts::laboratory_id.eq(laboratory))
            .filter(accounts::account_id.eq(account)),
    )
    .set((
        accounts::failed_attempts.eq(0),
        accounts::locked_until.eq(None::<DateTime<Utc>>),
    ))
    .execute(tx.connection())
    .await?;
    Ok(())
}

/// Notes a password that was refused; from `most` in a row on, none is taken before `until`. It is
/// counted in the row, so that attempts at once all count.
pub(in crate::identity) async fn note_refused(
    tx: &mut Tx,
    account: Uuid,
    most: i32,
    until: DateTime<Utc>,
) -> Answer<()> {
    let laboratory = tx.laboratory_id();
    crate::statement::statement(
        "UPDATE identity_account SET failed_attempts = failed_attempts + 1, locked_until = \
             CASE WHEN failed_attempts + 1 >= $3 THEN $4 ELSE locked_until END \
         WHERE laboratory_id = $1 AND account_id = $2",
    )
    .bind::<Integer, _>(laboratory)
    .bind::<SqlUuid, _>(account)
    .bind::<Integer, _>(most)
    .bind::<Timestamptz, _>(until)
    .execute(tx.connection())
    .await?;
    Ok(())
}
