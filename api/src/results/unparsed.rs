//! JSON as the database sent it: it is parsed where there is time for it, once, and straight into
//! what it says.

use crate::error::{Answer, ApiError};
use diesel::{
    deserialize::FromSql,
    pg::{Pg, PgValue},
    sql_types::Jsonb,
};
use serde::de::DeserializeOwned;

/// JSON as the database sent it: it is parsed where there is time for it.
#[derive(Debug, diesel::deserialize::FromSqlRow)]
pub(super) struct Unparsed(Vec<u8>);

impl FromSql<Jsonb, Pg> for Unparsed {
    fn from_sql(value: PgValue<'_>) -> diesel::deserialize::Result<Self> {
        match value.as_bytes().split_first() {
            Some((1, json)) => Ok(Self(json.to_vec())),
            Some(_) | None => Err("not version 1 of the form in which jsonb is sent".into()),
        }
    }
}

impl Unparsed {
    /// What it says.
    pub(super) fn parsed<T: DeserializeOwned>(&self) -> Answer<T> {
        serde_json::from_slice(&self.0).map_err(ApiError::internal)
    }
}
