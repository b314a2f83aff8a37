//! Answers that are kept for a repeat: a POST is done once for each idempotency key.
//!
//! Promises that the answer is kept in the transaction that did the work, so that a repeat is
//! answered the same without being done again. Refuses a key that was used for another request, or
//! whose request is still being done.

use super::{
    Db, Tx,
    caller::{caller_is_active, closed},
};
use crate::{
    error::{Answer, ApiError},
    identity::Permit,
    ledger::Receipt,
    request::{Once, etag},
    statement::{Statement, statement},
};
use actix_web::{HttpResponse, http::StatusCode, http::header};
use diesel::{
    QueryableByName,
    sql_types::{Array, Binary, Bool, Integer, Jsonb, Nullable, SmallInt, Text, Timestamptz},
};
use diesel_async::RunQueryDsl as _;
use futures_util::future::join;

/// Names the address where the proof of what was recorded will be.
pub(super) const PROOF_HEADER: &str = "Assize-Proof";

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
        self.create_after(
            permit,
            once,
            fingerprint,
            async |_: &Tx| Ok(()),
            async |tx: &mut Tx, ()| work(tx).await,
        )
        .await
    }

    /// As [`Db::create`]. What `ahead` reads and locks is asked for in the same round trip as the
    /// key, after it; it is of no use, and does no harm, where the key was used before.
    ///
    /// # Errors
    /// As [`Db::create`].
    pub(crate) async fn create_after<A, T: serde::Serialize>(
        &self,
        permit: &Permit,
        once: &Once,
        fingerprint: [u8; 32],
        ahead: impl AsyncFn(&Tx) -> Answer<A>,
        work: impl AsyncFn(&mut Tx, A) -> Answer<Created<T>>,
    ) -> Answer<HttpResponse> {
        self.once_after(
            permit,
            once,
            fingerprint,
            ahead,
            async |tx: &mut Tx, ahead| {
                let created = work(tx, ahead).await?;
                Kept::created(created)
            },
        )
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
                shown_once: Some(serde_json::to_vec(&first).map_err(ApiError::internal)?),
                ..Kept::created(created)?
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
        let ahead = async |_: &Tx| Ok(());
        let work = async |tx: &mut Tx, ()| work(tx).await;
        self.once_after(permit, once, fingerprint, ahead, work)
            .await
    }

    async fn once_after<A>(
        &self,
        permit: &Permit,
        once: &Once,
        fingerprint: [u8; 32],
        ahead: impl AsyncFn(&Tx) -> Answer<A>,
        work: impl AsyncFn(&mut Tx, A) -> Answer<Kept>,
    ) -> Answer<HttpResponse> {
        let answer = self
            .write_for_receipt(permit, async |tx: &mut Tx| {
                let here: &Tx = tx;
                let claimed = claim(here, permit, once, fingerprint);
                let (claimed, ahead) = join(claimed, ahead(here)).await;
                if let Some(kept) = claimed? {
                    tx.draft.nothing_changed();
                    return Ok(kept);
                }
                let mut kept = work(tx, ahead?).await?;
                if let Some(address) = tx.draft.proof_address(permit.laboratory()) {
                    kept.headers.push((PROOF_HEADER.to_owned(), address));
                }
                tx.answer = Some(KeptAnswer::of(permit, once, fingerprint, &kept)?);
                Ok(kept)
            })
            .await;
        match answer {
            Ok((kept, receipt)) => Ok(kept.into_response(receipt)),
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
        let own = !matches!(
            refusal,
            ApiError::InFlight | ApiError::KeyReused | ApiError::Unauthenticated(_)
        );
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
            .write_for_receipt(permit, async |tx: &mut Tx| {
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

pub(super) struct Kept {
    status: StatusCode,
    pub(super) headers: Vec<(String, String)>,
    body: Vec<u8>,
    /// What is answered now in place of the body, and not kept.
    shown_once: Option<Vec<u8>>,
}

impl Kept {
    /// The answer of a POST that made something.
    pub(super) fn created<T: serde::Serialize>(created: Created<T>) -> Answer<Self> {
        Ok(Self {
            status: StatusCode::CREATED,
            headers: vec![
                (header::LOCATION.to_string(), created.location),
                (header::ETAG.to_string(), etag(created.version).to_string()),
            ],
            body: serde_json::to_vec(&created.view).map_err(ApiError::internal)?,
            shown_once: None,
        })
    }

    /// The answer; to whoever did the work with the receipt, which a repeat finds again where the
    /// proof is.
    pub(super) fn into_response(self, receipt: Option<Receipt>) -> HttpResponse {
        let mut response = HttpResponse::build(self.status);
        response.content_type("application/json");
        for (name, value) in self.headers {
            response.insert_header((name, value));
        }
        for (name, value) in receipt.iter().flat_map(Receipt::headers) {
            response.insert_header((name, value));
        }
        response.body(self.shown_once.unwrap_or(self.body))
    }
}

#[derive(QueryableByName)]
struct AnswerRow {
    #[diesel(sql_type = Bool)]
    free: bool,
    #[diesel(sql_type = Bool)]
    is_active: bool,
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
    tx: &Tx,
    permit: &Permit,
    once: &Once,
    fingerprint: [u8; 32],
) -> Answer<Option<Kept>> {
    let laboratory = tx.laboratory_id();
    let row: AnswerRow = statement(concat!(
        "WITH claimed AS MATERIALIZED (SELECT pg_try_advisory_xact_lock(hashtextextended( \
             concat_ws(E'\\n', $1::text, $2::text, $3, $4, $5), 7)) AS free) \
         SELECT claimed.free, answer.fingerprint, answer.status, answer.headers, answer.body, ",
        caller_is_active!("$2"),
        " AS is_active FROM claimed LEFT JOIN idempotency_answer AS answer \
           ON answer.laboratory_id = $1 AND answer.caller_id = $2 AND answer.method = $3 \
          AND answer.path = $4 AND answer.idempotency_key = $5",
    ))
    .bind::<Integer, _>(laboratory)
    .bind::<diesel::sql_types::Uuid, _>(permit.caller())
    .bind::<Text, _>(&once.method)
    .bind::<Text, _>(&once.path)
    .bind::<Text, _>(&once.key)
    .get_result(&mut tx.together())
    .await?;
    if !row.is_active {
        return Err(closed());
    }
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
pub(super) struct KeptAnswer {
    caller: uuid::Uuid,
    once: Once,
    fingerprint: [u8; 32],
    status: i16,
    headers: serde_json::Value,
    body: Vec<u8>,
}

impl KeptAnswer {
    pub(super) fn of(
        permit: &Permit,
        once: &Once,
        fingerprint: [u8; 32],
        kept: &Kept,
    ) -> Answer<Self> {
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

const KEEP: &str = "\
    INSERT INTO idempotency_answer (laboratory_id, caller_id, method, path, idempotency_key, \
        fingerprint, status, headers, body, answered_at) \
    SELECT $1, caller_id, method, path, idempotency_key, fingerprint, status, headers, body, $2 \
    FROM UNNEST($3, $4, $5, $6, $7, $8, $9, $10) AS new (caller_id, method, path, \
        idempotency_key, fingerprint, status, headers, body)";

/// The statement that stores answers beside the acts of the same transaction.
pub(super) fn keeping(tx: &Tx, kept: Vec<KeptAnswer>) -> Statement<'static> {
    let callers: Vec<uuid::Uuid> = kept.iter().map(|one| one.caller).collect();
    let fingerprints: Vec<Vec<u8>> = kept.iter().map(|one| one.fingerprint.to_vec()).collect();
    let statuses: Vec<i16> = kept.iter().map(|one| one.status).collect();
    let (mut methods, mut paths, mut keys) = (Vec::new(), Vec::new(), Vec::new());
    let (mut headers, mut bodies) = (Vec::new(), Vec::new());
    for one in kept {
        methods.push(one.once.method);
        paths.push(one.once.path);
        keys.push(one.once.key);
        headers.push(one.headers);
        bodies.push(one.body);
    }
    statement(KEEP)
        .bind::<Integer, _>(tx.laboratory_id())
        .bind::<Timestamptz, _>(tx.now().utc())
        .bind::<Array<diesel::sql_types::Uuid>, _>(callers)
        .bind::<Array<Text>, _>(methods)
        .bind::<Array<Text>, _>(paths)
        .bind::<Array<Text>, _>(keys)
        .bind::<Array<Binary>, _>(fingerprints)
        .bind::<Array<SmallInt>, _>(statuses)
        .bind::<Array<Jsonb>, _>(headers)
        .bind::<Array<Binary>, _>(bodies)
}
