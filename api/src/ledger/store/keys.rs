//! All SQL of the laboratory's keys: which there are, for which entries each is good, which sign.

use crate::{
    db::Tx,
    error::{Answer, ApiError},
    schema::{ledger_key as keys, ledger_key_span as spans},
    statement::statement,
};
use diesel::{
    BoolExpressionMethods as _, ExpressionMethods as _, JoinOnDsl as _, OptionalExtension as _,
    QueryDsl as _, QueryableByName,
    sql_types::{BigInt, Binary, Bool, Integer, Nullable, Text, Uuid as SqlUuid},
};
use diesel_async::{AsyncPgConnection, RunQueryDsl as _};
use domain::ledger::{
    SecretKey,
    rotation::{Place, SignsWhat, Span, entry_beginning},
};
use uuid::Uuid;

/// A key with the entries that it is good for, its private half left out.
#[derive(Debug, Clone, QueryableByName)]
pub(in crate::ledger) struct KeyRow {
    #[diesel(sql_type = SqlUuid)]
    pub(in crate::ledger) key_id: Uuid,
    #[diesel(sql_type = Text)]
    key_use: String,
    #[diesel(sql_type = Text)]
    pub(in crate::ledger) thumbprint: String,
    #[diesel(sql_type = Binary)]
    pub(in crate::ledger) public_key: Vec<u8>,
    #[diesel(sql_type = Integer)]
    pub(in crate::ledger) version: i32,
    #[diesel(sql_type = Bool)]
    pub(in crate::ledger) retired: bool,
    #[diesel(sql_type = SqlUuid)]
    pub(in crate::ledger) announced_by: Uuid,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    pub(in crate::ledger) withdrawn_by: Option<Uuid>,
    #[diesel(sql_type = Nullable<Integer>)]
    from_log: Option<i32>,
    #[diesel(sql_type = Nullable<BigInt>)]
    from_entry: Option<i64>,
    #[diesel(sql_type = Nullable<Integer>)]
    until_log: Option<i32>,
    #[diesel(sql_type = Nullable<BigInt>)]
    until_entry: Option<i64>,
    #[diesel(sql_type = Bool)]
    pub(in crate::ledger) signs: bool,
}

impl KeyRow {
    /// What the key signs.
    pub(in crate::ledger) fn signs_what(&self) -> SignsWhat {
        match self.key_use.as_str() {
            "log" => SignsWhat::Log,
            _ => SignsWhat::Record,
        }
    }

    /// The entries that it is good for.
    pub(in crate::ledger) fn span(&self) -> Answer<Span> {
        Ok(Span {
            from: place(self.from_log, self.from_entry)?,
            until: place(self.until_log, self.until_entry)?,
        })
    }
}

fn place(log: Option<i32>, entry: Option<i64>) -> Answer<Option<Place>> {
    let (Some(log), Some(entry)) = (log, entry) else {
        return Ok(None);
    };
    Ok(Some(Place {
        log: u32::try_from(log).map_err(ApiError::internal)?,
        entry: u64::try_from(entry).map_err(ApiError::internal)?,
    }))
}

const COLUMNS: &str = "SELECT key_id, key_use, thumbprint, public_key, version, retired, \
     announced_by, withdrawn_by, from_log, from_entry, until_log, until_entry, signs \
     FROM ledger_key JOIN ledger_key_span USING (laboratory_id, key_id)";

/// All keys of a laboratory, newest first.
pub(in crate::ledger) async fn all(
    connection: &mut AsyncPgConnection,
    laboratory: i32,
) -> Answer<Vec<KeyRow>> {
    Ok(statement(format!(
        "{COLUMNS} WHERE laboratory_id = $1 ORDER BY key_id DESC"
    ))
    .bind::<Integer, _>(laboratory)
    .load(connection)
    .await?)
}

/// A key, locked until the transaction ends.
///
/// # Errors
/// [`ApiError::NotFound`].
pub(in crate::ledger) async fn lock(tx: &mut Tx, id: Uuid) -> Answer<KeyRow> {
    let laboratory = tx.laboratory_id();
    statement(format!(
        "{COLUMNS} WHERE laboratory_id = $1 AND key_id = $2 FOR UPDATE OF ledger_key"
    ))
    .bind::<Integer, _>(laboratory)
    .bind::<SqlUuid, _>(id)
    .get_result(tx.connection())
    .await
    .optional()?
    .ok_or_else(|| ApiError::missing("key", id))
}

/// From when on a new key signs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::ledger) enum Begins {
    /// The first key of a laboratory, which signs its own announcement.
    WithTheLog,
    /// Once its announcement has an entry.
    AfterItsEntry,
    /// After this transaction, which withdraws what signed before: whoever signs later stands later
    /// in the queue, and so in the log.
    AtOnce,
}

/// A new key.
pub(in crate::ledger) struct NewKey<'a> {
    /// Its id.
    pub(in crate::ledger) id: Uuid,
    /// What it signs.
    pub(in crate::ledger) signs_what: SignsWhat,
    /// The key.
    pub(in crate::ledger) key: &'a SecretKey,
    /// Its private half, sealed.
    pub(in crate::ledger) sealed: &'a [u8],
    /// From when on it signs.
    pub(in crate::ledger) begins: Begins,
}

/// Keeps a new key, which the act of this transaction announces.
pub(in crate::ledger) async fn insert(tx: &mut Tx, new: NewKey<'_>) -> Answer<()> {
    let (laboratory, act) = (tx.laboratory_id(), tx.draft.act_id());
    let NewKey {
        id,
        signs_what,
        key,
        sealed,
        begins,
    } = new;
    diesel::insert_into(keys::table)
        .values((
            keys::laboratory_id.eq(laboratory),
            keys::key_id.eq(id),
            keys::key_use.eq(signs_what.word()),
            keys::thumbprint.eq(key.kid()),
            keys::public_key.eq(key.public().as_bytes().as_slice()),
            keys::sealed_private_key.eq(sealed),
            keys::version.eq(1),
            keys::retired.eq(false),
        ))
        .execute(tx.connection())
        .await?;
    let first = begins == Begins::WithTheLog;
    diesel::insert_into(spans::table)
        .values((
            spans::laboratory_id.eq(laboratory),
            spans::key_id.eq(id),
            spans::announced_by.eq(act.0),
            spans::from_log.eq(first.then_some(1)),
            spans::from_entry.eq(first.then_some(0_i64)),
            spans::signs.eq(begins != Begins::AfterItsEntry),
        ))
        .execute(tx.connection())
        .await?;
    Ok(())
}

/// Whether the laboratory has another key of this use that signs.
pub(in crate::ledger) async fn another_signs(
    tx: &mut Tx,
    but: Uuid,
    signs_what: SignsWhat,
) -> Answer<bool> {
    let laboratory = tx.laboratory_id();
    let rows = all(tx.connection(), laboratory).await?;
    Ok(rows.iter().any(|row| {
        row.key_id != but && row.signs && !row.retired && row.signs_what() == signs_what
    }))
}

#[derive(QueryableByName)]
struct Found {
    #[diesel(sql_type = Bool)]
    found: bool,
}

/// Whether an act that a key signed has no entry yet.
pub(in crate::ledger) async fn has_pending(tx: &mut Tx, kid: &str) -> Answer<bool> {
    let laboratory = tx.laboratory_id();
    let row: Found = statement(
        "SELECT EXISTS (SELECT FROM ledger_pending JOIN ledger_act USING (laboratory_id, act_id) \
           WHERE laboratory_id = $1 AND starts_with(entry, $2)) AS found",
    )
    .bind::<Integer, _>(laboratory)
    .bind::<Text, _>(entry_beginning(kid))
    .get_result(tx.connection())
    .await?;
    Ok(row.found)
}

/// Withdraws a key: nothing new is signed with it.
pub(in crate::ledger) async fn withdraw(
    tx: &mut Tx,
    id: Uuid,
    version: i32,
    act: Uuid,
) -> Answer<()> {
    let laboratory = tx.laboratory_id();
    diesel::update(
        keys::table
            .filter(keys::laboratory_id.eq(laboratory))
            .filter(keys::key_id.eq(id)),
    )
    .set((keys::version.eq(version), keys::retired.eq(true)))
    .execute(tx.connection())
    .await?;
    diesel::update(
        spans::table
            .filter(spans::laboratory_id.eq(laboratory))
            .filter(spans::key_id.eq(id)),
    )
    .set((spans::withdrawn_by.eq(act), spans::signs.eq(false)))
    .execute(tx.connection())
    .await?;
    Ok(())
}

/// The newest record key that signs: its id, and its private half as it is sealed.
pub(in crate::ledger) async fn signing(tx: &mut Tx) -> Answer<Option<(Uuid, Vec<u8>)>> {
    let laboratory = tx.laboratory_id();
    Ok(keys::table
        .inner_join(
            spans::table.on(spans::laboratory_id
                .eq(keys::laboratory_id)
                .and(spans::key_id.eq(keys::key_id))),
        )
        .filter(keys::laboratory_id.eq(laboratory))
        .filter(keys::key_use.eq(SignsWhat::Record.word()))
        .filter(keys::retired.eq(false))
        .filter(spans::signs)
        .order(keys::key_id.desc())
        .select((keys::key_id, keys::sealed_private_key))
        .first(tx.connection())
        .await
        .optional()?)
}

/// A key's private half, as it is sealed.
pub(in crate::ledger) async fn sealed(
    connection: &mut AsyncPgConnection,
    laboratory: i32,
    id: Uuid,
) -> Answer<Vec<u8>> {
    Ok(keys::table
        .filter(keys::laboratory_id.eq(laboratory))
        .filter(keys::key_id.eq(id))
        .select(keys::sealed_private_key)
        .first(connection)
        .await?)
}

/// Keeps what entries told of a key: from and until which entry it is good, and whether the service
/// signs with it from here on.
pub(in crate::ledger) async fn keep_span(
    connection: &mut AsyncPgConnection,
    laboratory: i32,
    id: Uuid,
    span: Span,
    signs: bool,
) -> Answer<()> {
    let log = |place: Option<Place>| {
        place
            .map(|place| i32::try_from(place.log))
            .transpose()
            .map_err(ApiError::internal)
    };
    let entry = |place: Option<Place>| {
        place
            .map(|place| i64::try_from(place.entry))
            .transpose()
            .map_err(ApiError::internal)
    };
    diesel::update(
        spans::table
            .filter(spans::laboratory_id.eq(laboratory))
            .filter(spans::key_id.eq(id)),
    )
    .set((
        spans::from_log.eq(log(span.from)?),
        spans::from_entry.eq(entry(span.from)?),
        spans::until_log.eq(log(span.until)?),
        spans::until_entry.eq(entry(span.until)?),
        spans::signs.eq(signs),
    ))
    .execute(connection)
    .await?;
    Ok(())
}
