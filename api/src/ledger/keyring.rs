//! The laboratory's signing keys: made once, sealed in the database, opened in memory.
//!
//! Promises one record key and one log key a laboratory; refuses to sign where the key-encryption
//! key does not open them.

use super::{NewRecord, append, store};
use crate::{
    db::Tx,
    error::{Answer, ApiError},
    ids,
    secrets::Seed,
};
use domain::{
    id::{KeyId, LaboratoryId},
    ledger::SecretKey,
};
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

    /// Opens a sealed key of a laboratory.
    ///
    /// # Errors
    /// [`ApiError::Internal`] where it does not open.
    pub(super) fn open(
        &self,
        laboratory: LaboratoryId,
        key_id: uuid::Uuid,
        sealed: &[u8],
    ) -> Answer<SecretKey> {
        let seed = self
            .encryption
            .open(&place(laboratory, key_id), sealed)
            .map_err(ApiError::internal)?;
        Ok(SecretKey::from_seed(&seed))
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
        let (key_id, sealed) = store::newest_record_key(tx)
            .await?
            .ok_or_else(|| ApiError::internal("the laboratory has no record key"))?;
        let key = Arc::new(self.open(tx.laboratory().id, key_id, &sealed)?);
        self.record_keys
            .write()
            .unwrap_or_else(PoisonError::into_inner)
            .insert(laboratory, Arc::clone(&key));
        Ok(key)
    }
}

/// What a sealed key is bound to, so that it opens nowhere else.
fn place(laboratory: LaboratoryId, key_id: uuid::Uuid) -> String {
    format!("{laboratory}/{key_id}")
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
            .seal(&place(tx.laboratory().id, key_id.0), &seed)
            .map_err(ApiError::internal)?;
        store::insert_key(tx, key_id.0, key_use, &key, &sealed).await?;
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
