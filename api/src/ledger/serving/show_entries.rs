//! Shows one bundle of a log's entries.

use super::{counted, immutable, opening::open, store};
use crate::{
    error::{Answer, ApiError, Problem},
    request::Data,
};
use actix_web::{HttpRequest, HttpResponse, get, web};
use domain::ledger::tile::{FULL_WIDTH, Tile, append_entry};

/// Show a bundle of a log's entries
///
/// The signed acts whose hashes the tile of the same number has, each behind its length in two
/// bytes (C2SP tlog-tiles). Nothing beyond the newest checkpoint is shown.
#[utoipa::path(tag = "log", security((), ("token" = [])),
    params(("laboratory" = Uuid, Path, description = "Laboratory, by its id"),
        ("number" = i32, Path, description = "Number of the log"),
        ("tile" = String, Path, description = "Number of the tile in groups of three digits, with its width where it is partial", example = "000.p/1")),
    responses((status = 200, description = "The entries", content_type = "application/octet-stream", body = Vec<u8>),
        (status = "4XX", body = Problem)))]
#[get("/log/{laboratory}/{number}/tile/entries/{tile:.*}")]
pub(super) async fn show_entries(
    path: web::Path<(String, String, String)>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let (laboratory, number, tile) = path.into_inner();
    let log = open(&request, &app, &laboratory, &number).await?;
    let tile = Tile::parse_entries(&tile)
        .map_err(|fault| ApiError::Malformed(format!("entries/{tile} is {fault}.")))?;
    log.must_hold(&tile)?;
    let from = counted(tile.index * FULL_WIDTH)?;
    let to = counted(tile.index * FULL_WIDTH + tile.width)?;
    let entries = {
        let mut connection = app.db.public().await?;
        store::entries(&mut connection, (log.laboratory, log.number), from, to).await?
    };
    if u64::try_from(entries.len()) != Ok(tile.width) {
        return Err(ApiError::internal(format!(
            "{} of log {} lacks entries that its checkpoint covers",
            tile.entries_path(),
            log.number
        )));
    }
    let mut bundle = Vec::new();
    for entry in entries {
        append_entry(&mut bundle, entry.as_bytes()).map_err(ApiError::internal)?;
    }
    Ok(immutable(&log, bundle))
}
