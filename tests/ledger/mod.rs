//! The ledger over HTTP.

mod append_only;
mod log;
mod sequencing;
pub(crate) mod trust_file;
