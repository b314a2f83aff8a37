//! A transaction of the owner of the tables that is always undone: for what is built beside the
//! live tables to be compared with them.
//!
//! Promises one consistent state of the database for as long as it runs, and that nothing of what
//! was made in it stays, however it ends. Refuses to record anything.

use super::{Manager, Tx, checkout, set_up_pool};
use crate::{
    clock::Clock,
    error::Answer,
    identity::{LaboratoryKey, Permit},
    ledger::Draft,
    statement::Batch,
};
use diesel_async::TransactionManager as _;
use std::sync::Arc;

/// The schema of the live tables. What names no schema means the scratch one, where a table of the
/// name is there.
pub(crate) const LIVE: &str = "public";

/// Does work as the owner of the tables, on the database as it is now, and undoes it.
///
/// # Errors
/// What the work refuses with, or [`crate::error::ApiError::Unavailable`].
pub(crate) async fn undone<T>(
    owner_url: &str,
    laboratory: LaboratoryKey,
    work: impl AsyncFnOnce(&mut Tx) -> Answer<T>,
) -> Answer<T> {
    let owner = set_up_pool(owner_url, "", 1)?;
    let mut connection = checkout(&owner).await?;
    Manager::begin_transaction_sql(&mut *connection, "BEGIN ISOLATION LEVEL REPEATABLE READ")
        .await?;
    let mut tx = Tx {
        connection,
        draft: Draft::of(&Permit::process(laboratory.clone(), "rebuild", "rebuild")),
        laboratory,
        now: Clock::default().now(),
        references: Arc::default(),
        answer: None,
        keyring: None,
        last: Batch::default(),
    };
    let answer = work(&mut tx).await;
    let undone = Manager::rollback_transaction(&mut *tx.connection).await;
    let answer = answer?;
    undone?;
    Ok(answer)
}
