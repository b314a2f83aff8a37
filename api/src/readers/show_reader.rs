//! Shows one reader.

use super::{store, wire::ReaderView};
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, InLab},
    request::{Data, shown},
};
use actix_web::{HttpRequest, HttpResponse, get};
use domain::id::ReaderId;

/// Show reader
#[utoipa::path(tag = "readers",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = ReaderId, Path, description = "Reader")),
    responses((status = 200, body = ReaderView), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/readers/{id}")]
pub(super) async fn show_reader(
    actor: Actor,
    reader: InLab<ReaderId>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadReaders, reader.lab())?;
    let kept = app
        .db
        .read(&permit, async |tx| store::find(tx, reader.id().0).await)
        .await?;
    Ok(shown(&request, kept.version, &ReaderView::from(kept)))
}
