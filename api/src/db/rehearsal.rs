//! A transaction that is always undone.

use super::{Db, For, Manager, Tx};
use crate::{error::Answer, identity::Permit};
use diesel_async::TransactionManager as _;

impl Db {
    /// Does work and undoes it: tells what would happen, and keeps nothing.
    ///
    /// # Errors
    /// What the work refuses with, or [`crate::error::ApiError::Unavailable`].
    pub async fn rehearse<T>(
        &self,
        permit: &Permit,
        work: impl AsyncFnOnce(&mut Tx) -> Answer<T>,
    ) -> Answer<T> {
        let mut tx = self.begin(permit, For::Writing).await?;
        tx.keyring = None;
        let answer = work(&mut tx).await;
        let undone = Manager::rollback_transaction(&mut *tx.connection).await;
        let answer = answer?;
        undone?;
        Ok(answer)
    }
}
