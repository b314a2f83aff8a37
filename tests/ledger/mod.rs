//! The ledger over HTTP.

mod append_only;
pub(crate) mod trust_file;
