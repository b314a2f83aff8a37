//! Pools of connections, each of the one role that its connections take.

use crate::error::{Answer, ApiError};
use diesel_async::{
    AsyncConnection as _, AsyncPgConnection, SimpleAsyncConnection as _,
    pooled_connection::{
        AsyncDieselConnectionManager, ManagerConfig, RecyclingMethod,
        deadpool::{Object, Pool},
    },
};
use futures_util::FutureExt as _;
use std::time::Duration;

/// Every connection takes the role first, so that it owns nothing and cannot step around
/// row-level security, whoever its address logs in as.
pub(super) fn pool(url: &str, role: &'static str, size: usize) -> Answer<Pool<AsyncPgConnection>> {
    set_up_pool(url, &format!("SET ROLE {role}; "), size)
}

/// As [`pool`], for what writes by keys: there, planning an INSERT of one row anew takes longer
/// than the row.
pub(super) fn writing_pool(
    url: &str,
    role: &'static str,
    size: usize,
) -> Answer<Pool<AsyncPgConnection>> {
    let set_up = format!("SET ROLE {role}; SET plan_cache_mode = force_generic_plan; ");
    set_up_pool(url, &set_up, size)
}

/// A pool whose connections are set up by these statements.
pub(super) fn set_up_pool(url: &str, set_up: &str, size: usize) -> Answer<Pool<AsyncPgConnection>> {
    let set_up = format!("{set_up}SET TIME ZONE 'UTC'");
    let mut settings = ManagerConfig::default();
    settings.recycling_method = RecyclingMethod::Fast;
    settings.custom_setup = Box::new(move |url| {
        let (url, set_up) = (url.to_owned(), set_up.clone());
        async move {
            let mut connection = AsyncPgConnection::establish(&url).await?;
            connection
                .batch_execute(&set_up)
                .await
                .map_err(|error| diesel::ConnectionError::BadConnection(error.to_string()))?;
            Ok(connection)
        }
        .boxed()
    });
    Pool::builder(AsyncDieselConnectionManager::new_with_config(url, settings))
        .max_size(size)
        .wait_timeout(Some(Duration::from_secs(10)))
        .create_timeout(Some(Duration::from_secs(5)))
        .runtime(deadpool::Runtime::Tokio1)
        .build()
        .map_err(ApiError::internal)
}

pub(super) async fn checkout(pool: &Pool<AsyncPgConnection>) -> Answer<Object<AsyncPgConnection>> {
    pool.get()
        .await
        .map_err(|error| ApiError::Unavailable(Box::new(error)))
}
