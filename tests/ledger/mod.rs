//! The ledger over HTTP.

mod anchors;
mod append_only;
mod keys;
mod killed;
pub(crate) mod log;
pub(crate) mod log_files;
mod proofs;
mod sequencing;
pub(crate) mod trust_file;
