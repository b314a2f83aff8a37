//! The laboratory's keys, held alone: whoever signs holds them shared.

use super::Tx;
use crate::{error::Answer, statement::statement};
use diesel::sql_types::Integer;
use diesel_async::RunQueryDsl as _;

/// First key of the advisory locks that guard which key signs; `ledger_share_keys` has it too.
const KEYS_LOCK: i32 = 0x4153_5A4B;

impl Tx {
    /// Waits until nobody else signs in this laboratory, and lets nobody begin to until this
    /// transaction ends. The first thing that a transaction does: it must hold nothing yet that
    /// somebody who signs may wait for.
    ///
    /// # Errors
    /// [`crate::error::ApiError::Unavailable`] or [`crate::error::ApiError::Internal`].
    pub(crate) async fn hold_keys_alone(&mut self) -> Answer<()> {
        let laboratory = self.laboratory_id();
        statement("SELECT pg_advisory_xact_lock($1, $2)")
            .bind::<Integer, _>(KEYS_LOCK)
            .bind::<Integer, _>(laboratory)
            .execute(self.connection())
            .await?;
        Ok(())
    }
}
