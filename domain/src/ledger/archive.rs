//! The archive: a laboratory's whole log with its records, checked by whoever holds the file.
//!
//! Promises that what is wrong is found and named by its entry or subject, and that the checks ask
//! nobody; refuses (as unreadable) a manifest of another format. The checks of one act are pure
//! and need no other act, so that they may be done on every core; what ties the acts together is
//! done in their order by [`Chain`].
//!
//! | module | question it answers |
//! |---|---|
//! | [`manifest`] | what does the archive say that it holds? |
//! | [`lines`] | what stands in a line of its files? |
//! | [`examined`] | does this act hold, with its records? |
//! | [`chain`] | do the acts hold together: entries, versions, keys, checkpoints, disclosures? |
//! | [`announced`] | from which entry to which was a key good, by the records themselves? |
//! | [`checkpoints`] | which checkpoints bind the entries? |
//! | [`findings`] | what was found amiss, and by which check? |

pub mod announced;
pub mod chain;
pub mod checkpoints;
pub mod examined;
pub mod findings;
pub mod lines;
pub mod manifest;
#[cfg(test)]
mod tests;

pub use chain::Chain;
pub use checkpoints::HeldCheckpoint;
pub use examined::{Examined, Expected, KindSeen, examine};
pub use findings::{Check, Finding, Findings};
pub use lines::{DisclosureLine, EntryLine, LineError, RecordLine};
pub use manifest::{Counts, Manifest, ManifestError};
