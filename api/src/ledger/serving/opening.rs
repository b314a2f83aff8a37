//! Finds the log that an address names, and asks whether the caller may read it.
//!
//! Promises that whoever the laboratory lets in reads its logs and nobody else does: everybody
//! where it says so, else its own accounts and clients, by role. Refuses numbers of logs that are
//! not there.

use super::store;
use crate::{
    error::{Answer, ApiError},
    identity::{Action, Actor, Lab},
    request::Data,
};
use actix_web::{FromRequest as _, HttpRequest, dev::Payload};
use domain::{
    laboratories::LogReaders,
    ledger::tile::{FULL_WIDTH, Tile, tiles_wide},
};
use uuid::Uuid;

/// A log that the caller may read, as far as it is published.
pub(super) struct OpenLog {
    pub(super) laboratory: i32,
    pub(super) number: i32,
    /// Entries under the newest checkpoint: nothing beyond is shown.
    pub(super) size: u64,
    /// The newest checkpoint, as it was signed.
    pub(super) checkpoint: String,
    readers: LogReaders,
}

impl OpenLog {
    /// Whose caches may keep what is shown.
    pub(super) fn caches(&self) -> &'static str {
        match self.readers {
            LogReaders::Everybody => "public",
            LogReaders::GrantedAccounts => "private",
        }
    }

    /// Refuses a tile that is not there yet, or not as wide, under the newest checkpoint.
    pub(super) fn must_hold(&self, tile: &Tile) -> Answer<()> {
        let wide = tiles_wide(self.size, tile.level);
        let end = tile
            .index
            .checked_mul(FULL_WIDTH)
            .and_then(|start| start.checked_add(tile.width));
        if end.is_some_and(|end| end <= wide) {
            return Ok(());
        }
        Err(ApiError::NotFound(format!(
            "The newest checkpoint covers {} entries, and this tile is not that far. Read the \
             checkpoint, and ask for what it covers.",
            self.size
        )))
    }
}

/// Opens the log for the caller.
///
/// # Errors
/// [`ApiError::NotFound`] where there is none; [`ApiError::Unauthenticated`] or
/// [`ApiError::Forbidden`] where the caller may not read it.
pub(super) async fn open(
    request: &HttpRequest,
    app: &Data,
    laboratory: &str,
    number: &str,
) -> Answer<OpenLog> {
    let unknown = || ApiError::NotFound("There is no such log here.".into());
    let id = Uuid::parse_str(laboratory).map_err(|_no_id| unknown())?;
    let number: i32 = number
        .parse()
        .ok()
        .filter(|parsed: &i32| *parsed > 0 && parsed.to_string() == number)
        .ok_or_else(unknown)?;
    let found = {
        let mut connection = app.db.public().await?;
        store::newest(&mut connection, id, number).await?
    };
    let found = found.ok_or_else(unknown)?;
    let readers = match found.readers {
        Some(word) => serde_json::from_value(word.into()).map_err(ApiError::internal)?,
        None => LogReaders::default(),
    };
    if readers != LogReaders::Everybody {
        let actor = Actor::from_request(request, &mut Payload::None).await?;
        actor.permit(Action::ReadLog, &Lab::of(found.slug))?;
    }
    let (size, checkpoint) = found.size.zip(found.note).ok_or_else(|| {
        ApiError::NotFound("There is no such log here, or no checkpoint of it yet.".into())
    })?;
    Ok(OpenLog {
        laboratory: found.laboratory_id,
        number,
        size: u64::try_from(size).map_err(ApiError::internal)?,
        checkpoint,
        readers,
    })
}
