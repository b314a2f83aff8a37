//! The log as files, in the layout that any client of tiled logs reads (C2SP tlog-tiles).
//!
//! Promises the bytes that the newest checkpoint covers, each file the same for good; refuses what
//! lies beyond that checkpoint, and readers whom the laboratory does not let in.

mod opening;
mod show_checkpoint;
mod show_entries;
mod show_tile;
mod store;

pub(super) use store::{PublicLog, public_logs};

use actix_web::{HttpResponse, http::header};

/// Routes of the log's files.
pub(super) fn routes(config: &mut utoipa_actix_web::service_config::ServiceConfig) {
    config
        .service(show_checkpoint::show_checkpoint)
        .service(show_entries::show_entries)
        .service(show_tile::show_tile);
}

/// A file of the log whose bytes never change: what a path names, it names for good.
fn immutable(log: &opening::OpenLog, bytes: Vec<u8>) -> HttpResponse {
    HttpResponse::Ok()
        .content_type("application/octet-stream")
        .insert_header((
            header::CACHE_CONTROL,
            format!("{}, max-age=31536000, immutable", log.caches()),
        ))
        .insert_header((header::X_CONTENT_TYPE_OPTIONS, "nosniff"))
        .body(bytes)
}

/// Hashes or entries of a tile that a caller named, as a database counts them.
fn counted(number: u64) -> crate::error::Answer<i64> {
    i64::try_from(number).map_err(crate::error::ApiError::internal)
}
