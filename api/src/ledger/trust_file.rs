//! The laboratory's trust file: the public keys that whoever verifies a bundle needs.
//!
//! Promises what formats.md says of it, and nothing that is secret: the role that reads for it
//! cannot see the sealed private keys. Its size is that of the newest checkpoint: who keeps a copy
//! knows how far the log had come by then.

use super::{
    keys::trusted,
    serving::{PublicLog, public_logs},
    store::{self, keys::KeyRow},
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
        Hash, PublicKey, canonical,
        note::{KeyUse, VerifierKey},
        rotation::SignsWhat,
    },
};
use serde_json::{Value, json};
use uuid::Uuid;

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
    let keys = store::keys::all(&mut connection, number).await?;
    let logs = public_logs(&mut connection, number).await?;
    let file = file(LaboratoryId(id), &name, &logs, &keys)?;
    canonical::to_bytes(&file).map_err(ApiError::internal)
}

fn file(
    laboratory: LaboratoryId,
    name: &str,
    logs: &[PublicLog],
    keys: &[KeyRow],
) -> Answer<Value> {
    let (mut record_keys, mut named_logs) = (Vec::new(), Vec::new());
    for log in logs {
        let number = u64::try_from(log.number).map_err(ApiError::internal)?;
        let ended = log.end.as_ref().map(|(size, _)| u64::try_from(*size));
        let ended = ended.transpose().map_err(ApiError::internal)?;
        for row in keys {
            let key = PublicKey::from_bytes(&row.public_key).map_err(ApiError::internal)?;
            if row.signs_what() == SignsWhat::Log {
                named_logs.push(log_key(log, key)?);
            } else {
                record_keys.extend(trusted::record_key(row, &key, number, ended)?);
            }
        }
    }
    let size = logs.last().map_or(0, |current| current.size);
    Ok(json!({
        "keys": record_keys, "laboratory": laboratory, "logs": named_logs, "name": name,
        "size": size,
    }))
}

/// A log by one of its keys; where it ended, how.
fn log_key(log: &PublicLog, key: PublicKey) -> Answer<Value> {
    let named = VerifierKey::new(&log.origin, KeyUse::Note, key).map_err(ApiError::internal)?;
    let mut shown = json!({
        "number": log.number, "origin": log.origin, "vkey": named.to_string(),
    });
    if let (Some((size, root)), Some(members)) = (&log.end, shown.as_object_mut()) {
        let root = Hash::from_slice(root).map_err(ApiError::internal)?;
        members.insert("size".into(), (*size).into());
        members.insert("root".into(), root.to_string().into());
    }
    Ok(shown)
}
