//! Lists the laboratory's service clients, newest first.

use super::{Action, Actor, Lab, show_client::ClientView, store};
use crate::{
    error::{Answer, Problem},
    request::{Data, Listed, Page, listed},
};
use actix_web::{HttpRequest, HttpResponse, get, web};

/// List clients
#[utoipa::path(tag = "accounts",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"), Page),
    responses((status = 200, body = Listed<ClientView>), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/clients")]
pub(super) async fn list_clients(
    actor: Actor,
    lab: Lab,
    page: web::Query<Page>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadAccounts, &lab)?;
    let found = app
        .db
        .read(&permit, async |tx| {
            store::clients_after(tx, page.after, page.rows()).await
        })
        .await?;
    let views: Vec<ClientView> = found.into_iter().map(ClientView::from).collect();
    Ok(listed(&request, &page, views, |view| view.id))
}
