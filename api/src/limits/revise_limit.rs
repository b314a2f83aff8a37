//! Changes a limit that was proposed by hand and not adopted yet.
//!
//! Refuses a stale version, a change without a reason, another code, and a change of what was
//! adopted or retired: such a limit is retired, and another one proposed.

use super::{Named, Standing, lock, propose_limit::check_references, store, wire::LimitView};
use crate::{
    corrections::{self, Reason},
    error::{Answer, ApiError, Problem},
    identity::{Action, Actor, Lab},
    request::{Data, Entered, Seen, Valid, shown},
};
use actix_web::{HttpRequest, HttpResponse, put, web};
use domain::{
    faults::Faults,
    limits::{LimitEntry, LimitState},
};
use serde::Deserialize;

/// The proposed limit as it is to be, and why.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ReviseLimit {
    /// The limit as it is to be.
    pub limit: LimitEntry,
    /// Why it changes.
    pub reason: Reason,
}

impl Entered for ReviseLimit {
    fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        faults.nest("/limit", Entered::check(&self.limit));
        faults.nest("/reason", self.reason.check());
        faults.into_result()
    }
}

/// Revise limit
#[utoipa::path(tag = "limits",
    params(Named,
        ("If-Match" = String, Header, description = "ETag of the version that you saw")),
    request_body(content = ReviseLimit, example = json!({"limit": {
        "code": "intake-wheat-don", "authority": {"kind": "intake"}, "analyte": "deoxynivalenol",
        "commodity": "wheat", "intended_use": "flour milling", "value": "800", "basis": "as-is",
        "comparison": "exceeds", "source": "Intake rules 8, section 4",
        "scopes": [{"commodities": ["wheat-grain"], "uses": ["food"]}]},
        "reason": {"code": "late-information", "text": "Section 4 was rewritten."}})),
    responses((status = 200, body = LimitView), (status = "4XX", body = Problem)))]
#[put("/v1/laboratories/{lab}/limits/{limit}")]
pub(super) async fn revise_limit(
    actor: Actor,
    lab: Lab,
    named: web::Path<Named>,
    seen: Seen,
    body: Valid<ReviseLimit>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReviseLimit, &lab)?;
    let standing = app
        .db
        .write(&permit, async |tx| {
            tx.change_reference().await?;
            let before = lock(tx, &named.limit).await?;
            seen.must_be(before.version)?;
            if before.content.state != LimitState::Proposed {
                return Err(ApiError::refused(
                    "limit-state",
                    "Only a proposed limit is changed. Retire this one and propose another.",
                ));
            }
            if before.content.id != body.limit.code {
                return Err(ApiError::field(
                    "/limit/code",
                    format!("The code {} never changes.", before.content.id),
                ));
            }
            check_references(tx, &body.limit, "/limit").await?;
            let after = before.next(tx, body.limit.clone().into_limit());
            corrections::record(tx, &before, &after, &body.reason).await?;
            store::save(tx, &after).await?;
            Ok(Standing::kept(after))
        })
        .await?;
    Ok(shown(
        &request,
        standing.version(),
        &LimitView::from(&standing),
    ))
}
