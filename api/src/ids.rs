//! The only place that makes ids, salts and other random bytes.
//!
//! Promises ids that sort by the time they were made (UUID version 7), and salts that nobody can
//! guess.

use uuid::Uuid;

/// A fresh id (UUID version 7).
#[must_use]
#[expect(
    clippy::disallowed_methods,
    reason = "this is the one place that makes ids"
)]
pub fn fresh<T: From<Uuid>>() -> T {
    T::from(Uuid::now_v7())
}

/// The operating system gave no random bytes.
#[derive(Debug, thiserror::Error)]
#[error("the operating system gave no random bytes: {0}")]
pub struct NoRandomBytes(getrandom::Error);

/// Random bytes from the operating system.
///
/// # Errors
/// [`NoRandomBytes`] where the operating system has none to give.
pub fn random_bytes<const N: usize>() -> Result<[u8; N], NoRandomBytes> {
    let mut bytes = [0; N];
    getrandom::fill(&mut bytes).map_err(NoRandomBytes)?;
    Ok(bytes)
}
