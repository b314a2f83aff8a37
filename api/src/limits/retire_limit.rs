//! Retires an adopted limit: it decides no more, and its record stays.
//!
//! Refuses a stale version, a retirement without a reason, on a day to come or before the
//! adoption, and of a limit that was never adopted.

use super::{Named, Standing, lock, refusal, store, wire::LimitView};
use crate::{
    corrections::Reason,
    error::{Answer, Problem},
    identity::{Action, Actor, Lab},
    laboratories,
    request::{Data, Entered, Once, Seen, Valid},
    results::{self, Again},
};
use actix_web::{HttpResponse, post, web};
use chrono::NaiveDate;
use domain::faults::Faults;
use serde::Deserialize;

/// The day of the retirement, and why.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct RetireLimit {
    /// The day; today or before, not before the adoption.
    pub date: NaiveDate,
    /// Why it decides no more.
    pub reason: Reason,
}

impl Entered for RetireLimit {
    fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        faults.nest("/reason", self.reason.check());
        faults.into_result()
    }
}

/// Retire limit
#[utoipa::path(tag = "limits",
    params(Named,
        ("If-Match" = String, Header, description = "ETag of the version that you saw"),
        ("Idempotency-Key" = String, Header, description = "A random value of your own, the same when you repeat the request")),
    request_body(content = RetireLimit, example = json!({"date": "2026-09-01",
        "reason": {"code": "late-information", "text": "The contract ended with the harvest."}})),
    responses((status = 200, body = LimitView), (status = "4XX", body = Problem)))]
#[post("/v1/laboratories/{lab}/limits/{limit}/retirement")]
pub(super) async fn retire_limit(
    actor: Actor,
    lab: Lab,
    named: web::Path<Named>,
    once: Once,
    seen: Seen,
    body: Valid<RetireLimit>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::AdoptLimit, &lab)?;
    app.db
        .act(&permit, &once, body.fingerprint(), async |tx| {
            tx.change_reference().await?;
            let before = lock(tx, &named.limit).await?;
            seen.must_be(before.version)?;
            let today = laboratories::today(tx).await?;
            let retired = before
                .content
                .clone()
                .retire(body.date, today)
                .map_err(|error| refusal(&error))?;
            let after = before.next(tx, retired);
            store::save(tx, &after).await?;
            results::ask_again(tx, after.id, after.version, Again::Limits).await?;
            tx.draft.because(body.reason.code.name(), &body.reason.text);
            let standing = Standing::kept(after);
            Ok((standing.version(), LimitView::from(&standing)))
        })
        .await
}
