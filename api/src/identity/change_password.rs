//! Changes one's own password, which is given again. Leaves a record, without the password.

use super::{
    Action, Actor, Lab, confirm_password, passwords, register_account::check_password, store,
};
use crate::{
    error::{Answer, ApiError, Problem},
    ids,
    ledger::{self, NewRecord},
    request::{Data, Entered, Valid},
};
use actix_web::{HttpResponse, put};
use domain::faults::Faults;
use serde::Deserialize;

/// The old password and the new one.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ChangePassword {
    /// The password as it is.
    #[schema(example = "a long sentence of my own")]
    pub password: String,
    /// The password as it is to be, 12 to 200 characters.
    #[schema(
        min_length = 12,
        max_length = 200,
        example = "another sentence of mine"
    )]
    pub new_password: String,
}

impl Entered for ChangePassword {
    fn check(&self) -> Result<(), Faults> {
        check_password("/new_password", &self.new_password)
    }
}

/// Change one's own password
#[utoipa::path(tag = "accounts",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses")),
    request_body(content = ChangePassword, example = json!({"password": "a long sentence of my own", "new_password": "another sentence of mine"})),
    responses((status = 204, description = "Changed"), (status = "4XX", body = Problem)))]
#[put("/v1/laboratories/{lab}/password")]
pub(super) async fn change_password(
    actor: Actor,
    lab: Lab,
    body: Valid<ChangePassword>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ChangePassword, &lab)?;
    if permit.account().is_none() {
        let detail = "A client has a secret, no password.";
        return Err(ApiError::Forbidden(detail.into()));
    }
    let account = confirm_password(&app, &permit, &body.password).await?;
    let hash = passwords::hash_password(body.new_password.clone()).await?;
    app.db
        .write(&permit, async |tx| {
            store::set_password(tx, account.0, &hash).await?;
            ledger::append(
                tx,
                NewRecord {
                    kind: "password-change",
                    schema: 1,
                    subject: ids::fresh(),
                    version: 1,
                    content: serde_json::json!({"account": account}),
                    disclosed: &[],
                },
            );
            Ok(())
        })
        .await?;
    Ok(HttpResponse::NoContent().finish())
}
