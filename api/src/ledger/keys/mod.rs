//! Keys that come and go: announced, used beside the old one, and the old one withdrawn.
//!
//! Promises that what is signed is signed by a key that is good at its entry, with any number of
//! processes and while others write: a transaction that signs holds the laboratory's keys, shared,
//! until it ends, and a withdrawal takes them alone. Refuses to withdraw the only key that signs,
//! but for a compromised one, whose successor is announced in the same act.

mod announce_key;
mod list_keys;
pub(super) mod trusted;
mod wire;
mod withdraw_key;

use super::store::keys::all;
use crate::error::{Answer, ApiError};
use diesel_async::AsyncPgConnection;
use domain::ledger::{act::ReadAct, rotation::Place};

/// The first entry that the key which signed this act is no longer good for; none while it is in
/// use.
///
/// # Errors
/// Where the database fails.
pub(crate) async fn signed_until(
    connection: &mut AsyncPgConnection,
    laboratory: i32,
    entry: &str,
) -> Answer<Option<Place>> {
    let kid = ReadAct::parse(entry).map_err(ApiError::internal)?.kid;
    let keys = all(connection, laboratory).await?;
    let signed = keys.into_iter().find(|key| key.thumbprint == kid);
    signed.map_or(Ok(None), |key| Ok(key.span()?.until))
}

/// Routes of the keys.
pub(super) fn routes(config: &mut utoipa_actix_web::service_config::ServiceConfig) {
    config
        .service(announce_key::announce_key)
        .service(list_keys::list_keys)
        .service(withdraw_key::withdraw_key);
}
