//! The laboratory's trust file: the public keys that whoever verifies a bundle needs.
//!
//! Promises what formats.md says of it, and nothing that is secret: the role that reads for it
//! cannot see the sealed private keys. No entry has been sequenced by this version, so every key,
//! announced by the laboratory's first act, is good from entry 0 and the log's size is 0.

use super::{
    origin,
    store::{self, PublicKeyRow},
};
use crate::{
    app::App,
    error::{Answer, ApiError, Problem},
    request::Data,
};
use actix_web::{HttpResponse, get, web};
use domain::{
    id::LaboratoryId,
    ledger::{
        PublicKey, canonical,
        checkpoint::Origin,
        note::{KeyUse, VerifierKey},
    },
};
use serde_json::{Value, json};
use uuid::Uuid;

/// The number of a laboratory's first log.
const FIRST_LOG: u64 = 1;

/// Show a laboratory's trust file
///
/// Public. Keep your own copy of it, from where you trust it, and verify with that.
#[utoipa::path(tag = "records", security(()),
    params(("laboratory" = Uuid, Path, description = "Laboratory, by its id")),
    responses((status = 200, description = "The trust file", content_type = "application/json", body = Object),
        (status = "4XX", body = Problem)))]
#[get("/log/{laboratory}/trust.json")]
pub(super) async fn trust_file(path: web::Path<String>, app: Data) -> Answer<HttpResponse> {
    let id = Uuid::parse_str(&path).map_err(|_no_id| unknown())?;
    let bytes = bytes(&app, id).await?;
    Ok(HttpResponse::Ok()
        .content_type("application/json")
        .body(bytes))
}

fn unknown() -> ApiError {
    ApiError::NotFound("There is no log of such a laboratory here.".into())
}

/// The trust file's canonical bytes.
///
/// # Errors
/// [`ApiError::NotFound`] for a laboratory that is not there.
pub(super) async fn bytes(app: &App, id: Uuid) -> Answer<Vec<u8>> {
    let mut connection = app.db.public().await?;
    let (number, name) = store::public_laboratory(&mut connection, id)
        .await?
        .ok_or_else(unknown)?;
    let keys = store::public_keys(&mut connection, number).await?;
    let origin = origin::of(&app.config.public_url, LaboratoryId(id), FIRST_LOG);
    let file = file(&origin, &name, &keys)?;
    canonical::to_bytes(&file).map_err(ApiError::internal)
}

fn file(origin: &Origin, name: &str, keys: &[PublicKeyRow]) -> Answer<Value> {
    let (mut record_keys, mut logs) = (Vec::new(), Vec::new());
    for row in keys {
        let key = PublicKey::from_bytes(&row.public_key).map_err(ApiError::internal)?;
        if row.key_use == "log" {
            let named = VerifierKey::new(&origin.to_string(), KeyUse::Note, key)
                .map_err(ApiError::internal)?;
            logs.push(json!({
                "number": origin.number, "origin": origin.to_string(), "vkey": named.to_string(),
            }));
        } else {
            let mut jwk = key.to_jwk();
            if let Some(members) = jwk.as_object_mut() {
                members.insert("alg".into(), "EdDSA".into());
                members.insert("use".into(), "sig".into());
                members.insert("kid".into(), key.kid().into());
                members.insert("log".into(), origin.number.into());
                members.insert("from_entry".into(), 0.into());
            }
            record_keys.push(jwk);
        }
    }
    Ok(json!({
        "keys": record_keys, "laboratory": origin.laboratory, "logs": logs, "name": name, "size": 0,
    }))
}
