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

/// A condition: the account or client `$2` of the laboratory `$1` is active, or it is the service
/// itself.
macro_rules! caller_is_active {
    () => {
        "($2 = '00000000-0000-0000-0000-000000000000' \
          OR EXISTS (SELECT FROM identity_account AS caller WHERE caller.laboratory_id = $1 \
             AND caller.account_id = $2 AND caller.state = 'active') \
          OR EXISTS (SELECT FROM identity_client AS caller WHERE caller.laboratory_id = $1 \
             AND caller.client_id = $2 AND caller.state = 'active'))"
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
        crate::statement::statement(concat!("SELECT ", caller_is_active!(), " AS is_active"))
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
