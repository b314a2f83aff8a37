//! Changes an account: name, roles, authorisations, or closes it.
//!
//! Refuses a stale version, and a change without a reason.

use super::{Action, Actor, InLab, register_account::AccountView, store};
use crate::{
    corrections::{self, Reason},
    error::{Answer, Problem},
    request::{Data, Entered, Seen, Valid, shown},
    results::{self, Again},
};
use actix_web::{HttpRequest, HttpResponse, put};
use domain::{accounts::Account, faults::Faults, id::AccountId};
use serde::Deserialize;

/// The account as it is to be, and why.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ReviseAccount {
    /// The account as it is to be.
    pub account: Account,
    /// Why it changes.
    pub reason: Reason,
}

impl Entered for ReviseAccount {
    fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        faults.nest("/account", self.account.check());
        faults.nest("/reason", self.reason.check());
        faults.into_result()
    }
}

/// Revise account
#[utoipa::path(tag = "accounts",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = AccountId, Path, description = "Account"),
        ("If-Match" = String, Header, description = "ETag of the version that you saw")),
    request_body(content = ReviseAccount, example = json!({"account": {"login": "ines", "printed_name": "Inés Duarte", "roles": ["analyst", "reviewer"]}, "reason": {"code": "late-information", "text": "Authorised to review since Monday."}})),
    responses((status = 200, body = AccountView), (status = "4XX", body = Problem)))]
#[put("/v1/laboratories/{lab}/accounts/{id}")]
pub(super) async fn revise_account(
    actor: Actor,
    account: InLab<AccountId>,
    seen: Seen,
    body: Valid<ReviseAccount>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReviseAccount, account.lab())?;
    let kept = app
        .db
        .write(&permit, async |tx| {
            // Who may run which procedure decides on holds of runs that are there already.
            tx.change_reference().await?;
            let before = store::account(tx, account.id()).await?;
            seen.must_be(before.version)?;
            let after = before.next(tx, body.account.clone());
            corrections::record(tx, &before, &after, &body.reason).await?;
            store::save_account(tx, &after).await?;
            results::ask_again(tx, after.id, after.version, Again::Account(after.id)).await?;
            Ok(after)
        })
        .await?;
    Ok(shown(&request, kept.version, &AccountView::from(kept)))
}
