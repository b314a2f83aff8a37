//! `assize verify-ledger` and the second verifier, over the same archives.

mod archives;
mod attacks;
mod bundles;
mod exported;
mod hostile;
mod second;

pub(crate) use exported::is_computed_again;
