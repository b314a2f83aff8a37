//! Transactions of the sequencer, which see one laboratory's log.

use super::{Db, Manager, begin_for, checkout};
use crate::{error::Answer, identity::LaboratoryKey, ledger::Standing};
use diesel_async::{
    AsyncPgConnection, TransactionManager as _, pooled_connection::deadpool::Object,
};

impl Db {
    /// A connection of the role that may see which laboratories have acts to sequence.
    ///
    /// # Errors
    /// [`crate::error::ApiError::Unavailable`].
    pub(crate) async fn sequencer(&self) -> Answer<Object<AsyncPgConnection>> {
        checkout(&self.sequencer).await
    }

    /// How the logs stand, as this process knows.
    pub(crate) fn standing(&self) -> &Standing {
        &self.standing
    }

    /// Begins a transaction of the sequencer in one laboratory; [`Db::end_log`] ends it.
    ///
    /// # Errors
    /// [`crate::error::ApiError::Unavailable`].
    pub(crate) async fn begin_log(
        &self,
        laboratory: &LaboratoryKey,
    ) -> Answer<Object<AsyncPgConnection>> {
        let mut connection = self.sequencer().await?;
        begin_for(&mut connection, "BEGIN", laboratory, "").await?;
        Ok(connection)
    }

    /// Keeps what the sequencer's transaction wrote, or nothing of it.
    ///
    /// # Errors
    /// [`crate::error::ApiError::Unavailable`]; then it is not known whether it was kept.
    pub(crate) async fn end_log(
        &self,
        mut connection: Object<AsyncPgConnection>,
        keep: bool,
    ) -> Answer<()> {
        if keep {
            Manager::commit_transaction(&mut *connection).await?;
        } else {
            Manager::rollback_transaction(&mut *connection).await?;
        }
        Ok(())
    }
}
