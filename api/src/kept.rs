//! How a slice keeps the newest version of its subjects: one row each, which its own `store.rs`
//! describes with [`keep_rows!`](crate::keep_rows) and alone writes.
//!
//! Promises that a row and its record say the same; refuses a change of a version that is no
//! longer the newest.

use crate::{
    db::Tx,
    error::{Answer, ApiError},
    ledger::{self, NewRecord},
};
use domain::time::Moment;
use serde::{Serialize, de::DeserializeOwned};
use uuid::Uuid;

/// What a slice keeps: its kind in the ledger, and what of it is personal or free text.
pub trait Subject: Serialize + DeserializeOwned + Clone {
    /// Kind of its records.
    const KIND: &'static str;
    /// Form of its content.
    const SCHEMA: u64 = 1;
    /// JSON pointers of what is personal or free text.
    const DISCLOSED: &'static [&'static str];

    /// Its state, in the word of its slice; `recorded` where it has only one.
    fn state(&self) -> &'static str {
        "recorded"
    }
}

/// How many rows a replay writes by one statement, of at most 32 values each: a statement takes
/// 65,535.
pub const ROWS_AT_ONCE: usize = 1000;

/// The newest version of a subject.
#[derive(Debug, Clone)]
pub struct Kept<T> {
    /// The subject.
    pub id: Uuid,
    /// Its version.
    pub version: i32,
    /// What it says.
    pub content: T,
    /// When version 1 was recorded.
    pub created_at: Moment,
    /// When this version was recorded.
    pub changed_at: Moment,
}

impl<T: Subject> Kept<T> {
    /// Version 1 of a new subject.
    pub fn first(tx: &Tx, id: Uuid, content: T) -> Self {
        Self::first_at(tx.now(), id, content)
    }

    /// Version 1 of a new subject, recorded by a transaction of this time.
    pub(crate) fn first_at(now: Moment, id: Uuid, content: T) -> Self {
        Self {
            id,
            version: 1,
            content,
            created_at: now,
            changed_at: now,
        }
    }

    /// The version after this one.
    #[must_use]
    pub fn next(&self, tx: &Tx, content: T) -> Self {
        Self {
            id: self.id,
            version: self.version.saturating_add(1),
            content,
            created_at: self.created_at,
            changed_at: tx.now(),
        }
    }

    /// Adds the record of this version to the transaction's act.
    ///
    /// # Errors
    /// [`ApiError::Internal`] where the content is no JSON object.
    pub fn record(&self, tx: &mut Tx) -> Answer<()> {
        let record = self.as_record()?;
        ledger::append(tx, record);
        Ok(())
    }

    /// The record of this version.
    ///
    /// # Errors
    /// [`ApiError::Internal`] where the content is no JSON object.
    pub(crate) fn as_record(&self) -> Answer<NewRecord> {
        Ok(NewRecord {
            kind: T::KIND,
            schema: T::SCHEMA,
            subject: self.id,
            version: self.version,
            content: serde_json::to_value(&self.content).map_err(ApiError::internal)?,
            disclosed: T::DISCLOSED,
        })
    }
}

/// A content with what stands in for erased members in their place, as its slice writes it.
///
/// # Errors
/// [`ApiError::Internal`] where it cannot be read any more.
pub fn without<T: Subject>(
    mut content: serde_json::Value,
    erased: &[domain::erasures::ErasedMember],
) -> Answer<serde_json::Value> {
    for one in erased {
        domain::erasures::put_in_place(&mut content, &one.member, &one.stands_in);
    }
    let readable: T = serde_json::from_value(content).map_err(ApiError::internal)?;
    serde_json::to_value(&readable).map_err(ApiError::internal)
}

/// Describes the row of a table and the functions that read and write it.
///
/// `keep_rows! { table: lots_lot, key: lot_id, content: Lot, called: "lot",
/// columns: { code: String = |lot| lot.code.clone(), } }`
///
/// makes `insert`, `save` (refuses a stale version), `erase`, `replay` (for a rebuilt copy), `find`
/// and `lock` (404), and `Row` for lists.
#[macro_export]
macro_rules! keep_rows {
    (table: $table:ident, key: $key:ident, content: $content:ty, called: $called:literal,
     columns: { $($column:ident: $type:ty = $value:expr),* $(,)? }) => {
        use diesel::{
            ExpressionMethods as _, OptionalExtension as _, QueryDsl as _, SelectableHelper as _,
        };
        use diesel_async::RunQueryDsl as _;
        use $crate::{
            db::Tx,
            error::{Answer, ApiError},
            kept::Kept,
            schema::$table::dsl,
        };

        /// A row of the table.
        #[derive(diesel::Queryable, diesel::Selectable, diesel::Insertable, diesel::AsChangeset)]
        #[diesel(table_name = $crate::schema::$table)]
        #[diesel(treat_none_as_default_value = false)]
        #[diesel(treat_none_as_null = true)]
        pub(crate) struct Row {
            laboratory_id: i32,
            $key: uuid::Uuid,
            version: i32,
            state: String,
            content: serde_json::Value,
            $($column: $type,)*
            created_at: chrono::DateTime<chrono::Utc>,
            changed_at: chrono::DateTime<chrono::Utc>,
        }

        impl Row {
            fn of(laboratory_id: i32, kept: &Kept<$content>) -> Answer<Self> {
                Ok(Self {
                    laboratory_id,
                    $key: kept.id,
                    version: kept.version,
                    state: $crate::kept::Subject::state(&kept.content).to_owned(),
                    content: serde_json::to_value(&kept.content).map_err(ApiError::internal)?,
                    $($column: {
                        let value: fn(&$content) -> $type = $value;
                        value(&kept.content)
                    },)*
                    created_at: kept.created_at.utc(),
                    changed_at: kept.changed_at.utc(),
                })
            }

            /// The kept version that the row shows.
            pub(crate) fn kept(self) -> Answer<Kept<$content>> {
                Ok(Kept {
                    id: self.$key,
                    version: self.version,
                    content: serde_json::from_value(self.content).map_err(ApiError::internal)?,
                    created_at: self.created_at.into(),
                    changed_at: self.changed_at.into(),
                })
            }
        }

        /// Stores version 1 and records it.
        pub(crate) async fn insert(tx: &mut Tx, kept: &Kept<$content>) -> Answer<()> {
            let row = Row::of(tx.laboratory_id(), kept)?;
            diesel::insert_into(dsl::$table)
                .values(&row)
                .execute(tx.connection())
                .await?;
            kept.record(tx)
        }

        const _: () = {
            // Not every slice changes what it keeps; each may.
            let _ = insert;
            let _ = save;
            let _ = erase;
            let _ = replay;
            let _ = lock;
            let _ = find;
        };

        /// Stores a later version over the one before it and records it.
        pub(crate) async fn save(tx: &mut Tx, kept: &Kept<$content>) -> Answer<()> {
            let row = Row::of(tx.laboratory_id(), kept)?;
            let laboratory = tx.laboratory_id();
            let changed = diesel::update(
                dsl::$table
                    .filter(dsl::laboratory_id.eq(laboratory))
                    .filter(dsl::$key.eq(kept.id))
                    .filter(dsl::version.eq(kept.version.saturating_sub(1))),
            )
            .set(&row)
            .execute(tx.connection())
            .await?;
            if changed == 0 {
                return Err(ApiError::Stale(
                    "It was changed meanwhile. Look at it again, then decide.".into(),
                ));
            }
            kept.record(tx)
        }

        /// Puts what stands in for erased members in their place, where the row shows this version.
        /// Nothing is recorded: the erasure is.
        pub(crate) async fn erase(
            tx: &mut Tx,
            id: uuid::Uuid,
            version: i32,
            erased: &[domain::erasures::ErasedMember],
        ) -> Answer<()> {
            let laboratory = tx.laboratory_id();
            let found: Option<serde_json::Value> = dsl::$table
                .filter(dsl::laboratory_id.eq(laboratory))
                .filter(dsl::$key.eq(id))
                .filter(dsl::version.eq(version))
                .select(dsl::content)
                .for_update()
                .first(tx.connection())
                .await
                .optional()?;
            let Some(content) = found else { return Ok(()) };
            let content = $crate::kept::without::<$content>(content, erased)?;
            diesel::update(
                dsl::$table
                    .filter(dsl::laboratory_id.eq(laboratory))
                    .filter(dsl::$key.eq(id)),
            )
            .set(dsl::content.eq(content))
            .execute(tx.connection())
            .await?;
            Ok(())
        }

        /// Stores versions as records tell them, each over what is there of its subject. Of a
        /// subject only one is given, and nothing is recorded.
        pub(crate) async fn replay(tx: &mut Tx, versions: &[Kept<$content>]) -> Answer<()> {
            use diesel::upsert::excluded;
            let laboratory = tx.laboratory_id();
            for chunk in versions.chunks($crate::kept::ROWS_AT_ONCE) {
                let rows = chunk
                    .iter()
                    .map(|kept| Row::of(laboratory, kept))
                    .collect::<Answer<Vec<Row>>>()?;
                diesel::insert_into(dsl::$table)
                    .values(&rows)
                    .on_conflict((dsl::laboratory_id, dsl::$key))
                    .do_update()
                    .set((
                        dsl::version.eq(excluded(dsl::version)),
                        dsl::state.eq(excluded(dsl::state)),
                        dsl::content.eq(excluded(dsl::content)),
                        $(dsl::$column.eq(excluded(dsl::$column)),)*
                        dsl::changed_at.eq(excluded(dsl::changed_at)),
                    ))
                    .execute(tx.connection())
                    .await?;
            }
            Ok(())
        }

        /// The newest version.
        pub(crate) async fn find(tx: &mut Tx, id: uuid::Uuid) -> Answer<Kept<$content>> {
            let laboratory = tx.laboratory_id();
            dsl::$table
                .filter(dsl::laboratory_id.eq(laboratory))
                .filter(dsl::$key.eq(id))
                .select(Row::as_select())
                .first(tx.connection())
                .await
                .optional()?
                .ok_or_else(|| ApiError::missing($called, id))?
                .kept()
        }

        /// The newest version, locked until the transaction ends.
        pub(crate) async fn lock(tx: &mut Tx, id: uuid::Uuid) -> Answer<Kept<$content>> {
            let laboratory = tx.laboratory_id();
            dsl::$table
                .filter(dsl::laboratory_id.eq(laboratory))
                .filter(dsl::$key.eq(id))
                .select(Row::as_select())
                .for_update()
                .first(tx.connection())
                .await
                .optional()?
                .ok_or_else(|| ApiError::missing($called, id))?
                .kept()
        }
    };
}
