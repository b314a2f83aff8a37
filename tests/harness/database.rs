//! A database for each test, cloned from a migrated template in some 20 ms.
//!
//! Promises that no test sees another's rows, and that the template is migrated by the caller's
//! own migrations, once for each state of the directory `migrations/`: its name is a hash of what
//! is in there. Copies are left behind, so that what a failed test wrote can be looked at; those
//! older than an hour are dropped by a later test.
//!
//! Refuses to go on with a template whose migrations failed: the test panics with their error.
#![expect(clippy::panic, reason = "without a database no test can say anything")]

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use diesel::sql_types::{Bool, Text};
use diesel_async::{AsyncConnection, AsyncPgConnection, RunQueryDsl, SimpleAsyncConnection};
use sha2::{Digest, Sha256};

use super::cluster::{self, Failure, Server};

/// Nothing a test writes has to survive a crash, and a busy runner opens many pools.
const SETTINGS: &[&str] = &[
    "fsync=off",
    "synchronous_commit=off",
    "full_page_writes=off",
    "autovacuum=off",
    "max_connections=400",
    "max_wal_size=4GB",
];

/// One at a time builds a template or sweeps: migrations create roles, which all databases share.
const BUILD_LOCK: i64 = 0x6173_7369_7a65;

static SERVER: OnceLock<Server> = OnceLock::new();
static SWEPT: AtomicBool = AtomicBool::new(false);

/// A database that belongs to one test.
#[derive(Clone)]
pub(crate) struct TestDatabase {
    /// URL for migrations and for looking past row-level security: a superuser's.
    pub(crate) owner_url: String,
    /// URL for the service. It logs in as more than it may be, so the service has to take its own
    /// role on every connection, which every test thereby checks.
    pub(crate) service_url: String,
    /// Name of the database.
    pub(crate) name: String,
}

/// Makes a database from the template, which `migrate` fills (given the owner's URL) if need be.
///
/// `migrate` has to close its connections: a database in use cannot become a template.
pub(crate) async fn fresh_database<M>(migrate: M) -> TestDatabase
where
    M: AsyncFnOnce(String) -> Result<(), Failure>,
{
    let made = match migrations_hash() {
        Ok(hash) => cloned(&hash, migrate).await,
        Err(failure) => Err(failure),
    };
    made.unwrap_or_else(|failure| panic!("no database for this test: {failure}"))
}

async fn cloned<M>(state: &str, migrate: M) -> Result<TestDatabase, Failure>
where
    M: AsyncFnOnce(String) -> Result<(), Failure>,
{
    let server = SERVER.get_or_init(|| cluster::server("test", SETTINGS));
    let mut admin = AsyncPgConnection::establish(&server.url).await?;
    let template = format!("assize_template_{state}");
    if !SWEPT.swap(true, Ordering::Relaxed) {
        sweep(&mut admin, &template).await?;
    }
    if !is_template(&mut admin, &template).await? {
        lock(&mut admin).await?;
        // Another process may have built it while this one waited.
        if !is_template(&mut admin, &template).await? {
            build(&mut admin, &server.url, &template, migrate).await?;
        }
        unlock(&mut admin).await?;
    }
    let name = new_name(&mut admin).await?;
    let strategy = if has_strategies(&mut admin).await? {
        "STRATEGY file_copy"
    } else {
        ""
    };
    admin
        .batch_execute(&format!(
            "CREATE DATABASE {name} TEMPLATE {template} {strategy}"
        ))
        .await?;
    let owner_url = with_database(&server.url, &name)?;
    Ok(TestDatabase {
        service_url: owner_url.clone(),
        owner_url,
        name,
    })
}

impl TestDatabase {
    /// A copy as it is now, as a backup would keep it. Whoever is connected is cut off.
    pub(crate) async fn copy(&self) -> Self {
        self.copied()
            .await
            .unwrap_or_else(|failure| panic!("no copy of the database: {failure}"))
    }

    async fn copied(&self) -> Result<Self, Failure> {
        let server = SERVER.get_or_init(|| cluster::server("test", SETTINGS));
        let mut admin = AsyncPgConnection::establish(&server.url).await?;
        let name = new_name(&mut admin).await?;
        let mut tries = 0_u32;
        loop {
            admin
                .batch_execute(&format!(
                    "SELECT pg_terminate_backend(pid) FROM pg_stat_activity \
                      WHERE datname = '{}'",
                    self.name
                ))
                .await?;
            let create = format!("CREATE DATABASE {name} TEMPLATE {}", self.name);
            match admin.batch_execute(&create).await {
                Ok(()) => break,
                Err(failure) if tries > 50 => return Err(failure.into()),
                Err(_in_use) => tries = tries.saturating_add(1),
            }
            tokio::time::sleep(Duration::from_millis(50)).await;
        }
        let owner_url = with_database(&server.url, &name)?;
        Ok(Self {
            service_url: owner_url.clone(),
            owner_url,
            name,
        })
    }
}

/// Builds under another name, and renames at the end: half a template is never taken for one.
async fn build<M>(
    admin: &mut AsyncPgConnection,
    server_url: &str,
    template: &str,
    migrate: M,
) -> Result<(), Failure>
where
    M: AsyncFnOnce(String) -> Result<(), Failure>,
{
    let draft = template.replace("template", "draft");
    drop_database(admin, &draft).await?;
    admin
        .batch_execute(&format!("CREATE DATABASE {draft} TEMPLATE template0"))
        .await?;
    migrate(with_database(server_url, &draft)?).await?;
    admin
        .batch_execute(&format!(
            "ALTER DATABASE {draft} WITH IS_TEMPLATE true ALLOW_CONNECTIONS false"
        ))
        .await?;
    // A closed connection's backend takes a moment to go.
    let mut tries = 0_u32;
    let rename = format!("ALTER DATABASE {draft} RENAME TO {template}");
    while let Err(failure) = admin.batch_execute(&rename).await {
        tries = tries.saturating_add(1);
        if tries > 50 {
            return Err(format!("the migrations leave a connection open: {failure}").into());
        }
        tokio::time::sleep(Duration::from_millis(100)).await;
    }
    let stamp = format!(
        "DO $$ BEGIN EXECUTE format('COMMENT ON DATABASE {template} IS %L', \
         extract(epoch FROM now())::bigint); END $$"
    );
    admin.batch_execute(&stamp).await?;
    Ok(())
}

/// Drops copies older than an hour, and other states' templates and drafts older than a day.
async fn sweep(admin: &mut AsyncPgConnection, template: &str) -> Result<(), Failure> {
    let query = "SELECT datname::text AS value FROM pg_database WHERE \
         (datname ~ '^assize_test_[0-9]+_' \
          AND split_part(datname, '_', 3)::bigint < extract(epoch FROM now()) - 3600) \
         OR (datname ~ '^assize_template_' AND datname <> $1 \
          AND coalesce(nullif(shobj_description(oid, 'pg_database'), '')::bigint, 0) \
              < extract(epoch FROM now()) - 86400)";
    let old: Vec<TextRow> = diesel::sql_query(query)
        .bind::<Text, _>(template)
        .get_results(admin)
        .await?;
    if old.is_empty() || !try_lock(admin).await? {
        return Ok(());
    }
    for TextRow { value } in old {
        drop_database(admin, &value).await?;
    }
    unlock(admin).await
}

async fn drop_database(admin: &mut AsyncPgConnection, name: &str) -> Result<(), Failure> {
    if is_template(admin, name).await? {
        admin
            .batch_execute(&format!("ALTER DATABASE {name} WITH IS_TEMPLATE false"))
            .await?;
    }
    admin
        .batch_execute(&format!("DROP DATABASE IF EXISTS {name} WITH (FORCE)"))
        .await?;
    Ok(())
}

#[derive(diesel::QueryableByName)]
struct TextRow {
    #[diesel(sql_type = Text)]
    value: String,
}

#[derive(diesel::QueryableByName)]
struct BoolRow {
    #[diesel(sql_type = Bool)]
    value: bool,
}

async fn is_template(admin: &mut AsyncPgConnection, name: &str) -> Result<bool, Failure> {
    let query = "SELECT EXISTS (SELECT FROM pg_database WHERE datname = $1 AND datistemplate) \
         AS value";
    let row: BoolRow = diesel::sql_query(query)
        .bind::<Text, _>(name)
        .get_result(admin)
        .await?;
    Ok(row.value)
}

/// `STRATEGY` came with PostgreSQL 15; before it every copy was a file copy.
async fn has_strategies(admin: &mut AsyncPgConnection) -> Result<bool, Failure> {
    let query = "SELECT current_setting('server_version_num')::int >= 150000 AS value";
    let row: BoolRow = diesel::sql_query(query).get_result(admin).await?;
    Ok(row.value)
}

/// The server's clock is in the name, so that whoever sweeps knows its age.
async fn new_name(admin: &mut AsyncPgConnection) -> Result<String, Failure> {
    let query = "SELECT format('assize_test_%s_%s', extract(epoch FROM now())::bigint, \
         left(replace(gen_random_uuid()::text, '-', ''), 12)) AS value";
    let row: TextRow = diesel::sql_query(query).get_result(admin).await?;
    Ok(row.value)
}

async fn lock(admin: &mut AsyncPgConnection) -> Result<(), Failure> {
    admin
        .batch_execute(&format!("SELECT pg_advisory_lock({BUILD_LOCK})"))
        .await?;
    Ok(())
}

async fn try_lock(admin: &mut AsyncPgConnection) -> Result<bool, Failure> {
    let query = format!("SELECT pg_try_advisory_lock({BUILD_LOCK}) AS value");
    let row: BoolRow = diesel::sql_query(query).get_result(admin).await?;
    Ok(row.value)
}

async fn unlock(admin: &mut AsyncPgConnection) -> Result<(), Failure> {
    admin
        .batch_execute(&format!("SELECT pg_advisory_unlock({BUILD_LOCK})"))
        .await?;
    Ok(())
}

/// `url` with another database's name in it.
fn with_database(url: &str, name: &str) -> Result<String, Failure> {
    let (before, options) = match url.split_once('?') {
        Some((before, options)) => (before, format!("?{options}")),
        None => (url, String::new()),
    };
    let (scheme, rest) = before
        .split_once("://")
        .filter(|(scheme, _)| matches!(*scheme, "postgres" | "postgresql"))
        .ok_or("a database URL begins with postgres:// or postgresql://")?;
    let authority = rest
        .split_once('/')
        .map_or(rest, |(authority, _)| authority);
    Ok(format!("{scheme}://{authority}/{name}{options}"))
}

/// Twenty hexadecimal digits that change when a migration is added or edited.
fn migrations_hash() -> Result<String, Failure> {
    let migrations = Path::new(env!("CARGO_MANIFEST_DIR")).join("../migrations");
    let mut files = Vec::new();
    collect(&migrations, &mut files)?;
    files.sort();
    let mut hash = Sha256::new();
    for file in &files {
        let contents = fs::read(file)?;
        let name = file.strip_prefix(&migrations)?.to_string_lossy();
        hash.update(format!("{name}\0{}\0", contents.len()));
        hash.update(&contents);
    }
    Ok(hash
        .finalize()
        .iter()
        .take(10)
        .map(|byte| format!("{byte:02x}"))
        .collect())
}

fn collect(directory: &Path, files: &mut Vec<PathBuf>) -> Result<(), Failure> {
    let entries =
        fs::read_dir(directory).map_err(|e| format!("cannot read {}: {e}", directory.display()))?;
    for entry in entries {
        let path = entry?.path();
        if path.is_dir() {
            collect(&path, files)?;
        } else {
            files.push(path);
        }
    }
    Ok(())
}

mod checks {
    use diesel_async::AsyncMigrationHarness;
    use diesel_migrations::{FileBasedMigrations, MigrationHarness};

    use super::{
        AsyncConnection, AsyncPgConnection, Failure, Path, RunQueryDsl, SimpleAsyncConnection,
        cloned, fresh_database, with_database,
    };

    #[derive(diesel::QueryableByName)]
    struct Count {
        #[diesel(sql_type = diesel::sql_types::BigInt)]
        value: i64,
    }

    async fn count(url: &str, query: &str) -> Result<i64, Failure> {
        let mut connection = AsyncPgConnection::establish(url).await?;
        let row: Count = diesel::sql_query(query).get_result(&mut connection).await?;
        Ok(row.value)
    }

    async fn one_table(owner_url: String) -> Result<(), Failure> {
        let mut connection = AsyncPgConnection::establish(&owner_url).await?;
        connection
            .batch_execute("CREATE TABLE note (id int); INSERT INTO note VALUES (1)")
            .await?;
        Ok(())
    }

    async fn never(_owner_url: String) -> Result<(), Failure> {
        Err("the template was there already".into())
    }

    #[tokio::test]
    async fn a_test_sees_what_the_template_holds_and_no_other_tests_rows() -> Result<(), Failure> {
        let first = cloned("check_isolation", one_table).await?;
        let second = cloned("check_isolation", never).await?;
        assert_ne!(first.name, second.name);
        let mut connection = AsyncPgConnection::establish(&first.service_url).await?;
        connection
            .batch_execute("INSERT INTO note VALUES (2)")
            .await?;
        assert_eq!(
            count(&first.owner_url, "SELECT count(*) AS value FROM note").await?,
            2
        );
        assert_eq!(
            count(&second.owner_url, "SELECT count(*) AS value FROM note").await?,
            1
        );
        Ok(())
    }

    #[tokio::test]
    async fn a_template_whose_migrations_failed_is_built_again() -> Result<(), Failure> {
        let half = async |url: String| -> Result<(), Failure> {
            let mut connection = AsyncPgConnection::establish(&url).await?;
            connection
                .batch_execute("CREATE TABLE note (id int)")
                .await?;
            Err("cut off".into())
        };
        // A state of this process alone: another run's template must not hide the failure.
        let state = format!("check_cut_off_{}", std::process::id());
        assert!(cloned(&state, half).await.is_err());
        let whole = cloned(&state, one_table).await?;
        assert_eq!(
            count(&whole.owner_url, "SELECT count(*) AS value FROM note").await?,
            1
        );
        Ok(())
    }

    #[tokio::test]
    async fn a_fresh_database_has_every_migration() -> Result<(), Failure> {
        let directory = Path::new(env!("CARGO_MANIFEST_DIR")).join("../migrations");
        let migrations = FileBasedMigrations::from_path(&directory)?;
        let database = fresh_database(async |owner_url: String| {
            let connection = AsyncPgConnection::establish(&owner_url).await?;
            tokio::task::spawn_blocking(move || {
                let mut harness = AsyncMigrationHarness::new(connection);
                harness
                    .run_pending_migrations(migrations)
                    .map(|_versions| ())
            })
            .await?
        })
        .await;
        let applied = "SELECT count(*) AS value FROM __diesel_schema_migrations";
        let written = std::fs::read_dir(&directory)?.count();
        assert_eq!(
            count(&database.owner_url, applied).await?,
            i64::try_from(written)?
        );
        let here = format!(
            "SELECT count(*) AS value FROM pg_database WHERE datname = '{}'",
            database.name
        );
        assert_eq!(count(&database.service_url, &here).await?, 1);
        Ok(())
    }

    #[test]
    fn the_database_of_a_url_is_replaced_and_its_options_stay() -> Result<(), Failure> {
        let url = "postgres://a:b@h:1/x?sslmode=disable";
        assert_eq!(
            with_database(url, "y")?,
            "postgres://a:b@h:1/y?sslmode=disable"
        );
        assert_eq!(with_database("postgresql://h", "y")?, "postgresql://h/y");
        assert_eq!(
            with_database("postgres://a@%2Ftmp%2Fs/x", "y")?,
            "postgres://a@%2Ftmp%2Fs/y"
        );
        assert!(with_database("host=h dbname=x", "y").is_err());
        Ok(())
    }
}
