//! `assize verify-ledger` and the second verifier, over the same archives: whole, attacked, hostile.

mod archives;
mod attacks;
mod bundles;
mod exported;
mod hostile;
mod second;
