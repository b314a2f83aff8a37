//! Changes the laboratory's particulars, and who may read its log.
//!
//! Refuses a stale version, a change without a reason, another name in addresses, and a time zone
//! that is none. The change is a correction: the old version stays readable.

use super::{show_laboratory::LaboratoryView, store};
use crate::{
    corrections::{self, Reason},
    error::{Answer, ApiError, Problem},
    identity::{Action, Actor, Lab},
    request::{Data, Entered, Seen, Valid, shown},
};
use actix_web::{HttpRequest, HttpResponse, put};
use domain::{faults::Faults, laboratories::Laboratory};
use serde::Deserialize;

/// The laboratory as it is to be, and why.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ReviseLaboratory {
    /// The laboratory as it is to be.
    pub laboratory: Laboratory,
    /// Why it changes.
    pub reason: Reason,
}

impl Entered for ReviseLaboratory {
    fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        faults.nest("/laboratory", self.laboratory.check());
        faults.nest("/reason", self.reason.check());
        faults.into_result()
    }
}

/// Revise laboratory
///
/// `log_readers` says who may read the laboratory's log: `granted-accounts` or `everybody`. What
/// somebody read while it was open to everybody stays with them.
#[utoipa::path(tag = "laboratories",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("If-Match" = String, Header, description = "ETag of the version that you saw")),
    request_body(content = ReviseLaboratory, example = json!({"laboratory": {"slug": "quay", "name": "Quay Grain Laboratory", "address": "3 Quay Street", "time_zone": "Europe/Lisbon", "certificate_prefix": "Q", "log_readers": "everybody"}, "reason": {"code": "other", "text": "The grain board follows our log from now on."}})),
    responses((status = 200, body = LaboratoryView), (status = "4XX", body = Problem)))]
#[put("/v1/laboratories/{lab}")]
pub(super) async fn revise_laboratory(
    actor: Actor,
    lab: Lab,
    seen: Seen,
    body: Valid<ReviseLaboratory>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReviseLaboratory, &lab)?;
    if body.laboratory.time_zone.parse::<chrono_tz::Tz>().is_err() {
        return Err(ApiError::field(
            "/laboratory/time_zone",
            format!(
                "\"{}\" is no time zone. Give one such as Europe/Lisbon.",
                body.laboratory.time_zone
            ),
        ));
    }
    let kept = app
        .db
        .write(&permit, async |tx| {
            let before = store::lock(tx).await?;
            seen.must_be(before.version)?;
            let after = before.next(tx, body.laboratory.clone());
            corrections::record(tx, &before, &after, &body.reason).await?;
            store::save(tx, &after).await?;
            Ok(after)
        })
        .await?;
    Ok(shown(&request, kept.version, &LaboratoryView::from(kept)))
}
