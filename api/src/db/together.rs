//! Creations that several callers asked for at about the same time, done in one transaction: a
//! transaction costs more than what one of them writes.
//!
//! Promises each caller an act and an answer of their own, kept for a repeat as every other. What
//! stands in the way of one is not in the way of the others: one that cannot be done with them is
//! left out, for its caller to do alone and to be told why.

use super::{
    Db, For, Tx,
    answers::{Created, Kept, KeptAnswer, PROOF_HEADER, keeping},
    caller::caller_is_active,
};
use crate::{
    error::{Answer, ApiError},
    identity::Permit,
    ledger::{self, Draft, Hashes, NewRecord, Receipt, Sealed},
    request::Once,
    statement::{Batch, statement},
};
use actix_web::HttpResponse;
use diesel::{
    QueryableByName,
    sql_types::{Array, BigInt, Integer, Text, Uuid as SqlUuid},
};
use diesel_async::RunQueryDsl as _;
use futures_util::future::try_join;
use std::collections::HashSet;
use uuid::Uuid;

/// Who asks, and the key by which a repeat is known.
#[derive(Debug, Clone)]
pub(crate) struct Asking {
    pub(crate) permit: Permit,
    pub(crate) once: Once,
    pub(crate) fingerprint: [u8; 32],
}

/// What was made for one caller, to be recorded by an act of theirs.
pub(crate) struct MadeFor<T> {
    pub(crate) created: Created<T>,
    pub(crate) records: Vec<NewRecord>,
    /// Hashes of the versions that the records follow.
    pub(crate) earlier: Hashes,
}

/// An answer that can be handed to the thread of whoever asked.
pub(crate) struct Answered {
    kept: Kept,
    receipt: Option<Receipt>,
}

impl Answered {
    /// The answer, as it is sent.
    pub(crate) fn into_response(self) -> HttpResponse {
        self.kept.into_response(self.receipt)
    }
}

impl Db {
    /// Does what several callers of one laboratory ask for, in one transaction. The answers are in
    /// the order of the callers; none where one has to be done alone: its key was used before, or
    /// is in use, or the account was closed, or `work` left it out. Two must not have one key.
    ///
    /// `ahead` is as in [`Db::create_after`]; `work` is told which keys are free.
    ///
    /// # Errors
    /// Where the database fails or a race was lost; then nothing was kept.
    pub(crate) async fn create_together<A, T: serde::Serialize>(
        &self,
        asking: &[Asking],
        ahead: impl AsyncFn(&Tx) -> Answer<A>,
        work: impl AsyncFn(&mut Tx, A, &[bool]) -> Answer<Vec<Option<MadeFor<T>>>>,
    ) -> Answer<Vec<Option<Answered>>> {
        let Some(first) = asking.first() else {
            return Ok(Vec::new());
        };
        let mut tx = self.begin(&first.permit, For::Writing).await?;
        let done = async {
            let here: &Tx = &tx;
            let (free, ahead) = try_join(claims(here, asking), ahead(here)).await?;
            let made = work(&mut tx, ahead, &free).await?;
            self.seal_each(&mut tx, asking, made).await
        };
        let done = done.await;
        self.finish(tx, done).await
    }

    async fn seal_each<T: serde::Serialize>(
        &self,
        tx: &mut Tx,
        asking: &[Asking],
        made: Vec<Option<MadeFor<T>>>,
    ) -> Answer<Vec<Option<Answered>>> {
        let mut sealed = Sealed::default();
        let (mut kept, mut answers) = (Vec::new(), Vec::with_capacity(asking.len()));
        for (one, made) in asking.iter().zip(made) {
            let Some(made) = made else {
                answers.push(None);
                continue;
            };
            tx.draft = Draft::of(&one.permit);
            tx.draft.know(made.earlier);
            for record in made.records {
                ledger::append(tx, record);
            }
            let mut answer = Kept::created(made.created)?;
            if let Some(address) = tx.draft.proof_address(tx.laboratory()) {
                answer.headers.push((PROOF_HEADER.to_owned(), address));
            }
            let of = KeptAnswer::of(&one.permit, &one.once, one.fingerprint, &answer)?;
            kept.push(of);
            let act = ledger::seal(tx, &self.keyring).await?;
            answers.push(Some(Answered {
                kept: answer,
                receipt: act.receipt(),
            }));
            sealed.add(act);
        }
        if !kept.is_empty() {
            let mut batch: Batch = std::mem::take(&mut tx.last);
            batch.append(ledger::storing(tx, sealed));
            batch.add(keeping(tx, kept));
            batch.send(tx).await?;
        }
        Ok(answers)
    }
}

#[derive(QueryableByName)]
struct FreeRow {
    #[diesel(sql_type = BigInt)]
    place: i64,
}

/// Which callers are active and have a key that nobody used before or is using; those keys are
/// claimed. As for one (`answers`), the locks come first.
async fn claims(tx: &Tx, asking: &[Asking]) -> Answer<Vec<bool>> {
    let each = |get: fn(&Asking) -> &str| -> Vec<&str> { asking.iter().map(get).collect() };
    let callers: Vec<Uuid> = asking.iter().map(|one| one.permit.caller()).collect();
    let free: Vec<FreeRow> = statement(concat!(
        "WITH asked AS MATERIALIZED (SELECT new.*, pg_try_advisory_xact_lock(hashtextextended( \
             concat_ws(E'\\n', $1::text, caller_id::text, method, path, idempotency_key), 7)) \
               AS is_free \
           FROM UNNEST($2::uuid[], $3::text[], $4::text[], $5::text[]) WITH ORDINALITY \
             AS new (caller_id, method, path, idempotency_key, place)) \
         SELECT place FROM asked LEFT JOIN idempotency_answer AS answer \
             ON answer.laboratory_id = $1 AND answer.caller_id = asked.caller_id \
            AND answer.method = asked.method AND answer.path = asked.path \
            AND answer.idempotency_key = asked.idempotency_key \
          WHERE is_free AND answer.caller_id IS NULL AND ",
        caller_is_active!("asked.caller_id"),
    ))
    .bind::<Integer, _>(tx.laboratory_id())
    .bind::<Array<SqlUuid>, _>(callers)
    .bind::<Array<Text>, _>(each(|one| one.once.method.as_str()))
    .bind::<Array<Text>, _>(each(|one| one.once.path.as_str()))
    .bind::<Array<Text>, _>(each(|one| one.once.key.as_str()))
    .load(&mut tx.together())
    .await
    .map_err(ApiError::from)?;
    let free: HashSet<i64> = free.into_iter().map(|row| row.place).collect();
    Ok((1_i64..)
        .zip(asking)
        .map(|(place, _)| free.contains(&place))
        .collect())
}
