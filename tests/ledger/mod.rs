//! The ledger over HTTP.

mod anchors;
mod append_only;
pub(crate) mod log;
mod sequencing;
pub(crate) mod trust_file;
