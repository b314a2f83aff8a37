//! Whether whoever writes may still do so: a token outlives the account or client that it was
//! issued to by minutes, and a write asks again.

use super::Tx;
use crate::{
    error::{Answer, ApiError},
    identity::Permit,
};
use diesel::{
    QueryableByName,
    sql_types::{Bool, Integer, Uuid as SqlUuid},
};
use diesel_async::RunQueryDsl as _;

/// A condition: this account or client of the laboratory `$1` is active, or it is the service
/// itself.
macro_rules! caller_is_active {
    ($caller:literal) => {
        concat!(
            "(",
            $caller,
            " = '00000000-0000-0000-0000-000000000000' \
              OR EXISTS (SELECT FROM identity_account AS account \
                 WHERE account.laboratory_id = $1 AND account.state = 'active' \
                   AND account.account_id = ",
            $caller,
            ") OR EXISTS (SELECT FROM identity_client AS client \
                 WHERE client.laboratory_id = $1 AND client.state = 'active' \
                   AND client.client_id = ",
            $caller,
            "))"
        )
    };
}
pub(super) use caller_is_active;

#[derive(QueryableByName)]
struct Caller {
    #[diesel(sql_type = Bool)]
    is_active: bool,
}

/// Refuses a write by whose account or client was closed.
///
/// # Errors
/// [`ApiError::Unauthenticated`].
pub(super) async fn must_be_active(tx: &mut Tx, permit: &Permit) -> Answer<()> {
    if permit.caller().is_nil() {
        return Ok(());
    }
    let laboratory = tx.laboratory_id();
    let caller: Caller =
        crate::statement::statement(concat!("SELECT ", caller_is_active!("$2"), " AS is_active"))
            .bind::<Integer, _>(laboratory)
            .bind::<SqlUuid, _>(permit.caller())
            .get_result(tx.connection())
            .await?;
    if caller.is_active {
        return Ok(());
    }
    Err(closed())
}

/// The refusal.
pub(super) fn closed() -> ApiError {
    ApiError::Unauthenticated("The account was closed. Ask the administrator.".into())
}
