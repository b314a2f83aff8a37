//! The pages that people see.

mod reviewer;
mod sign_in;
