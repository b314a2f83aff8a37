//! How a key is shown.

use super::super::store::keys::KeyRow;
use crate::error::{Answer, ApiError};
use domain::ledger::{
    PublicKey,
    rotation::{Place, SignsWhat},
};
use serde::Serialize;
use uuid::Uuid;

/// A key of the laboratory, its public half.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct KeyView {
    /// The key.
    pub id: Uuid,
    /// Version of its record: 1 announces it, 2 withdraws it.
    pub version: i32,
    /// What it signs.
    #[serde(rename = "use")]
    pub signs_what: SignsWhat,
    /// Its name in signatures: the RFC 7638 thumbprint.
    pub kid: String,
    /// The public half.
    #[schema(value_type = Object)]
    pub jwk: serde_json::Value,
    /// Whether the service may sign with it; it does with the newest of these.
    pub signs: bool,
    /// The first entry it is good for; absent until its announcement has an entry.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub from: Option<Place>,
    /// The first entry it is no longer good for; absent while it is in use.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub until: Option<Place>,
    /// Whether it was withdrawn.
    pub withdrawn: bool,
}

impl KeyView {
    /// The view of a key.
    pub(super) fn of(row: KeyRow) -> Answer<Self> {
        let public = PublicKey::from_bytes(&row.public_key).map_err(ApiError::internal)?;
        let span = row.span()?;
        Ok(Self {
            id: row.key_id,
            version: row.version,
            signs_what: row.signs_what(),
            kid: row.thumbprint,
            jwk: public.to_jwk(),
            signs: row.signs,
            from: span.from,
            until: span.until,
            withdrawn: row.retired,
        })
    }
}
