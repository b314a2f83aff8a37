//! SQL written out, with bound values, whose plan the connection keeps.
//!
//! Diesel prepares a raw query anew each time it runs. The hot paths here are raw queries (arrays
//! that are unnested, common table expressions), and preparing one costs a round trip and more
//! than running it. A [`Statement`] is prepared once a connection. Several go as one `Batch`.

use crate::{
    db::Tx,
    error::{Answer, ApiError},
};
use diesel::{
    QueryResult,
    pg::Pg,
    query_builder::{AstPass, Query, QueryFragment, QueryId},
    serialize::ToSql,
    sql_types::{HasSqlType, Untyped},
};
use diesel_async::RunQueryDsl as _;
use futures_util::future::try_join_all;
use std::{borrow::Cow, marker::PhantomData};

/// A query in SQL with values for `$1`, `$2` and so on. What stands twice is sent twice.
pub struct Statement<'a> {
    sql: Cow<'a, str>,
    binds: Vec<Box<dyn QueryFragment<Pg> + Send + 'a>>,
}

/// A statement without values yet.
pub fn statement<'a>(sql: impl Into<Cow<'a, str>>) -> Statement<'a> {
    Statement {
        sql: sql.into(),
        binds: Vec::new(),
    }
}

struct Bound<T, V> {
    value: V,
    kind: PhantomData<T>,
}

impl<T, V> QueryFragment<Pg> for Bound<T, V>
where
    Pg: HasSqlType<T>,
    V: ToSql<T, Pg>,
{
    fn walk_ast<'b>(&'b self, mut out: AstPass<'_, 'b, Pg>) -> QueryResult<()> {
        out.push_bind_param::<T, V>(&self.value)
    }
}

impl<'a> Statement<'a> {
    /// Binds the next value.
    #[must_use]
    pub fn bind<T, V>(mut self, value: V) -> Self
    where
        Pg: HasSqlType<T>,
        V: ToSql<T, Pg> + Send + 'a,
        T: Send + 'a,
    {
        self.binds.push(Box::new(Bound {
            value,
            kind: PhantomData::<T>,
        }));
        self
    }
}

impl QueryFragment<Pg> for Statement<'_> {
    fn walk_ast<'b>(&'b self, mut out: AstPass<'_, 'b, Pg>) -> QueryResult<()> {
        let mut pieces = self.sql.split('$');
        out.push_sql(pieces.next().unwrap_or_default());
        for piece in pieces {
            let digits = piece.bytes().take_while(u8::is_ascii_digit).count();
            let (number, rest) = piece.split_at_checked(digits).unwrap_or((piece, ""));
            let bound = number
                .parse::<usize>()
                .ok()
                .and_then(|number| self.binds.get(number.checked_sub(1)?));
            match bound {
                Some(bound) => bound.walk_ast(out.reborrow())?,
                None => {
                    out.push_sql("$");
                    out.push_sql(number);
                }
            }
            out.push_sql(rest);
        }
        Ok(())
    }
}

impl QueryId for Statement<'_> {
    type QueryId = ();
    const HAS_STATIC_QUERY_ID: bool = false;
}

impl Query for Statement<'_> {
    type SqlType = Untyped;
}

/// Statements that are sent together, in one round trip, and done in their order. They can be
/// built on one thread and sent from another.
#[derive(Default)]
pub(crate) struct Batch(Vec<Part>);

struct Part {
    statement: Statement<'static>,
    /// How many rows it changes, and what is answered where it changed others.
    changes: Option<(usize, &'static str)>,
}

impl Batch {
    /// Adds a statement.
    pub(crate) fn add(&mut self, statement: Statement<'static>) {
        self.0.push(Part {
            statement,
            changes: None,
        });
    }

    /// Adds a statement that must change so many rows; `stale` is what is answered otherwise.
    pub(crate) fn add_change(
        &mut self,
        statement: Statement<'static>,
        rows: usize,
        stale: &'static str,
    ) {
        self.0.push(Part {
            statement,
            changes: Some((rows, stale)),
        });
    }

    /// Adds what another batch has.
    pub(crate) fn append(&mut self, mut other: Self) {
        self.0.append(&mut other.0);
    }

    /// Sends it all, and waits until it is done.
    ///
    /// # Errors
    /// [`ApiError::Stale`] where a statement changed fewer rows than it must, or what the database
    /// refuses with; the transaction can only be rolled back then.
    pub(crate) async fn send(self, tx: &Tx) -> Answer<()> {
        let sent = self.0.into_iter().map(|part| {
            let mut connection = tx.together();
            let done = part.statement.execute(&mut connection);
            async move {
                let changed = done.await?;
                match part.changes {
                    Some((rows, stale)) if rows != changed => Err(ApiError::Stale(stale.into())),
                    Some(_) | None => Ok(()),
                }
            }
        });
        try_join_all(sent).await?;
        Ok(())
    }
}
