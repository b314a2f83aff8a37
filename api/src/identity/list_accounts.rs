//! Lists the laboratory's accounts, newest first.

use super::{Action, Actor, Lab, register_account::AccountView, store};
use crate::{
    error::{Answer, Problem},
    request::{Data, Listed, Page, listed},
};
use actix_web::{HttpRequest, HttpResponse, get, web};

/// List accounts
#[utoipa::path(tag = "accounts",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"), Page),
    responses((status = 200, body = Listed<AccountView>), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/accounts")]
pub(super) async fn list_accounts(
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
            store::accounts_after(tx, page.after, page.rows()).await
        })
        .await?;
    let views: Vec<AccountView> = found.into_iter().map(AccountView::from).collect();
    Ok(listed(&request, &page, views, |view| view.id))
}
