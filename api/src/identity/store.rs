//! All SQL of accounts and clients. Password hashes go no further than this slice.

pub(super) mod attempts;
pub(super) mod erased;
mod replayed;

pub(crate) use replayed::{accounts::replay as replay_accounts, clients::replay as replay_clients};

use super::LaboratoryKey;
use crate::{
    db::Tx,
    error::{Answer, ApiError},
    kept::{Kept, Subject},
    schema::{identity_account as accounts, identity_client as clients, laboratories_laboratory},
};
use chrono::{DateTime, Utc};
use diesel::{
    ExpressionMethods as _, OptionalExtension as _, QueryDsl as _,
    deserialize::QueryableByName,
    pg::Pg,
    row::NamedRow,
    sql_types::{Integer, Text, Uuid as SqlUuid},
};
use diesel_async::{AsyncPgConnection, RunQueryDsl as _};
use domain::{
    accounts::{Account, AccountState, CLIENT_DISCLOSED, Client, DISCLOSED},
    id::{AccountId, ClientId, LaboratoryId},
};
use uuid::Uuid;

impl Subject for Account {
    const KIND: &'static str = "account";
    const DISCLOSED: &'static [&'static str] = DISCLOSED;

    fn state(&self) -> &'static str {
        self.state.name()
    }
}

impl Subject for Client {
    const KIND: &'static str = "client";
    const DISCLOSED: &'static [&'static str] = CLIENT_DISCLOSED;

    fn state(&self) -> &'static str {
        self.state.name()
    }
}

/// What sign-in needs to know of an account or client.
pub(super) struct Credentials {
    pub(super) id: Uuid,
    pub(super) hash: String,
    pub(super) failed_attempts: i32,
    pub(super) locked_until: Option<DateTime<Utc>>,
    pub(super) content: serde_json::Value,
}

/// From the columns `laboratory_id`, `id` and `slug` of a raw query.
impl QueryableByName<Pg> for LaboratoryKey {
    fn build<'a>(row: &impl NamedRow<'a, Pg>) -> diesel::deserialize::Result<Self> {
        Ok(Self {
            number: NamedRow::get::<Integer, i32>(row, "laboratory_id")?,
            id: LaboratoryId(NamedRow::get::<SqlUuid, Uuid>(row, "id")?),
            slug: NamedRow::get::<Text, String>(row, "slug")?,
        })
    }
}

/// The laboratory with this name in addresses.
pub(crate) async fn laboratory(
    connection: &mut AsyncPgConnection,
    slug: &str,
) -> Answer<Option<LaboratoryKey>> {
    use laboratories_laboratory::dsl;
    let row: Option<(i32, Uuid)> = dsl::laboratories_laboratory
        .filter(dsl::slug.eq(slug))
        .select((dsl::laboratory_id, dsl::id))
        .first(connection)
        .await
        .optional()?;
    Ok(row.map(|(number, id)| LaboratoryKey {
        number,
        id: LaboratoryId(id),
        slug: slug.to_owned(),
    }))
}

pub(super) async fn credentials_of_account(
    connection: &mut AsyncPgConnection,
    laboratory: i32,
    login: &str,
) -> Answer<Option<Credentials>> {
    type Row = (Uuid, String, i32, Option<DateTime<Utc>>, serde_json::Value);
    let row: Option<Row> = accounts::table
        .filter(accounts::laboratory_id.eq(laboratory))
        .filter(accounts::login.eq(login))
        .filter(accounts::state.eq(AccountState::Active.name()))
        .select((
            accounts::account_id,
            accounts::password_hash,
            accounts::failed_attempts,
            accounts::locked_until,
            accounts::content,
        ))
        .first(connection)
        .await
        .optional()?;
    Ok(row.map(
        |(id, hash, failed_attempts, locked_until, content)| Credentials {
            id,
            hash,
            failed_attempts,
            locked_until,
            content,
        },
    ))
}

pub(super) async fn credentials_of_client(
    connection: &mut AsyncPgConnection,
    laboratory: i32,
    client: Uuid,
) -> Answer<Option<Credentials>> {
    let row: Option<(String, serde_json::Value)> = clients::table
        .filter(clients::laboratory_id.eq(laboratory))
        .filter(clients::client_id.eq(client))
        .filter(clients::state.eq(AccountState::Active.name()))
        .select((clients::secret_hash, clients::content))
        .first(connection)
        .await
        .optional()?;
    Ok(row.map(|(hash, content)| Credentials {
        id: client,
        hash,
        failed_attempts: 0,
        locked_until: None,
        content,
    }))
}

pub(super) async fn set_password(tx: &mut Tx, account: Uuid, hash: &str) -> Answer<()> {
    let laboratory = tx.laboratory_id();
    diesel::update(
        accounts::table
            .filter(accounts::laboratory_id.eq(laboratory))
            .filter(accounts::account_id.eq(account)),
    )
    .set(accounts::password_hash.eq(hash))
    .execute(tx.connection())
    .await?;
    Ok(())
}

pub(crate) async fn insert_account(
    tx: &mut Tx,
    kept: &Kept<Account>,
    password_hash: &str,
) -> Answer<()> {
    let content = serde_json::to_value(&kept.content).map_err(ApiError::internal)?;
    diesel::insert_into(accounts::table)
        .values((
            accounts::laboratory_id.eq(tx.laboratory_id()),
            accounts::account_id.eq(kept.id),
            accounts::version.eq(kept.version),
            accounts::state.eq(kept.content.state()),
            accounts::content.eq(content),
            accounts::login.eq(kept.content.login.clone()),
            accounts::password_hash.eq(password_hash.to_owned()),
            accounts::created_at.eq(kept.created_at.utc()),
            accounts::changed_at.eq(kept.changed_at.utc()),
        ))
        .execute(tx.connection())
        .await?;
    kept.record(tx)
}

pub(super) async fn save_account(tx: &mut Tx, kept: &Kept<Account>) -> Answer<()> {
    let laboratory = tx.laboratory_id();
    let content = serde_json::to_value(&kept.content).map_err(ApiError::internal)?;
    let changed = diesel::update(
        accounts::table
            .filter(accounts::laboratory_id.eq(laboratory))
            .filter(accounts::account_id.eq(kept.id))
            .filter(accounts::version.eq(kept.version.saturating_sub(1))),
    )
    .set((
        accounts::version.eq(kept.version),
        accounts::state.eq(kept.content.state()),
        accounts::content.eq(content),
        accounts::login.eq(kept.content.login.clone()),
        accounts::changed_at.eq(kept.changed_at.utc()),
    ))
    .execute(tx.connection())
    .await?;
    if changed == 0 {
        return Err(ApiError::Stale(
            "The account was changed meanwhile. Look at it again, then decide.".into(),
        ));
    }
    kept.record(tx)
}

type AccountRow = (Uuid, i32, serde_json::Value, DateTime<Utc>, DateTime<Utc>);

fn kept<T: Subject>((id, version, content, created_at, changed_at): AccountRow) -> Answer<Kept<T>> {
    Ok(Kept {
        id,
        version,
        content: serde_json::from_value(content).map_err(ApiError::internal)?,
        created_at: created_at.into(),
        changed_at: changed_at.into(),
    })
}

/// An account of the laboratory.
///
/// # Errors
/// [`ApiError::NotFound`].
pub(crate) async fn account(tx: &mut Tx, id: AccountId) -> Answer<Kept<Account>> {
    let laboratory = tx.laboratory_id();
    accounts::table
        .filter(accounts::laboratory_id.eq(laboratory))
        .filter(accounts::account_id.eq(id.0))
        .select((
            accounts::account_id,
            accounts::version,
            accounts::content,
            accounts::created_at,
            accounts::changed_at,
        ))
        .first(tx.connection())
        .await
        .optional()?
        .map(kept)
        .ok_or_else(|| ApiError::missing("account", id))?
}

/// All accounts of the laboratory, newest first, after `after`.
///
/// # Errors
/// [`ApiError::Unavailable`] or [`ApiError::Internal`].
pub(crate) async fn accounts_after(
    tx: &mut Tx,
    after: Option<Uuid>,
    rows: i64,
) -> Answer<Vec<Kept<Account>>> {
    let laboratory = tx.laboratory_id();
    let found: Vec<AccountRow> = accounts::table
        .filter(accounts::laboratory_id.eq(laboratory))
        .filter(accounts::account_id.lt(after.unwrap_or(Uuid::max())))
        .order(accounts::account_id.desc())
        .limit(rows)
        .select((
            accounts::account_id,
            accounts::version,
            accounts::content,
            accounts::created_at,
            accounts::changed_at,
        ))
        .load(tx.connection())
        .await?;
    found.into_iter().map(kept).collect()
}

pub(super) async fn insert_client(
    tx: &mut Tx,
    kept: &Kept<Client>,
    secret_hash: &str,
) -> Answer<()> {
    let content = serde_json::to_value(&kept.content).map_err(ApiError::internal)?;
    diesel::insert_into(clients::table)
        .values((
            clients::laboratory_id.eq(tx.laboratory_id()),
            clients::client_id.eq(kept.id),
            clients::version.eq(kept.version),
            clients::state.eq(kept.content.state()),
            clients::content.eq(content),
            clients::secret_hash.eq(secret_hash.to_owned()),
            clients::created_at.eq(kept.created_at.utc()),
            clients::changed_at.eq(kept.changed_at.utc()),
        ))
        .execute(tx.connection())
        .await?;
    kept.record(tx)
}

pub(super) async fn save_client(tx: &mut Tx, kept: &Kept<Client>) -> Answer<()> {
    let laboratory = tx.laboratory_id();
    let content = serde_json::to_value(&kept.content).map_err(ApiError::internal)?;
    let changed = diesel::update(
        clients::table
            .filter(clients::laboratory_id.eq(laboratory))
            .filter(clients::client_id.eq(kept.id))
            .filter(clients::version.eq(kept.version.saturating_sub(1))),
    )
    .set((
        clients::version.eq(kept.version),
        clients::state.eq(kept.content.state()),
        clients::content.eq(content),
        clients::changed_at.eq(kept.changed_at.utc()),
    ))
    .execute(tx.connection())
    .await?;
    if changed == 0 {
        return Err(ApiError::Stale(
            "The client was changed meanwhile. Look at it again, then decide.".into(),
        ));
    }
    kept.record(tx)
}

/// A service client of the laboratory.
pub(super) async fn client(tx: &mut Tx, id: ClientId) -> Answer<Kept<Client>> {
    let laboratory = tx.laboratory_id();
    clients::table
        .filter(clients::laboratory_id.eq(laboratory))
        .filter(clients::client_id.eq(id.0))
        .select((
            clients::client_id,
            clients::version,
            clients::content,
            clients::created_at,
            clients::changed_at,
        ))
        .first(tx.connection())
        .await
        .optional()?
        .map(kept)
        .ok_or_else(|| ApiError::missing("client", id))?
}

/// All service clients of the laboratory, newest first, after `after`.
pub(super) async fn clients_after(
    tx: &mut Tx,
    after: Option<Uuid>,
    rows: i64,
) -> Answer<Vec<Kept<Client>>> {
    let laboratory = tx.laboratory_id();
    let found: Vec<AccountRow> = clients::table
        .filter(clients::laboratory_id.eq(laboratory))
        .filter(clients::client_id.lt(after.unwrap_or(Uuid::max())))
        .order(clients::client_id.desc())
        .limit(rows)
        .select((
            clients::client_id,
            clients::version,
            clients::content,
            clients::created_at,
            clients::changed_at,
        ))
        .load(tx.connection())
        .await?;
    found.into_iter().map(kept).collect()
}
