//! Hashes passwords and secrets with argon2id, and compares them, off the threads that serve.

use crate::error::{Answer, ApiError};
use argon2::{
    Argon2, PasswordHasher as _, PasswordVerifier as _, password_hash::phc::PasswordHash,
};

/// The password's argon2id hash, as a PHC string.
///
/// # Errors
/// [`ApiError::Internal`] where hashing fails.
pub(crate) async fn hash_password(password: String) -> Answer<String> {
    actix_web::web::block(move || {
        Argon2::default()
            .hash_password(password.as_bytes())
            .map(|hash| hash.to_string())
    })
    .await
    .map_err(ApiError::internal)?
    .map_err(ApiError::internal)
}

/// Whether the password is the one that was hashed.
///
/// # Errors
/// [`ApiError::Internal`] where the stored hash cannot be read.
pub(super) async fn matches(hash: String, password: String) -> Answer<bool> {
    actix_web::web::block(move || {
        let hash = PasswordHash::new(&hash)?;
        Ok::<bool, argon2::password_hash::phc::Error>(
            Argon2::default()
                .verify_password(password.as_bytes(), &hash)
                .is_ok(),
        )
    })
    .await
    .map_err(ApiError::internal)?
    .map_err(ApiError::internal)
}
