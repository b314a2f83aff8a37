//! Lists imports, newest first.

use super::{store, wire::ImportView};
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, Lab},
    request::{Data, Listed, Page, listed},
};
use actix_web::{HttpRequest, HttpResponse, get, web};
use uuid::Uuid;

/// Which imports are asked for.
#[derive(Debug, serde::Deserialize, utoipa::IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct ImportFilter {
    /// Only those that were read by this column map.
    pub column_map: Option<Uuid>,
    /// Only those of the bytes with this SHA-256 (64 lower-case hex digits).
    pub digest: Option<String>,
}

/// List imports
#[utoipa::path(tag = "imports",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"), Page, ImportFilter),
    responses((status = 200, body = Listed<ImportView>), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/imports")]
pub(super) async fn list_imports(
    actor: Actor,
    lab: Lab,
    page: web::Query<Page>,
    filter: web::Query<ImportFilter>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadImports, &lab)?;
    let found = app
        .db
        .read(&permit, async |tx| {
            store::list(tx, &page, filter.column_map, filter.digest.as_deref()).await
        })
        .await?;
    let views: Vec<ImportView> = found.into_iter().map(ImportView::from).collect();
    Ok(listed(&request, &page, views, |view| view.id))
}
