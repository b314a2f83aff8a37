//! Shows one tile of a log's hashes.

use super::{counted, immutable, opening::open, store};
use crate::{
    error::{Answer, ApiError, Problem},
    request::Data,
};
use actix_web::{HttpRequest, HttpResponse, get, web};
use domain::ledger::tile::Tile;

/// Show a tile of a log's hashes
///
/// 32 bytes a hash, 256 of them or, at the right edge, as many as the address says. Nothing beyond
/// the newest checkpoint is shown (C2SP tlog-tiles).
#[utoipa::path(tag = "log", security((), ("token" = [])),
    params(("laboratory" = Uuid, Path, description = "Laboratory, by its id"),
        ("number" = i32, Path, description = "Number of the log"),
        ("level" = String, Path, description = "Level of tiles, 0 for the hashes of entries", example = "0"),
        ("tile" = String, Path, description = "Number of the tile in groups of three digits, with its width where it is partial", example = "000.p/1")),
    responses((status = 200, description = "The hashes", content_type = "application/octet-stream", body = Vec<u8>),
        (status = "4XX", body = Problem)))]
#[get("/log/{laboratory}/{number}/tile/{level}/{tile:.*}")]
pub(super) async fn show_tile(
    path: web::Path<(String, String, String, String)>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let (laboratory, number, level, tile) = path.into_inner();
    let log = open(&request, &app, &laboratory, &number).await?;
    let tile = Tile::parse(&format!("{level}/{tile}"))
        .map_err(|fault| ApiError::Malformed(format!("{level}/{tile} is {fault}.")))?;
    log.must_hold(&tile)?;
    let stored = {
        let mut connection = app.db.public().await?;
        let level = i16::try_from(tile.level).map_err(ApiError::internal)?;
        let log = (log.laboratory, log.number);
        store::tile(&mut connection, log, level, counted(tile.index)?).await?
    };
    // It may be wider by now than it was under the checkpoint that the caller goes by.
    let width = usize::try_from(tile.width * 32).map_err(ApiError::internal)?;
    let cut = stored.and_then(|mut hashes| {
        let whole = hashes.len() >= width;
        hashes.truncate(width);
        whole.then_some(hashes)
    });
    let hashes = cut.ok_or_else(|| {
        ApiError::internal(format!(
            "{} of log {} lacks hashes that its checkpoint covers",
            tile.path(),
            log.number
        ))
    })?;
    Ok(immutable(&log, hashes))
}
