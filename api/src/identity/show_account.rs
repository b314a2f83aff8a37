//! Shows one account.

use super::{Action, Actor, InLab, register_account::AccountView, store};
use crate::{
    error::{Answer, Problem},
    request::{Data, shown},
};
use actix_web::{HttpRequest, HttpResponse, get};
use domain::id::AccountId;

/// Show account
#[utoipa::path(tag = "accounts",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = AccountId, Path, description = "Account")),
    responses((status = 200, body = AccountView), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/accounts/{id}")]
pub(super) async fn show_account(
    actor: Actor,
    account: InLab<AccountId>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadAccounts, account.lab())?;
    let kept = app
        .db
        .read(&permit, async |tx| store::account(tx, account.id()).await)
        .await?;
    Ok(shown(&request, kept.version, &AccountView::from(kept)))
}
