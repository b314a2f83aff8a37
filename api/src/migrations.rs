//! Brings a database to the newest form: the migrations are in the program.

use crate::error::{Answer, ApiError};
use diesel_async::{
    AsyncConnection as _, AsyncMigrationHarness, AsyncPgConnection, RunQueryDsl as _,
};
use diesel_migrations::{EmbeddedMigrations, MigrationHarness as _, embed_migrations};

/// The migrations, as they stand under `migrations/`.
pub const MIGRATIONS: EmbeddedMigrations = embed_migrations!("../migrations");

/// Runs what is pending, as the owner of the tables; one process at a time.
///
/// # Errors
/// [`ApiError::Unavailable`] where the database cannot be reached, [`ApiError::Internal`] where a
/// migration fails.
pub async fn migrate(owner_url: &str) -> Answer<Vec<String>> {
    let mut connection = AsyncPgConnection::establish(owner_url)
        .await
        .map_err(|error| ApiError::Unavailable(error.into()))?;
    crate::statement::statement("SELECT pg_advisory_lock(4704803)")
        .execute(&mut connection)
        .await?;
    tokio::task::spawn_blocking(move || {
        let mut harness = AsyncMigrationHarness::new(connection);
        harness
            .run_pending_migrations(MIGRATIONS)
            .map(|done| done.iter().map(ToString::to_string).collect())
            .map_err(ApiError::Internal)
    })
    .await
    .map_err(ApiError::internal)?
}
