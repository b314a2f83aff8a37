//! Shows one limit, by its id or its code.

use super::{Named, find, may_see, wire::LimitView};
use crate::{
    error::{Answer, ApiError, Problem},
    identity::{Action, Actor, Lab},
    request::{Data, shown},
};
use actix_web::{HttpRequest, HttpResponse, get, web};

/// Show limit
///
/// By its id or its code. The ETag of a limit that is only shipped is `"0"`.
#[utoipa::path(tag = "limits", params(Named),
    responses((status = 200, body = LimitView), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/limits/{limit}")]
pub(super) async fn show_limit(
    actor: Actor,
    lab: Lab,
    named: web::Path<Named>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadLimits, &lab)?;
    let standing = app
        .db
        .read(&permit, async |tx| find(tx, &named.limit).await)
        .await?;
    if !may_see(standing.limit(), permit.only_customer()) {
        return Err(ApiError::missing("limit", &named.limit));
    }
    Ok(shown(
        &request,
        standing.version(),
        &LimitView::from(&standing),
    ))
}
