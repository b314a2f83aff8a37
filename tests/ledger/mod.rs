//! The ledger over HTTP.

mod trust_file;
