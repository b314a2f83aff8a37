//! Opens a series, now unless a time is given.
//!
//! Refuses a code that is in use, a site, procedure or kit lot that is not there, and a kit lot
//! that
//! is used by another procedure.

use super::{store, wire::SeriesView};
use crate::{
    db::{Created, Tx},
    error::{Answer, ApiError, Problem},
    identity::{Action, Actor, Lab},
    ids,
    kept::Kept,
    kit_lots,
    named::{Named, Thing},
    request::{Data, Entered, Once, Valid},
};
use actix_web::{HttpResponse, post};
use domain::{
    entries,
    faults::Faults,
    id::{KitLotId, ProcedureId, SiteId},
    series::{Series, SeriesState},
    time::Moment,
};
use serde::Deserialize;
use uuid::Uuid;

/// What the runs of a series share.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct OpenSeries {
    /// Unique in the laboratory.
    pub code: String,
    /// Where it is worked.
    pub site: SiteId,
    /// By which procedure.
    pub procedure: ProcedureId,
    /// With which kit lot.
    pub kit_lot: KitLotId,
    /// When it was opened, where that is not now.
    #[serde(default)]
    pub opened_at: Option<Moment>,
}

impl Entered for OpenSeries {
    fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        entries::code(&mut faults, "/code", &self.code);
        faults.into_result()
    }
}

impl OpenSeries {
    async fn must_fit(&self, tx: &mut Tx) -> Answer<()> {
        let mut named = Named::default();
        named.add(Thing::Site, "/site", Some(self.site));
        named.add(Thing::Procedure, "/procedure", Some(self.procedure));
        named.add(Thing::KitLot, "/kit_lot", Some(self.kit_lot));
        named.must_be_there(tx).await?;
        let lot = kit_lots::store::find(tx, self.kit_lot.0).await?;
        if lot.content.entry.procedure == self.procedure {
            return Ok(());
        }
        Err(ApiError::field(
            "/kit_lot",
            format!(
                "Kit lot {} is used by another procedure. Give that one, or another lot.",
                lot.content.entry.code
            ),
        ))
    }
}

/// Open series
#[utoipa::path(tag = "series",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("Idempotency-Key" = String, Header, description = "A random value of your own, the same when you repeat the request")),
    request_body(content = OpenSeries, example = json!({"code": "2026-03-01/1", "site": "019ca869-5003-7d46-b59c-6cf85cca57e4", "procedure": "019ca869-5003-7d46-b59c-6cf85cca57e5", "kit_lot": "019ca869-5003-7d46-b59c-6cf85cca57e6"})),
    responses((status = 201, body = SeriesView), (status = "4XX", body = Problem)))]
#[post("/v1/laboratories/{lab}/series")]
pub(super) async fn open_series(
    actor: Actor,
    lab: Lab,
    once: Once,
    body: Valid<OpenSeries>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::OpenSeries, &lab)?;
    let id: Uuid = ids::fresh();
    app.db
        .create(&permit, &once, body.fingerprint(), async |tx| {
            tx.change_reference().await?;
            body.must_fit(tx).await?;
            let series = Series {
                code: body.code.clone(),
                site: body.site,
                procedure: body.procedure,
                kit_lot: body.kit_lot,
                opened_at: body.opened_at.unwrap_or(tx.now()),
                opened_by: permit.account(),
                state: SeriesState::Open,
                closed_at: None,
            };
            let kept = Kept::first(tx, id, series);
            store::insert(tx, &kept).await?;
            Ok(Created {
                location: format!("/v1/laboratories/{}/series/{id}", lab.slug()),
                version: kept.version,
                view: SeriesView::from(kept),
            })
        })
        .await
}
