//! SQL written out, with bound values, whose plan the connection keeps.
//!
//! Diesel prepares a raw query anew each time it runs. The hot paths here are raw queries (arrays
//! that are unnested, common table expressions), and preparing one costs a round trip and more
//! than running it. A [`Statement`] is prepared once a connection.

use diesel::{
    QueryResult,
    pg::Pg,
    query_builder::{AstPass, Query, QueryFragment, QueryId},
    serialize::ToSql,
    sql_types::{HasSqlType, Untyped},
};
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
