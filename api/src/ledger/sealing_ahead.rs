//! Seals the records of a large transaction while it goes on, so that they need not all be kept in
//! memory, and need not all be sealed at its end.
//!
//! Promises the same acts in the same order as sealing at the end: only whole ones are sealed
//! ahead, what is left waits for the next records.

use super::{NewRecord, Receipt, previous_hashes, sealing::Sealer, store};
use crate::{db::Tx, error::Answer, ids, ledger::Hashes, statement::Batch};
use domain::{id::ActId, ledger::act, time::Moment};
use uuid::Uuid;

/// What was recorded and not yet sealed; can be handed to another thread.
pub(crate) struct SealingAhead {
    /// None where nothing is kept: a rehearsal signs nothing.
    sealer: Option<Sealer>,
    laboratory: i32,
    now: Moment,
    waiting: Vec<NewRecord>,
    known: Hashes,
    next_act: ActId,
    first_record: Option<(Uuid, i32)>,
    receipt: Option<Receipt>,
    any: bool,
}

impl SealingAhead {
    /// Takes over what the transaction recorded until now.
    ///
    /// # Errors
    /// Where the database fails, or the key does not open.
    pub(crate) async fn begin(tx: &mut Tx) -> Answer<Self> {
        let waiting = std::mem::take(&mut tx.draft.records);
        let known = previous_hashes(tx, &waiting).await?;
        let sealer = match tx.keyring() {
            Some(keyring) => Some(Sealer::of(tx, &keyring).await?),
            None => None,
        };
        Ok(Self {
            sealer,
            laboratory: tx.laboratory_id(),
            now: tx.now(),
            waiting,
            known,
            next_act: tx.draft.next_act,
            first_record: tx.draft.first_record,
            receipt: tx.draft.take_receipt(),
            any: tx.draft.sealed_ahead,
        })
    }

    /// Adds records and the hashes that they follow; what can be stored of them is added to the
    /// batch.
    ///
    /// # Errors
    /// [`crate::error::ApiError::Internal`] where a record has no canonical form.
    pub(crate) fn add(
        &mut self,
        records: Vec<NewRecord>,
        earlier: Hashes,
        batch: &mut Batch,
    ) -> Answer<()> {
        let Some(sealer) = &self.sealer else {
            return Ok(());
        };
        self.known.extend(earlier);
        if let Some(record) = records.first() {
            self.first_record
                .get_or_insert((record.subject, record.version));
        }
        self.waiting.extend(records);
        let whole = self.waiting.len() / act::MOST_RECORDS * act::MOST_RECORDS;
        if whole == 0 {
            return Ok(());
        }
        let rest = self.waiting.split_off(whole);
        let ready = std::mem::replace(&mut self.waiting, rest);
        let sealed = sealer.seal(self.next_act, ready, &mut self.known)?;
        self.receipt = self.receipt.take().or_else(|| sealed.receipt());
        batch.add(store::insertion(self.laboratory, self.now, sealed));
        self.next_act = ids::fresh();
        self.any = true;
        Ok(())
    }

    /// Gives the transaction what is left.
    pub(crate) fn end(self, tx: &mut Tx) {
        tx.draft.records = self.waiting;
        tx.draft.earlier = self.known;
        tx.draft.next_act = self.next_act;
        tx.draft.first_record = self.first_record;
        tx.draft.receipt = self.receipt;
        tx.draft.sealed_ahead = self.any;
    }
}
