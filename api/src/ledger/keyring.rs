//! The laboratory's signing keys: made once, sealed in the database, opened in memory.
//!
//! Promises that what is signed is signed by the newest key that may sign, which every transaction
//! asks for as it begins; refuses to sign where the key-encryption key does not open it.

use super::{
    NewRecord, append,
    store::{self, keys::Begins},
};
use crate::{
    db::Tx,
    error::{Answer, ApiError},
    ids,
    secrets::Seed,
};
use domain::{
    id::{KeyId, LaboratoryId},
    ledger::{
        SecretKey,
        rotation::{SignsWhat, key_content},
    },
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

    /// The SQL by which a transaction that signs begins: it holds the laboratory's keys, shared,
    /// and is refused where the key that is remembered here is no longer the one to sign with.
    pub(crate) fn sharing(&self, laboratory: i32) -> String {
        let known = self.record_keys.read();
        let known = known.unwrap_or_else(PoisonError::into_inner);
        // A thumbprint is base64url: it holds no quote.
        let remembered = known
            .get(&laboratory)
            .map_or_else(|| "NULL".to_owned(), |key| format!("'{}'", key.kid()));
        format!("SELECT ledger_share_keys({laboratory}, {remembered})")
    }

    /// Forgets the key that signed until now.
    pub(crate) fn forget(&self, laboratory: i32) {
        let known = self.record_keys.write();
        known
            .unwrap_or_else(PoisonError::into_inner)
            .remove(&laboratory);
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
        let (key_id, sealed) = store::keys::signing(tx)
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

/// Makes the laboratory's first keys, seals them, and records their public halves.
///
/// # Errors
/// [`ApiError::Internal`] where there are no random bytes, or sealing fails.
pub async fn announce_keys(tx: &mut Tx, keyring: &Keyring) -> Answer<()> {
    for signs_what in [SignsWhat::Record, SignsWhat::Log] {
        announce(tx, keyring, ids::fresh(), signs_what, Begins::WithTheLog).await?;
    }
    Ok(())
}

/// Makes a key, seals it, and records its public half.
///
/// # Errors
/// [`ApiError::Internal`] where there are no random bytes, or sealing fails.
pub(super) async fn announce(
    tx: &mut Tx,
    keyring: &Keyring,
    key_id: KeyId,
    signs_what: SignsWhat,
    begins: Begins,
) -> Answer<()> {
    let seed = ids::random_bytes::<32>().map_err(ApiError::internal)?;
    let key = SecretKey::from_seed(&seed);
    let sealed = keyring
        .encryption
        .seal(&place(tx.laboratory().id, key_id.0), &seed)
        .map_err(ApiError::internal)?;
    let new = store::keys::NewKey {
        id: key_id.0,
        signs_what,
        key: &key,
        sealed: &sealed,
        begins,
    };
    store::keys::insert(tx, new).await?;
    append(
        tx,
        NewRecord {
            kind: "key",
            schema: 1,
            subject: key_id.0,
            version: 1,
            content: key_content(key.public(), signs_what),
            disclosed: &[],
        },
    );
    Ok(())
}
