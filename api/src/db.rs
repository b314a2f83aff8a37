//! The door: everything that is read or changed goes through [`Db::read`], [`Db::write`] or
//! [`Db::create`].
//!
//! Promises that each transaction knows its laboratory (row-level security), and that nothing is
//! written without a signed act. Refuses to commit a change that recorded nothing.

use crate::{
    clock::Clock,
    config::Config,
    error::{Answer, ApiError},
    identity::{LaboratoryKey, Permit},
    ledger::{self, Draft, Keyring, Receipt, Standing},
    results::References,
    statement::{Batch, statement},
};
use diesel::result::{DatabaseErrorKind, Error as DieselError};
use diesel_async::{
    AsyncPgConnection, RunQueryDsl as _, SimpleAsyncConnection as _, TransactionManager as _,
    pooled_connection::deadpool::{Object, Pool},
};
use domain::time::Moment;
use std::sync::Arc;

mod answers;
mod blanking;
mod caller;
mod keys;
mod log;
mod pool;
mod reference;
mod rehearsal;
mod scratch;
mod together;

pub use answers::Created;
use answers::{KeptAnswer, keeping};
pub(crate) use blanking::blank_answers;
use pool::{checkout, pool, set_up_pool, writing_pool};
pub(crate) use scratch::{LIVE, undone};
pub(crate) use together::{Answered, Asking, MadeFor};

type Manager = <AsyncPgConnection as diesel_async::AsyncConnection>::TransactionManager;

/// How often a write whose race was lost is tried before the caller is told.
const TRIES: usize = 4;

/// The pools, one for each role that the service takes.
pub struct Db {
    service: Pool<AsyncPgConnection>,
    sign_in: Pool<AsyncPgConnection>,
    public: Pool<AsyncPgConnection>,
    jobs: Pool<AsyncPgConnection>,
    sequencer: Pool<AsyncPgConnection>,
    standing: Standing,
    keyring: Arc<Keyring>,
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
    /// None in a rehearsal, where nothing is signed.
    keyring: Option<Arc<Keyring>>,
    last: Batch,
    pub(crate) draft: Draft,
}

/// What a transaction is for.
enum For {
    /// Lists and pages, whose best plan depends on what is asked for.
    Reading,
    /// Few rows by their keys: the plan that the connection keeps is the best one.
    Writing,
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

    /// The signing keys; none in a rehearsal.
    pub(crate) fn keyring(&self) -> Option<Arc<Keyring>> {
        self.keyring.clone()
    }

    /// Leaves statements for the end, when they are sent together with the act: for what nothing
    /// in this transaction reads.
    pub(crate) fn at_last(&mut self, batch: Batch) {
        self.last.append(batch);
    }

    /// Sends now what was left for the end.
    ///
    /// # Errors
    /// As [`Batch::send`].
    pub(crate) async fn send_last(&mut self) -> Answer<()> {
        std::mem::take(&mut self.last).send(self).await
    }

    /// Has PostgreSQL plan the statements of this transaction for the values that they are called
    /// with: for work on many rows, where planning is little.
    ///
    /// # Errors
    /// [`ApiError::Unavailable`] or [`ApiError::Internal`].
    pub(crate) async fn plan_for_many(&mut self) -> Answer<()> {
        self.connection
            .batch_execute("SET LOCAL plan_cache_mode = auto")
            .await?;
        Ok(())
    }
}

impl Db {
    /// Opens the pools. No connection is made before it is needed.
    ///
    /// # Errors
    /// [`ApiError::Internal`] where a pool cannot be built.
    pub fn new(config: &Config, keyring: Keyring, clock: Clock) -> Answer<Self> {
        Ok(Self {
            service: writing_pool(&config.database_url, "assize_service", config.pool_size)?,
            sign_in: pool(&config.database_url, "assize_sign_in", 4)?,
            public: pool(&config.database_url, "assize_public", 4)?,
            jobs: pool(&config.database_url, "assize_jobs", 1)?,
            sequencer: pool(&config.database_url, "assize_sequencer", 2)?,
            standing: Standing::new(&config.state_directory),
            keyring: Arc::new(keyring),
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

    async fn begin(&self, permit: &Permit, for_what: For) -> Answer<Tx> {
        let laboratory = permit.laboratory().clone();
        let begin = match for_what {
            For::Reading => {
                "BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY; \
                 SET LOCAL plan_cache_mode = auto"
            }
            For::Writing => {
                if !permit.is_for_a_suspended_log() {
                    self.standing.check(laboratory.number)?;
                }
                "BEGIN"
            }
        };
        let connection = match for_what {
            For::Reading => {
                let mut connection = checkout(&self.service).await?;
                begin_for(&mut connection, begin, &laboratory, "").await?;
                connection
            }
            For::Writing => self.begin_signing(begin, &laboratory).await?,
        };
        Ok(Tx {
            connection,
            laboratory,
            now: self.clock.now(),
            references: Arc::clone(&self.references),
            answer: None,
            keyring: Some(Arc::clone(&self.keyring)),
            last: Batch::default(),
            draft: Draft::of(permit),
        })
    }

    /// Begins a transaction that signs: it holds the laboratory's keys, shared, until it ends.
    /// Where another key signs now than this process remembers, it looks anew.
    async fn begin_signing(
        &self,
        begin: &str,
        laboratory: &LaboratoryKey,
    ) -> Answer<Object<AsyncPgConnection>> {
        let mut connection = checkout(&self.service).await?;
        let sharing = self.keyring.sharing(laboratory.number);
        match begin_for(&mut connection, begin, laboratory, &sharing).await {
            Err(error) if is_another_key(&error) => {
                // It is inside a transaction that failed: nobody else gets it.
                drop(Object::take(connection));
                self.keyring.forget(laboratory.number);
                let mut connection = checkout(&self.service).await?;
                let sharing = self.keyring.sharing(laboratory.number);
                begin_for(&mut connection, begin, laboratory, &sharing).await?;
                Ok(connection)
            }
            begun => begun.map(|()| connection),
        }
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
        let mut tx = self.begin(permit, For::Reading).await?;
        let answer = work(&mut tx).await;
        Manager::rollback_transaction(&mut *tx.connection).await?;
        answer
    }

    /// Changes the laboratory in one transaction and records the act. A lost race is tried again.
    ///
    /// # Errors
    /// [`ApiError::Unauthenticated`] where the caller's account was closed meanwhile,
    /// What the work refuses with, or [`ApiError::Unavailable`]; then nothing was kept.
    pub async fn write<T>(
        &self,
        permit: &Permit,
        work: impl AsyncFn(&mut Tx) -> Answer<T>,
    ) -> Answer<T> {
        let (answer, _) = self
            .write_for_receipt(permit, async |tx: &mut Tx| {
                caller::must_be_active(tx, permit).await?;
                work(tx).await
            })
            .await?;
        Ok(answer)
    }

    /// As [`Db::write`], with the receipt of what was recorded, for work that asks itself whether
    /// the caller is still active.
    async fn write_for_receipt<T>(
        &self,
        permit: &Permit,
        work: impl AsyncFn(&mut Tx) -> Answer<T>,
    ) -> Answer<(T, Option<Receipt>)> {
        let mut tries = TRIES;
        loop {
            tries = tries.saturating_sub(1);
            let mut tx = self.begin(permit, For::Writing).await?;
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
    ) -> Answer<(T, Option<Receipt>)> {
        let answer = work(tx).await?;
        let sealed = ledger::seal(tx, &self.keyring).await?;
        let receipt = tx.draft.take_receipt().or_else(|| sealed.receipt());
        let mut batch = std::mem::take(&mut tx.last);
        batch.append(ledger::storing(tx, sealed));
        if let Some(kept) = tx.answer.take() {
            batch.add(keeping(tx, vec![kept]));
        }
        batch.send(tx).await?;
        Ok((answer, receipt))
    }

    async fn finish<T>(&self, mut tx: Tx, done: Answer<T>) -> Answer<T> {
        match done {
            Ok(answer) => {
                // Before this COMMIT nobody sees the change, its act or its answer; after it, all
                // of them, or (the connection being lost) none: the repeat finds out which.
                Manager::commit_transaction(&mut *tx.connection).await?;
                ledger::wake();
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
}

/// Begins a transaction that sees one laboratory, in one round trip. The manager knows of it, so
/// that a connection whose caller hangs up half-way is thrown away, not given to the next.
async fn begin_for(
    connection: &mut AsyncPgConnection,
    begin: &str,
    laboratory: &LaboratoryKey,
    further: &str,
) -> Answer<()> {
    let number = laboratory.number;
    let begin = format!("{begin}; SET LOCAL assize.laboratory = '{number}'; {further}");
    Manager::begin_transaction_sql(connection, &begin).await?;
    Ok(())
}

/// Checks that migrations, roles and the laboratory's rows can be reached.
///
/// # Errors
/// [`ApiError::Unavailable`].
pub async fn ping(db: &Db) -> Answer<()> {
    let mut connection = checkout(&db.public).await?;
    statement("SELECT 1")
        .execute(&mut *connection)
        .await
        .map_err(|error| ApiError::Unavailable(error.into()))?;
    Ok(())
}

/// Whether a transaction was refused as it began, since another key signs now than is remembered.
fn is_another_key(error: &ApiError) -> bool {
    let ApiError::Internal(cause) = error else {
        return false;
    };
    matches!(
        cause.downcast_ref::<DieselError>(),
        Some(DieselError::DatabaseError(_, info))
            if info.message() == "another record key signs now"
    )
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
