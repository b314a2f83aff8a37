//! Gives the bytes of an import as they were uploaded.

use super::store;
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, InLab},
    request::Data,
};
use actix_web::{HttpResponse, get, http::header};
use domain::id::ImportId;

/// Show upload
///
/// The bytes as they came; `Repr-Digest` has their SHA-256 (RFC 9530).
#[utoipa::path(tag = "imports",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = ImportId, Path, description = "Import")),
    responses((status = 200, content_type = "application/octet-stream", body = Vec<u8>), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/imports/{id}/upload")]
pub(super) async fn show_upload(
    actor: Actor,
    import: InLab<ImportId>,
    app: Data,
) -> Answer<HttpResponse> {
    use base64::Engine as _;
    use sha2::Digest as _;
    let permit = actor.permit(Action::ReadImports, import.lab())?;
    let (digest, bytes) = app
        .db
        .read(&permit, async |tx| {
            let digest = store::find(tx, import.id().0).await?.content.digest;
            let (bytes, _) = store::uploads::find(tx, &digest).await?;
            Ok((digest, bytes))
        })
        .await?;
    let repr = base64::engine::general_purpose::STANDARD.encode(sha2::Sha256::digest(&bytes));
    Ok(HttpResponse::Ok()
        // Never shown as a page: the bytes are whoever's who uploaded them.
        .content_type("application/octet-stream")
        .insert_header((header::X_CONTENT_TYPE_OPTIONS, "nosniff"))
        .insert_header((
            header::CONTENT_DISPOSITION,
            format!("attachment; filename=\"{digest}.csv\""),
        ))
        .insert_header(("Repr-Digest", format!("sha-256=:{repr}:")))
        .body(bytes))
}
