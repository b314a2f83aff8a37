//! Lists the rows that an import refused, in the order of their lines.

use super::{store, wire::RefusedRowView};
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, InLab},
    request::{Data, Listed, Page, listed},
};
use actix_web::{HttpRequest, HttpResponse, get, web};
use domain::id::ImportId;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

/// Whether a refused row was mended.
#[derive(Debug, Clone, Copy, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum RefusedRowState {
    /// It was not.
    Refused,
    /// It was.
    Mended,
}

/// Which refused rows are asked for.
#[derive(Debug, Deserialize, utoipa::IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct RefusedRowFilter {
    /// Only those in this state.
    pub state: Option<RefusedRowState>,
}

/// A refused row in a list.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct ListedRowView {
    /// The refused row, for the next page.
    pub id: Uuid,
    /// What is kept of it.
    #[serde(flatten)]
    pub row: RefusedRowView,
}

/// List import rows
///
/// The rows that the import refused, in the order of their lines, each with its text and reasons.
#[utoipa::path(tag = "imports",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = ImportId, Path, description = "Import"), Page, RefusedRowFilter),
    responses((status = 200, body = Listed<ListedRowView>), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/imports/{id}/rows")]
pub(super) async fn list_import_rows(
    actor: Actor,
    import: InLab<ImportId>,
    page: web::Query<Page>,
    filter: web::Query<RefusedRowFilter>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadImports, import.lab())?;
    let state = filter.state.map(|state| match state {
        RefusedRowState::Refused => "refused",
        RefusedRowState::Mended => "mended",
    });
    let found = app
        .db
        .read(&permit, async |tx| {
            store::find(tx, import.id().0).await?;
            store::rows::list(tx, import.id().0, &page, state).await
        })
        .await?;
    let views: Vec<ListedRowView> = found
        .into_iter()
        .map(|kept| ListedRowView {
            id: kept.id,
            row: RefusedRowView::from(kept.content),
        })
        .collect();
    Ok(listed(&request, &page, views, |view| view.id))
}
