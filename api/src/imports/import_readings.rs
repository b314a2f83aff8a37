//! Imports a reader's export.
//!
//! Refuses an export that cannot be read at all, one larger than the stated limit, one that was
//! cut off, and, where the map says all or nothing, one with a row that is refused. A dry run
//! tells what would happen, row by row, and keeps nothing.

use super::{
    answering,
    reading::{self, Export},
    wire::ImportOutcomeView,
};
use crate::{
    column_maps,
    db::{Created, Tx},
    error::{Answer, ApiError, Problem},
    identity::{Action, Actor, Lab},
    ids,
    request::{Data, Once, read_bytes},
};
use actix_web::{FromRequest as _, HttpRequest, HttpResponse, http::header, post, web};
use domain::id::ImportId;
use sha2::{Digest as _, Sha256};
use uuid::Uuid;

/// By which map, and whether in earnest.
#[derive(Debug, serde::Deserialize, utoipa::IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct HowToImport {
    /// The column map to read by.
    pub column_map: Uuid,
    /// Tells what would happen, and keeps nothing.
    #[serde(default)]
    pub dry_run: bool,
}

const MEDIA_TYPES: [&str; 4] = [
    "text/csv",
    "application/octet-stream",
    "text/tab-separated-values",
    "text/plain",
];

/// Import readings
///
/// The body is the export as the reader wrote it, at most 67,108,864 bytes unless the operator set
/// another limit. What can be read as a run is recorded, and held where something is amiss; the
/// same reading again is skipped, another value of it refused with both shown. Rows that cannot be
/// read are kept with every reason, to be mended. In one transaction: repeat it with the same
/// Idempotency-Key when the connection breaks.
#[utoipa::path(tag = "imports",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"), HowToImport,
        ("Idempotency-Key" = Option<String>, Header, description = "A random value of your own, the same when you repeat the request; not needed in a dry run")),
    request_body(content((String = "text/csv", example = "Reader;Port;Time;Sample;Kit lot;Result;Unit\r\nR-1;2;07.03.2026 14:05:09;S-0007;AF-2601;820;ppb\r\n"), (Vec<u8> = "application/octet-stream", example = "Reader;Port;Time;Sample;Kit lot;Result;Unit\r\nR-1;2;07.03.2026 14:05:09;S-0007;AF-2601;820;ppb\r\n"))),
    responses((status = 200, description = "What would happen (dry run)", body = ImportOutcomeView), (status = 201, body = ImportOutcomeView), (status = "4XX", body = Problem)))]
#[post("/v1/laboratories/{lab}/imports")]
pub(super) async fn import_readings(
    actor: Actor,
    lab: Lab,
    how: web::Query<HowToImport>,
    request: HttpRequest,
    payload: web::Payload,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ImportReadings, &lab)?;
    let once = if how.dry_run {
        None
    } else {
        Some(Once::extract(&request).await?)
    };
    let media_type = media_type(&request)?;
    let limit = app.config.upload_limit_bytes;
    let bytes = read_bytes(&request, payload.into_inner(), limit).await?;
    let map = app
        .db
        .read(&permit, async |tx| {
            column_maps::store::find(tx, how.column_map).await
        })
        .await?;
    let fingerprint = fingerprint(how.column_map, &bytes);
    let export = reading::read(bytes, media_type, map).await?;
    let id: ImportId = ids::fresh();
    let Some(once) = once else {
        let view = app
            .db
            .rehearse(&permit, async |tx| {
                answering::outcome(tx, id, &export, true).await
            })
            .await?;
        return Ok(HttpResponse::Ok().json(view));
    };
    app.db
        .create(&permit, &once, fingerprint, async |tx| {
            created(tx, &lab, id, &export).await
        })
        .await
}

async fn created(
    tx: &mut Tx,
    lab: &Lab,
    id: ImportId,
    export: &Export,
) -> Answer<Created<ImportOutcomeView>> {
    Ok(Created {
        view: answering::outcome(tx, id, export, false).await?,
        location: format!("/v1/laboratories/{}/imports/{id}", lab.slug()),
        version: 1,
    })
}

fn media_type(request: &HttpRequest) -> Answer<String> {
    let stated = request
        .headers()
        .get(header::CONTENT_TYPE)
        .and_then(|value| value.to_str().ok())
        .unwrap_or_default();
    let kind = stated.split(';').next().unwrap_or_default().trim();
    if MEDIA_TYPES.iter().any(|one| kind.eq_ignore_ascii_case(one)) {
        return Ok(kind.to_ascii_lowercase());
    }
    Err(ApiError::UnsupportedMedia(format!(
        "The body is \"{kind}\": send the export as text/csv, or as application/octet-stream."
    )))
}

/// The same bytes by another map are another request.
fn fingerprint(column_map: Uuid, bytes: &[u8]) -> [u8; 32] {
    Sha256::new()
        .chain_update(column_map.as_bytes())
        .chain_update(bytes)
        .finalize()
        .into()
}
