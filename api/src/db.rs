//! The door: everything that is read or changed goes through [`Db::read`], [`Db::write`] or
//! [`Db::create`].
//!
//! Promises that each transaction knows its laboratory (row-level security), that nothing is
//! written without a signed act, and that an answer is kept for a repeat in the transaction that
//! did the work. Refuses to commit a change that recorded nothing.

use crate::{
    clock::Clock,
    config::Config,
    error::{Answer, ApiError},
    identity::{LaboratoryKey, Permit},
    ledger::{self, Draft, Keyring},
    request::{Once, etag},
    results::{Reference, References},
};
use actix_web::{HttpResponse, http::StatusCode, http::header};
use diesel::{
    QueryableByName,
    result::{DatabaseErrorKind, Error as DieselError},
    sql_types::{BigInt, Binary, Bool, Integer, Jsonb, Nullable, SmallInt, Text},
};
use diesel_async::{
    AsyncConnection as _, AsyncPgConnection, RunQueryDsl as _, SimpleAsyncConnection as _,
    TransactionManager as _,
    pooled_connection::{
        AsyncDieselConnectionManager, ManagerConfig, RecyclingMethod,
        deadpool::{Object, Pool},
    },
};
use domain::time::Moment;
use futures_util::{FutureExt as _, future::try_join};
use std::{sync::Arc, time::Duration};

mod rehearsal;

type Manager = <AsyncPgConnection as diesel_async::AsyncConnection>::TransactionManager;

/// How often a write whose race was lost is tried before the caller is told.
const TRIES: usize = 4;

/// The pools, one for each role that the service takes.
pub struct Db {
    service: Pool<AsyncPgConnection>,
    sign_in: Pool<AsyncPgConnection>,
    public: Pool<AsyncPgConnection>,
    jobs: Pool<AsyncPgConnection>,
    keyring: Keyring,
    references: Arc<References>,
    clock: Clock,
}

/// A transaction of one laboratory, and the act that it will record.
pub struct Tx {
    connection: Object<AsyncPgConnection>,
    laboratory: LaboratoryKey,
    now: Moment,
    references: Arc<References>,
    answer: Option<KeptAnswer>,
    pub(crate) draft: Draft,
}

impl Tx {
    /// The connection, inside the transaction.
    pub fn connection(&mut self) -> &mut AsyncPgConnection {
        &mut self.connection
    }

    /// The connection, for statements that need not wait for each other's answers: futures that
    /// are joined send theirs together, and they are done in the order of the futures.
    pub(crate) fn together(&self) -> &AsyncPgConnection {
        &self.connection
    }

    /// The laboratory whose rows can be seen.
    #[must_use]
    pub fn laboratory(&self) -> &LaboratoryKey {
        &self.laboratory
    }

    /// The number that every row of the laboratory carries.
    #[must_use]
    pub fn laboratory_id(&self) -> i32 {
        self.laboratory.number
    }

    /// When this transaction happens: the time of its act.
    #[must_use]
    pub fn now(&self) -> Moment {
        self.now
    }

    /// What many samples share, as it is now; held so until this transaction ends.
    ///
    /// # Errors
    /// [`ApiError::Unavailable`] or [`ApiError::Internal`].
    pub(crate) async fn reference(&mut self) -> Answer<Arc<Reference>> {
        let stamp = self.share_reference().await?;
        self.reference_at(stamp).await
    }

    /// What many samples share, in the state that [`Tx::share_reference`] told.
    ///
    /// # Errors
    /// [`ApiError::Unavailable`] or [`ApiError::Internal`].
    pub(crate) async fn reference_at(&mut self, stamp: i64) -> Answer<Arc<Reference>> {
        let references = Arc::clone(&self.references);
        references.at(self, stamp).await
    }

    /// Holds back changes of what many samples share until this transaction ends, and tells which
    /// state of it is current.
    ///
    /// # Errors
    /// [`ApiError::Unavailable`] or [`ApiError::Internal`].
    pub async fn share_reference(&self) -> Answer<i64> {
        let laboratory = self.laboratory_id();
        let lock = crate::statement::statement("SELECT pg_advisory_xact_lock_shared($1, $2)")
            .bind::<Integer, _>(REFERENCE_LOCK)
            .bind::<Integer, _>(laboratory);
        // A statement of its own: one that waits for the lock sees what was before it waited.
        let stamp = crate::statement::statement(
            "SELECT stamp FROM laboratories_reference WHERE laboratory_id = $1",
        )
        .bind::<Integer, _>(laboratory);
        let (mut first, mut second) = (self.together(), self.together());
        let (_, stamp): (usize, Stamp) =
            try_join(lock.execute(&mut first), stamp.get_result(&mut second)).await?;
        Ok(stamp.stamp)
    }

    /// Says that this transaction changes what many samples share: waits for whoever computes with
    /// it, and makes every cached copy stale.
    ///
    /// # Errors
    /// [`ApiError::Unavailable`] or [`ApiError::Internal`].
    pub async fn change_reference(&mut self) -> Answer<()> {
        let laboratory = self.laboratory_id();
        crate::statement::statement("SELECT pg_advisory_xact_lock($1, $2)")
            .bind::<Integer, _>(REFERENCE_LOCK)
            .bind::<Integer, _>(laboratory)
            .execute(self.connection())
            .await?;
        crate::statement::statement(
            "UPDATE laboratories_reference SET stamp = stamp + 1 WHERE laboratory_id = $1",
        )
        .bind::<Integer, _>(laboratory)
        .execute(self.connection())
        .await?;
        Ok(())
    }
}

/// First key of the advisory locks that guard what many samples share.
const REFERENCE_LOCK: i32 = 0x4153_5A52;

#[derive(QueryableByName)]
struct Stamp {
    #[diesel(sql_type = BigInt)]
    stamp: i64,
}

/// What a POST made: the view that is answered, its address and version.
pub struct Created<T> {
    /// What is answered.
    pub view: T,
    /// Its address.
    pub location: String,
    /// Its version, for the ETag.
    pub version: i32,
}

impl Db {
    /// Opens the pools. No connection is made before it is needed.
    ///
    /// # Errors
    /// [`ApiError::Internal`] where a pool cannot be built.
    pub fn new(config: &Config, keyring: Keyring, clock: Clock) -> Answer<Self> {
        Ok(Self {
            service: pool(&config.database_url, "assize_service", config.pool_size)?,
            sign_in: pool(&config.database_url, "assize_sign_in", 4)?,
            public: pool(&config.database_url, "assize_public", 4)?,
            jobs: pool(&config.database_url, "assize_jobs", 1)?,
            keyring,
            references: Arc::default(),
            clock,
        })
    }

    /// The signing keys.
    #[must_use]
    pub fn keyring(&self) -> &Keyring {
        &self.keyring
    }

    /// A connection of the role that may look up accounts before anybody is signed in.
    ///
    /// # Errors
    /// [`ApiError::Unavailable`].
    pub async fn sign_in(&self) -> Answer<Object<AsyncPgConnection>> {
        checkout(&self.sign_in).await
    }

    /// A connection of the role that may read what the public may.
    ///
    /// # Errors
    /// [`ApiError::Unavailable`].
    pub async fn public(&self) -> Answer<Object<AsyncPgConnection>> {
        checkout(&self.public).await
    }

    /// A connection of the role that may see which laboratories have work waiting.
    ///
    /// # Errors
    /// [`ApiError::Unavailable`].
    pub async fn jobs(&self) -> Answer<Object<AsyncPgConnection>> {
        checkout(&self.jobs).await
    }

    async fn begin(&self, permit: &Permit, read_only: bool) -> Answer<Tx> {
        let laboratory = permit.laboratory().clone();
        let begin = if read_only {
            "BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY"
        } else {
            "BEGIN"
        };
        let mut connection = checkout(&self.service).await?;
        // One round trip. The manager knows of the transaction, so that a connection whose caller
        // hangs up half-way is thrown away, not given to the next.
        Manager::begin_transaction_sql(
            &mut *connection,
            &format!(
                "{begin}; SET LOCAL assize.laboratory = '{}'",
                laboratory.number
            ),
        )
        .await?;
        Ok(Tx {
            connection,
            laboratory,
            now: self.clock.now(),
            references: Arc::clone(&self.references),
            answer: None,
            draft: Draft::of(permit),
        })
    }

    /// Reads one consistent state of the laboratory.
    ///
    /// # Errors
    /// What the reading refuses with, or [`ApiError::Unavailable`].
    pub async fn read<T>(
        &self,
        permit: &Permit,
        work: impl AsyncFnOnce(&mut Tx) -> Answer<T>,
    ) -> Answer<T> {
        let mut tx = self.begin(permit, true).await?;
        let answer = work(&mut tx).await;
        Manager::rollback_transaction(&mut *tx.connection).await?;
        answer
    }

    /// Changes the laboratory in one transaction and records the act. A lost race is tried again.
    ///
    /// # Errors
    /// What the work refuses with, or [`ApiError::Unavailable`]; then nothing was kept.
    pub async fn write<T>(
        &self,
        permit: &Permit,
        work: impl AsyncFn(&mut Tx) -> Answer<T>,
    ) -> Answer<T> {
        let mut tries = TRIES;
        loop {
            tries = tries.saturating_sub(1);
            let mut tx = self.begin(permit, false).await?;
            let done = self.work_and_seal(&mut tx, &work).await;
            match self.finish(tx, done).await {
                Err(error) if tries > 0 && is_lost_race(&error) => {
                    tracing::debug!("a race was lost; the write is tried again");
                }
                answer => return answer,
            }
        }
    }

    async fn work_and_seal<T>(
        &self,
        tx: &mut Tx,
        work: &impl AsyncFn(&mut Tx) -> Answer<T>,
    ) -> Answer<T> {
        let answer = work(tx).await?;
        let sealed = ledger::seal(tx, &self.keyring).await?;
        let kept = tx.answer.take();
        try_join(ledger::store(tx, &sealed), keep(tx, kept.as_ref())).await?;
        Ok(answer)
    }

    async fn finish<T>(&self, mut tx: Tx, done: Answer<T>) -> Answer<T> {
        match done {
            Ok(answer) => {
                // Before this COMMIT nobody sees the change, its act or its answer; after it, all
                // of them, or (the connection being lost) none: the repeat finds out which.
                Manager::commit_transaction(&mut *tx.connection).await?;
                Ok(answer)
            }
            Err(error) => {
                if let Err(rollback) = Manager::rollback_transaction(&mut *tx.connection).await {
                    tracing::warn!(%rollback, "rollback failed; the connection is dropped");
                }
                Err(error)
            }
        }
    }

    /// Does a POST that creates, once for each idempotency key: the same request is answered the
    /// same again, without being done again.
    ///
    /// # Errors
    /// [`ApiError::KeyReused`], [`ApiError::InFlight`], and what the work refuses with.
    pub async fn create<T: serde::Serialize>(
        &self,
        permit: &Permit,
        once: &Once,
        fingerprint: [u8; 32],
        work: impl AsyncFn(&mut Tx) -> Answer<Created<T>>,
    ) -> Answer<HttpResponse> {
        self.once(permit, once, fingerprint, async |tx: &mut Tx| {
            let created = work(tx).await?;
            Ok(Kept {
                status: StatusCode::CREATED,
                headers: vec![
                    (header::LOCATION.to_string(), created.location),
                    (header::ETAG.to_string(), etag(created.version).to_string()),
                ],
                body: serde_json::to_vec(&created.view).map_err(ApiError::internal)?,
                shown_once: None,
            })
        })
        .await
    }

    /// As [`Db::create`], where the first answer shows more than is kept for a repeat: a secret,
    /// which must not stand in the database in clear.
    ///
    /// # Errors
    /// As [`Db::create`].
    pub async fn create_with_secret<T: serde::Serialize>(
        &self,
        permit: &Permit,
        once: &Once,
        fingerprint: [u8; 32],
        work: impl AsyncFn(&mut Tx) -> Answer<(Created<T>, T)>,
    ) -> Answer<HttpResponse> {
        self.once(permit, once, fingerprint, async |tx: &mut Tx| {
            let (created, first) = work(tx).await?;
            Ok(Kept {
                status: StatusCode::CREATED,
                headers: vec![
                    (header::LOCATION.to_string(), created.location),
                    (header::ETAG.to_string(), etag(created.version).to_string()),
                ],
                body: serde_json::to_vec(&created.view).map_err(ApiError::internal)?,
                shown_once: Some(serde_json::to_vec(&first).map_err(ApiError::internal)?),
            })
        })
        .await
    }

    /// Does a POST that acts on what is there, once for each idempotency key, and answers 200.
    ///
    /// # Errors
    /// As [`Db::create`].
    pub async fn act<T: serde::Serialize>(
        &self,
        permit: &Permit,
        once: &Once,
        fingerprint: [u8; 32],
        work: impl AsyncFn(&mut Tx) -> Answer<(i32, T)>,
    ) -> Answer<HttpResponse> {
        self.once(permit, once, fingerprint, async |tx: &mut Tx| {
            let (version, view) = work(tx).await?;
            Ok(Kept {
                status: StatusCode::OK,
                headers: vec![(header::ETAG.to_string(), etag(version).to_string())],
                body: serde_json::to_vec(&view).map_err(ApiError::internal)?,
                shown_once: None,
            })
        })
        .await
    }

    async fn once(
        &self,
        permit: &Permit,
        once: &Once,
        fingerprint: [u8; 32],
        work: impl AsyncFn(&mut Tx) -> Answer<Kept>,
    ) -> Answer<HttpResponse> {
        let answer = self
            .write(permit, async |tx: &mut Tx| {
                if let Some(kept) = claim(tx, permit, once, fingerprint).await? {
                    tx.draft.nothing_changed();
                    return Ok(kept);
                }
                let kept = work(tx).await?;
                tx.answer = Some(KeptAnswer::of(permit, once, fingerprint, &kept)?);
                Ok(kept)
            })
            .await;
        match answer {
            Ok(kept) => Ok(kept.into_response()),
            Err(refusal) => {
                self.keep_refusal(permit, once, fingerprint, &refusal).await;
                Err(refusal)
            }
        }
    }

    /// A refusal of the operation itself rolled the work back, so it is kept in a transaction of
    /// its own. Failing to keep it harms nobody: the repeat is then refused anew.
    async fn keep_refusal(
        &self,
        permit: &Permit,
        once: &Once,
        fingerprint: [u8; 32],
        refusal: &ApiError,
    ) {
        let (status, _) = refusal.kind();
        let own = !matches!(refusal, ApiError::InFlight | ApiError::KeyReused);
        if !status.is_client_error() || !own {
            return;
        }
        let kept = Kept {
            status,
            headers: vec![(
                header::CONTENT_TYPE.to_string(),
                "application/problem+json".to_owned(),
            )],
            body: serde_json::to_vec(&refusal.problem()).unwrap_or_default(),
            shown_once: None,
        };
        let stored = self
            .write(permit, async |tx: &mut Tx| {
                tx.draft.nothing_changed();
                if claim(tx, permit, once, fingerprint).await?.is_none() {
                    tx.answer = Some(KeptAnswer::of(permit, once, fingerprint, &kept)?);
                }
                Ok(())
            })
            .await;
        if let Err(error) = stored {
            tracing::warn!(%error, "a refusal was not kept for a repeat");
        }
    }
}

/// Checks that migrations, roles and the laboratory's rows can be reached.
///
/// # Errors
/// [`ApiError::Unavailable`].
pub async fn ping(db: &Db) -> Answer<()> {
    let mut connection = checkout(&db.public).await?;
    crate::statement::statement("SELECT 1")
        .execute(&mut *connection)
        .await
        .map_err(|error| ApiError::Unavailable(error.into()))?;
    Ok(())
}

struct Kept {
    status: StatusCode,
    headers: Vec<(String, String)>,
    body: Vec<u8>,
    /// What is answered now in place of the body, and not kept.
    shown_once: Option<Vec<u8>>,
}

impl Kept {
    fn into_response(self) -> HttpResponse {
        let mut response = HttpResponse::build(self.status);
        response.content_type("application/json");
        for (name, value) in self.headers {
            response.insert_header((name, value));
        }
        response.body(self.shown_once.unwrap_or(self.body))
    }
}

#[derive(QueryableByName)]
struct AnswerRow {
    #[diesel(sql_type = Bool)]
    free: bool,
    #[diesel(sql_type = Nullable<Binary>)]
    fingerprint: Option<Vec<u8>>,
    #[diesel(sql_type = Nullable<SmallInt>)]
    status: Option<i16>,
    #[diesel(sql_type = Nullable<Jsonb>)]
    headers: Option<serde_json::Value>,
    #[diesel(sql_type = Nullable<Binary>)]
    body: Option<Vec<u8>>,
}

/// Claims the key for this transaction, or finds the answer that was given.
///
/// The lock is taken in a statement of its own kind first (`MATERIALIZED`), but the answer is read
/// under the same snapshot: an answer committed between both is missed only where the lock was
/// free, and then the unique key of the answers refuses the second one.
async fn claim(
    tx: &mut Tx,
    permit: &Permit,
    once: &Once,
    fingerprint: [u8; 32],
) -> Answer<Option<Kept>> {
    let laboratory = tx.laboratory_id();
    let row: AnswerRow = crate::statement::statement(
        "WITH claimed AS MATERIALIZED (SELECT pg_try_advisory_xact_lock(hashtextextended( \
             concat_ws(E'\\n', $1::text, $2::text, $3, $4, $5), 7)) AS free) \
         SELECT claimed.free, answer.fingerprint, answer.status, answer.headers, answer.body \
         FROM claimed LEFT JOIN idempotency_answer AS answer \
           ON answer.laboratory_id = $1 AND answer.caller_id = $2 AND answer.method = $3 \
          AND answer.path = $4 AND answer.idempotency_key = $5",
    )
    .bind::<Integer, _>(laboratory)
    .bind::<diesel::sql_types::Uuid, _>(permit.caller())
    .bind::<Text, _>(&once.method)
    .bind::<Text, _>(&once.path)
    .bind::<Text, _>(&once.key)
    .get_result(tx.connection())
    .await?;
    if let (Some(known), Some(status), Some(body)) = (row.fingerprint, row.status, row.body) {
        if known != fingerprint {
            return Err(ApiError::KeyReused);
        }
        let headers = row.headers.unwrap_or_default();
        return Ok(Some(Kept {
            status: u16::try_from(status)
                .ok()
                .and_then(|code| StatusCode::from_u16(code).ok())
                .unwrap_or(StatusCode::OK),
            headers: serde_json::from_value(headers).map_err(ApiError::internal)?,
            body,
            shown_once: None,
        }));
    }
    if !row.free {
        return Err(ApiError::InFlight);
    }
    Ok(None)
}

/// An answer that the transaction keeps for a repeat, when it records its act.
struct KeptAnswer {
    caller: uuid::Uuid,
    once: Once,
    fingerprint: [u8; 32],
    status: i16,
    headers: serde_json::Value,
    body: Vec<u8>,
}

impl KeptAnswer {
    fn of(permit: &Permit, once: &Once, fingerprint: [u8; 32], kept: &Kept) -> Answer<Self> {
        Ok(Self {
            caller: permit.caller(),
            once: once.clone(),
            fingerprint,
            status: i16::try_from(kept.status.as_u16()).unwrap_or(200),
            headers: serde_json::to_value(&kept.headers).map_err(ApiError::internal)?,
            body: kept.body.clone(),
        })
    }
}

async fn keep(tx: &Tx, kept: Option<&KeptAnswer>) -> Answer<()> {
    use crate::schema::idempotency_answer as answer;
    use diesel::ExpressionMethods as _;
    let Some(kept) = kept else { return Ok(()) };
    diesel::insert_into(answer::table)
        .values((
            answer::laboratory_id.eq(tx.laboratory_id()),
            answer::caller_id.eq(kept.caller),
            answer::method.eq(&kept.once.method),
            answer::path.eq(&kept.once.path),
            answer::idempotency_key.eq(&kept.once.key),
            answer::fingerprint.eq(kept.fingerprint.as_slice()),
            answer::status.eq(kept.status),
            answer::headers.eq(&kept.headers),
            answer::body.eq(&kept.body),
            answer::answered_at.eq(tx.now().utc()),
        ))
        .execute(&mut tx.together())
        .await?;
    Ok(())
}

fn is_lost_race(error: &ApiError) -> bool {
    let ApiError::Internal(cause) = error else {
        return false;
    };
    match cause.downcast_ref::<DieselError>() {
        Some(DieselError::DatabaseError(DatabaseErrorKind::SerializationFailure, _)) => true,
        Some(DieselError::DatabaseError(DatabaseErrorKind::UniqueViolation, info)) => matches!(
            info.constraint_name(),
            Some("ledger_version_pkey" | "idempotency_answer_pkey" | "runs_run_import_key")
        ),
        Some(DieselError::DatabaseError(_, info)) => info.message().contains("deadlock detected"),
        _ => false,
    }
}

/// Every connection takes the role first, so that it owns nothing and cannot step around
/// row-level security, whoever its address logs in as.
fn pool(url: &str, role: &'static str, size: usize) -> Answer<Pool<AsyncPgConnection>> {
    let mut settings = ManagerConfig::default();
    settings.recycling_method = RecyclingMethod::Fast;
    settings.custom_setup = Box::new(move |url| {
        let url = url.to_owned();
        async move {
            let mut connection = AsyncPgConnection::establish(&url).await?;
            connection
                .batch_execute(&format!("SET ROLE {role}; SET TIME ZONE 'UTC'"))
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

async fn checkout(pool: &Pool<AsyncPgConnection>) -> Answer<Object<AsyncPgConnection>> {
    pool.get()
        .await
        .map_err(|error| ApiError::Unavailable(Box::new(error)))
}
