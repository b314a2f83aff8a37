//! The receipt of what was recorded: what a caller keeps to show later, without the service, that
//! it was.
//!
//! Promises the act as it was signed, and the hashes that lead to its root where they are few.
//! It says nothing of the log: the proof comes with the checkpoint.

use super::Sealed;
use domain::ledger::Hash;

/// The signed act: the entry that the log will have.
const ENTRY: &str = "Assize-Entry";

/// Hashes of the act's records, in their order.
const RECORDS: &str = "Assize-Records";

/// Most record hashes in a receipt: headers are short, and the entry has the root of all.
const MOST_RECORDS: usize = 16;

/// A receipt.
pub(crate) struct Receipt {
    entry: String,
    records: Vec<Hash>,
}

impl Sealed {
    /// The receipt of the (first) act; none where nothing was recorded.
    pub(crate) fn receipt(&self) -> Option<Receipt> {
        let act = self.acts.first()?;
        Some(Receipt {
            entry: act.entry.clone(),
            records: act.versions.iter().map(|(_, _, hash)| *hash).collect(),
        })
    }
}

impl Receipt {
    /// The receipt as headers of an answer.
    pub(crate) fn headers(&self) -> Vec<(&'static str, String)> {
        let mut headers = vec![(ENTRY, self.entry.clone())];
        if self.records.len() <= MOST_RECORDS {
            let hashes: Vec<String> = self.records.iter().map(Hash::to_string).collect();
            headers.push((RECORDS, hashes.join(", ")));
        }
        headers
    }
}
