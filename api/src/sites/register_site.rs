//! Registers a site. Refuses a code that is in use, and a bench of things that are not there.

use super::{store, wire::SiteView};
use crate::{
    db::Created,
    error::{Answer, Problem},
    identity::{Action, Actor, Lab},
    ids,
    kept::Kept,
    request::{Data, Entered, Once, Valid},
};
use actix_web::{HttpResponse, post};
use domain::{faults::Faults, sites::Site};
use uuid::Uuid;

impl Entered for Site {
    fn check(&self) -> Result<(), Faults> {
        Site::check(self)
    }
}

/// Register site
#[utoipa::path(tag = "sites",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("Idempotency-Key" = String, Header, description = "A random value of your own, the same when you repeat the request")),
    request_body(content = Site, example = json!({"code": "GATE", "name": "River gate", "time_zone": "Europe/Lisbon", "bench": {"pipettes": []}})),
    responses((status = 201, body = SiteView), (status = "4XX", body = Problem)))]
#[post("/v1/laboratories/{lab}/sites")]
pub(super) async fn register_site(
    actor: Actor,
    lab: Lab,
    once: Once,
    body: Valid<Site>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::RegisterSite, &lab)?;
    let id: Uuid = ids::fresh();
    app.db
        .create(&permit, &once, body.fingerprint(), async |tx| {
            tx.change_reference().await?;
            super::names(&body, "").must_be_there(tx).await?;
            let kept = Kept::first(tx, id, (*body).clone());
            store::insert(tx, &kept).await?;
            Ok(Created {
                location: format!("/v1/laboratories/{}/sites/{id}", lab.slug()),
                version: kept.version,
                view: SiteView::from(kept),
            })
        })
        .await
}
