//! The laboratory's signing keys: made once, sealed in the database, opened in memory.
//!
//! Promises one record key and one log key a laboratory; refuses to sign where the key-encryption
//! key does not open them.

use super::{NewRecord, append};
use crate::{
    db::Tx,
    error::{Answer, ApiError},
    ids,
    schema::ledger_key,
    secrets::Seed,
};
use diesel::{ExpressionMethods as _, OptionalExtension as _, QueryDsl as _};
use diesel_async::RunQueryDsl as _;
use domain::{id::KeyId, ledger::SecretKey};
use std::{
    collections::HashMap,
    sync::{Arc, PoisonError, RwLock},
};

/// Opens sealed keys and keeps them for the life of the process.
pub struct Keyring {
    encryption: Seed,
    record_keys: RwLock<HashMap<i32, Arc<SecretKey>>>,
}

impl Keyring {
    /// A keyring that opens what was sealed under this key.
    #[must_use]
    pub fn new(encryption: Seed) -> Self {
        Self {
            encryption,
            record_keys: RwLock::default(),
        }
    }

    /// The key with which the laboratory signs acts and certificates.
    ///
    /// # Errors
    /// [`ApiError::Internal`] where there is none, or it does not open.
    pub async fn record_key(&self, tx: &mut Tx) -> Answer<Arc<SecretKey>> {
        let laboratory = tx.laboratory_id();
        let known = self
            .record_keys
            .read()
            .unwrap_or_else(PoisonError::into_inner)
            .get(&laboratory)
            .cloned();
        if let Some(key) = known {
            return Ok(key);
        }
        let (key_id, sealed): (uuid::Uuid, Vec<u8>) = ledger_key::table
            .filter(ledger_key::laboratory_id.eq(laboratory))
            .filter(ledger_key::key_use.eq("record"))
            .filter(ledger_key::retired.eq(false))
            .order(ledger_key::version.desc())
            .select((ledger_key::key_id, ledger_key::sealed_private_key))
            .first(tx.connection())
            .await
            .optional()?
            .ok_or_else(|| ApiError::internal("the laboratory has no record key"))?;
        let seed = self
            .encryption
            .open(&place(tx, key_id), &sealed)
            .map_err(ApiError::internal)?;
        let key = Arc::new(SecretKey::from_seed(&seed));
        self.record_keys
            .write()
            .unwrap_or_else(PoisonError::into_inner)
            .insert(laboratory, Arc::clone(&key));
        Ok(key)
    }
}

/// What a sealed key is bound to, so that it opens nowhere else.
fn place(tx: &Tx, key_id: uuid::Uuid) -> String {
    format!("{}/{key_id}", tx.laboratory().id)
}

/// Makes the laboratory's keys, seals them, and records their public halves.
///
/// # Errors
/// [`ApiError::Internal`] where there are no random bytes, or sealing fails.
pub async fn announce_keys(tx: &mut Tx, keyring: &Keyring) -> Answer<()> {
    for key_use in ["record", "log"] {
        let key_id: KeyId = ids::fresh();
        let seed = ids::random_bytes::<32>().map_err(ApiError::internal)?;
        let key = SecretKey::from_seed(&seed);
        let sealed = keyring
            .encryption
            .seal(&place(tx, key_id.0), &seed)
            .map_err(ApiError::internal)?;
        diesel::insert_into(ledger_key::table)
            .values((
                ledger_key::laboratory_id.eq(tx.laboratory_id()),
                ledger_key::key_id.eq(key_id.0),
                ledger_key::key_use.eq(key_use),
                ledger_key::thumbprint.eq(key.kid()),
                ledger_key::public_key.eq(key.public().as_bytes().as_slice()),
                ledger_key::sealed_private_key.eq(sealed),
                ledger_key::version.eq(1),
                ledger_key::retired.eq(false),
            ))
            .execute(tx.connection())
            .await?;
        append(
            tx,
            NewRecord {
                kind: "key",
                schema: 1,
                subject: key_id.0,
                version: 1,
                content: serde_json::json!({"jwk": key.public().to_jwk(), "use": key_use}),
                disclosed: &[],
            },
        );
    }
    Ok(())
}
