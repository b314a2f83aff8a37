//! A record key, as the trust file says for which entries of a log it is good.

use super::super::store::keys::KeyRow;
use crate::error::{Answer, ApiError};
use domain::ledger::PublicKey;
use serde_json::{Value, json};

/// The entry of the trust file for a key in a log that has come to an end at `ended` entries, or
/// goes on; nothing where it is not good for any.
pub(in crate::ledger) fn record_key(
    row: &KeyRow,
    key: &PublicKey,
    log: u64,
    ended: Option<u64>,
) -> Answer<Option<Value>> {
    let number = u32::try_from(log).map_err(ApiError::internal)?;
    let Some((from, until)) = row.span()?.in_log(number) else {
        return Ok(None);
    };
    let mut jwk = key.to_jwk();
    if let Some(members) = jwk.as_object_mut() {
        members.insert("alg".into(), json!("EdDSA"));
        members.insert("use".into(), json!("sig"));
        members.insert("kid".into(), json!(key.kid()));
        members.insert("log".into(), json!(log));
        members.insert("from_entry".into(), json!(from));
        // Of a log that has ended no key is in use any more.
        if let Some(until) = until.or(ended) {
            members.insert("until_entry".into(), json!(until));
        }
    }
    Ok(Some(jwk))
}
