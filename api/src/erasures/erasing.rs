//! The erasure itself, the same whether a person asks for it or an older backup has it due.

use super::{clearing, selecting::Selected, store};
use crate::{
    db::{Tx, blank_answers},
    error::Answer,
    imports,
    kept::Kept,
    ledger,
};
use domain::erasures::Erasure;
use uuid::Uuid;

/// Erases what was selected, everywhere, and records it.
///
/// # Errors
/// Where the database refuses, or a row could not be read any more afterwards.
pub(super) async fn erase(tx: &mut Tx, id: Uuid, selected: &Selected) -> Answer<Kept<Erasure>> {
    // What many samples share is kept in memory: nobody goes on with a copy that shows it.
    tx.change_reference().await?;
    let erased: Vec<_> = selected
        .located
        .iter()
        .map(|one| one.member.clone())
        .collect();
    let digests: Vec<String> = erased.iter().map(|one| one.digest.clone()).collect();
    clearing::clear(tx, &erased).await?;
    let uploads = imports::erase_holding(tx, &selected.texts).await?;
    blank_answers(tx, &selected.texts).await?;
    ledger::delete_disclosures(tx, digests).await?;
    let erasure = Kept::first(tx, id, Erasure { erased, uploads });
    store::insert(tx, &erasure).await?;
    Ok(erasure)
}
