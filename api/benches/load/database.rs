//! Databases of the bench: made from one another, and dropped at the end.

use crate::cluster::Failure;
use diesel::{
    QueryableByName,
    sql_types::{BigInt, Text},
};
use diesel_async::{
    AsyncConnection as _, AsyncPgConnection, RunQueryDsl as _, SimpleAsyncConnection as _,
};

#[derive(QueryableByName)]
struct TextRow {
    #[diesel(sql_type = Text)]
    value: String,
}

#[derive(QueryableByName)]
struct NumberRow {
    #[diesel(sql_type = BigInt)]
    value: i64,
}

/// One text, of a query that calls it `value`.
pub(crate) async fn text(
    connection: &mut AsyncPgConnection,
    query: &str,
) -> Result<String, Failure> {
    let row: TextRow = diesel::sql_query(query).get_result(connection).await?;
    Ok(row.value)
}

/// Texts, of a query that calls them `value`.
pub(crate) async fn texts(
    connection: &mut AsyncPgConnection,
    query: &str,
) -> Result<Vec<String>, Failure> {
    let rows: Vec<TextRow> = diesel::sql_query(query).load(connection).await?;
    Ok(rows.into_iter().map(|row| row.value).collect())
}

/// One number, of a query that calls it `value`.
pub(crate) async fn number(
    connection: &mut AsyncPgConnection,
    query: &str,
) -> Result<i64, Failure> {
    let row: NumberRow = diesel::sql_query(query).get_result(connection).await?;
    Ok(row.value)
}

/// Runs statements without values.
pub(crate) async fn run(
    connection: &mut AsyncPgConnection,
    statements: &str,
) -> Result<(), Failure> {
    connection
        .batch_execute(statements)
        .await
        .map_err(|error| format!("{error}: {statements:.400}").into())
}

/// The databases of this run, on one server.
pub(crate) struct Databases {
    server_url: String,
    prefix: String,
    /// Whether statements can be counted.
    pub(crate) counts: bool,
}

impl Databases {
    /// Looks at the server.
    pub(crate) async fn of(server_url: &str) -> Result<Self, Failure> {
        let mut admin = AsyncPgConnection::establish(server_url).await?;
        let counts = run(
            &mut admin,
            "CREATE EXTENSION IF NOT EXISTS pg_stat_statements; \
             SELECT count(*) FROM pg_stat_statements",
        )
        .await
        .is_ok();
        Ok(Self {
            server_url: server_url.to_owned(),
            prefix: format!("assize_bench_{}", std::process::id()),
            counts,
        })
    }

    /// A connection of the superuser to the maintenance database.
    pub(crate) async fn admin(&self) -> Result<AsyncPgConnection, Failure> {
        Ok(AsyncPgConnection::establish(&self.server_url).await?)
    }

    /// Name of one of the databases on the server.
    pub(crate) fn name(&self, name: &str) -> String {
        format!("{}_{name}", self.prefix)
    }

    /// URL of one of the databases, as the owner.
    pub(crate) fn url(&self, name: &str) -> Result<String, Failure> {
        let (scheme, rest) = self
            .server_url
            .split_once("://")
            .ok_or("the server's URL has no scheme")?;
        let (authority, tail) = rest.split_once('/').unwrap_or((rest, ""));
        let options = tail
            .split_once('?')
            .map(|(_, options)| format!("?{options}"))
            .unwrap_or_default();
        Ok(format!(
            "{scheme}://{authority}/{}{options}",
            self.name(name)
        ))
    }

    /// A connection of the owner to one of the databases.
    pub(crate) async fn connect(&self, name: &str) -> Result<AsyncPgConnection, Failure> {
        Ok(AsyncPgConnection::establish(&self.url(name)?).await?)
    }

    /// Makes a database, of another one or empty; statements in it are counted where `counted`.
    pub(crate) async fn make(
        &self,
        name: &str,
        template: Option<&str>,
        counted: bool,
    ) -> Result<(), Failure> {
        let mut admin = self.admin().await?;
        let (full, template) = (
            self.name(name),
            template.map_or_else(|| "template0".to_owned(), |name| self.name(name)),
        );
        run(
            &mut admin,
            &format!("DROP DATABASE IF EXISTS {full} WITH (FORCE)"),
        )
        .await?;
        let make = format!("CREATE DATABASE {full} TEMPLATE {template}");
        // The backend of a connection that was just closed takes a moment to go.
        let mut tries = 0_u32;
        while let Err(failure) = run(&mut admin, &make).await {
            tries = tries.saturating_add(1);
            if tries > 50 {
                return Err(failure);
            }
            tokio::time::sleep(std::time::Duration::from_millis(100)).await;
        }
        if self.counts {
            let track = if counted { "top" } else { "none" };
            let set = format!("ALTER DATABASE {full} SET pg_stat_statements.track = '{track}'");
            run(&mut admin, &set).await?;
        }
        Ok(())
    }

    /// Drops one of the databases.
    pub(crate) async fn drop(&self, name: &str) -> Result<(), Failure> {
        let mut admin = self.admin().await?;
        let full = self.name(name);
        run(
            &mut admin,
            &format!("DROP DATABASE IF EXISTS {full} WITH (FORCE)"),
        )
        .await
    }

    /// Drops all of them.
    pub(crate) async fn drop_all(&self) -> Result<(), Failure> {
        let mut admin = self.admin().await?;
        let query = format!(
            "SELECT datname::text AS value FROM pg_database WHERE datname LIKE '{}%'",
            self.prefix
        );
        for full in texts(&mut admin, &query).await? {
            run(&mut admin, &format!("DROP DATABASE {full} WITH (FORCE)")).await?;
        }
        Ok(())
    }

    /// Writes out what is left from before, so that each side begins alike.
    pub(crate) async fn settle(&self) -> Result<(), Failure> {
        let mut admin = self.admin().await?;
        run(&mut admin, "CHECKPOINT").await
    }
}
