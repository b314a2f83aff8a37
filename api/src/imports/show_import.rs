//! Shows one import: by which map it was read, and what became of its rows.

use super::{store, wire::ImportView};
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, InLab},
    request::Data,
};
use actix_web::{HttpResponse, get};
use domain::id::ImportId;

/// Show import
#[utoipa::path(tag = "imports",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = ImportId, Path, description = "Import")),
    responses((status = 200, body = ImportView), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/imports/{id}")]
pub(super) async fn show_import(
    actor: Actor,
    import: InLab<ImportId>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadImports, import.lab())?;
    let view = app
        .db
        .read(&permit, async |tx| {
            let mut view = ImportView::from(store::find(tx, import.id().0).await?);
            view.unmended = Some(store::rows::count_unmended(tx, import.id().0).await?);
            Ok(view)
        })
        .await?;
    Ok(HttpResponse::Ok().json(view))
}
