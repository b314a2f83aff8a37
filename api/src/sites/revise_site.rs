//! Changes a site. Refuses a stale version, a change without a reason, and a bench of things
//! that are not there.
//!
//! The change is a correction: the old version stays readable.

use super::{store, wire::SiteView};
use crate::{
    corrections::{self, Reason},
    error::{Answer, Problem},
    identity::{Action, Actor, InLab},
    request::{Data, Entered, Seen, Valid, shown},
};
use actix_web::{HttpRequest, HttpResponse, put};
use domain::{faults::Faults, id::SiteId, sites::Site};
use serde::Deserialize;

/// The site as it is to be, and why.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ReviseSite {
    /// The site as it is to be.
    pub site: Site,
    /// Why it changes.
    pub reason: Reason,
}

impl Entered for ReviseSite {
    fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        faults.nest("/site", self.site.check());
        faults.nest("/reason", self.reason.check());
        faults.into_result()
    }
}

/// Revise site
#[utoipa::path(tag = "sites",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = SiteId, Path, description = "Site"),
        ("If-Match" = String, Header, description = "ETag of the version that you saw")),
    request_body(content = ReviseSite, example = json!({"site": {"code": "GATE", "name": "River gate", "time_zone": "Europe/Lisbon", "bench": {"reader": "019ca869-5003-7d46-b59c-6cf85cca57e4"}}, "reason": {"code": "late-information", "text": "The reader was set up."}})),
    responses((status = 200, body = SiteView), (status = "4XX", body = Problem)))]
#[put("/v1/laboratories/{lab}/sites/{id}")]
pub(super) async fn revise_site(
    actor: Actor,
    site: InLab<SiteId>,
    seen: Seen,
    body: Valid<ReviseSite>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReviseSite, site.lab())?;
    let kept = app
        .db
        .write(&permit, async |tx| {
            tx.change_reference().await?;
            let before = store::lock(tx, site.id().0).await?;
            seen.must_be(before.version)?;
            super::names(&body.site, "/site").must_be_there(tx).await?;
            let after = before.next(tx, body.site.clone());
            corrections::record(tx, &before, &after, &body.reason).await?;
            store::save(tx, &after).await?;
            Ok(after)
        })
        .await?;
    Ok(shown(&request, kept.version, &SiteView::from(kept)))
}
