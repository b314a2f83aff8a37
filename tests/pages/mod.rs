//! The pages that people see.

mod acceptance;
mod reviewer;
mod sign_in;
mod snapshots;
