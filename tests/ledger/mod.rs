//! The ledger over HTTP.

mod append_only;
mod trust_file;
