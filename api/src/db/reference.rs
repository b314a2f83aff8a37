//! What many samples share: who computes with it holds changes of it back, who changes it waits.

use super::Tx;
use crate::{error::Answer, results::Reference};
use diesel::{
    QueryableByName,
    sql_types::{BigInt, Integer},
};
use diesel_async::RunQueryDsl as _;
use futures_util::future::try_join;
use std::sync::Arc;

/// First key of the advisory locks that guard what many samples share.
const REFERENCE_LOCK: i32 = 0x4153_5A52;

#[derive(QueryableByName)]
struct Stamp {
    #[diesel(sql_type = BigInt)]
    stamp: i64,
}

impl Tx {
    /// What many samples share, as it is now; held so until this transaction ends.
    ///
    /// # Errors
    /// Where the database cannot be reached, or fails.
    pub(crate) async fn reference(&mut self) -> Answer<Arc<Reference>> {
        let stamp = self.share_reference().await?;
        self.reference_at(stamp).await
    }

    /// What many samples share, in the state that [`Tx::share_reference`] told.
    ///
    /// # Errors
    /// Where the database cannot be reached, or fails.
    pub(crate) async fn reference_at(&mut self, stamp: i64) -> Answer<Arc<Reference>> {
        let references = Arc::clone(&self.references);
        references.at(self, stamp).await
    }

    /// Holds back changes of what many samples share until this transaction ends, and tells which
    /// state of it is current.
    ///
    /// # Errors
    /// Where the database cannot be reached, or fails.
    pub async fn share_reference(&self) -> Answer<i64> {
        let laboratory = self.laboratory_id();
        let lock = crate::statement::statement("SELECT pg_advisory_xact_lock_shared($1, $2)")
            .bind::<Integer, _>(REFERENCE_LOCK)
            .bind::<Integer, _>(laboratory);
        // A statement of its own: one that waits for the lock sees what was before it waited.
        let stamp = crate::statement::statement(
            "SELECT stamp FROM laboratories_reference WHERE laboratory_id = $1",
        )
        .bind::<Integer, _>(laboratory);
        let (mut first, mut second) = (self.together(), self.together());
        let (_, stamp): (usize, Stamp) =
            try_join(lock.execute(&mut first), stamp.get_result(&mut second)).await?;
        Ok(stamp.stamp)
    }

    /// Says that this transaction changes what many samples share: waits for whoever computes with
    /// it, and makes every cached copy stale.
    ///
    /// # Errors
    /// Where the database cannot be reached, or fails.
    pub async fn change_reference(&mut self) -> Answer<()> {
        let laboratory = self.laboratory_id();
        crate::statement::statement("SELECT pg_advisory_xact_lock($1, $2)")
            .bind::<Integer, _>(REFERENCE_LOCK)
            .bind::<Integer, _>(laboratory)
            .execute(self.connection())
            .await?;
        crate::statement::statement(
            "UPDATE laboratories_reference SET stamp = stamp + 1 WHERE laboratory_id = $1",
        )
        .bind::<Integer, _>(laboratory)
        .execute(self.connection())
        .await?;
        Ok(())
    }
}
