//! Closes a series, now unless a time is given: it takes no run more. Refuses one that is closed.

use super::{store, wire::SeriesView};
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, InLab},
    request::{Data, Entered, Once, Valid},
    results::{self, Again},
};
use actix_web::{HttpResponse, post};
use domain::{faults::Faults, id::SeriesId, time::Moment};
use serde::Deserialize;

/// When a series is closed.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct CloseSeries {
    /// When, where that is not now.
    #[serde(default)]
    pub at: Option<Moment>,
}

impl Entered for CloseSeries {
    fn check(&self) -> Result<(), Faults> {
        Ok(())
    }
}

/// Close series
#[utoipa::path(tag = "series",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = SeriesId, Path, description = "Series"),
        ("Idempotency-Key" = String, Header, description = "A random value of your own, the same when you repeat the request")),
    request_body(content = CloseSeries, example = json!({})),
    responses((status = 200, body = SeriesView), (status = "4XX", body = Problem)))]
#[post("/v1/laboratories/{lab}/series/{id}/closure")]
pub(super) async fn close_series(
    actor: Actor,
    series: InLab<SeriesId>,
    once: Once,
    body: Valid<CloseSeries>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::CloseSeries, series.lab())?;
    app.db
        .act(&permit, &once, body.fingerprint(), async |tx| {
            tx.change_reference().await?;
            let before = store::lock(tx, series.id().0).await?;
            let after = before.next(tx, before.content.close(body.at.unwrap_or(tx.now()))?);
            store::save(tx, &after).await?;
            results::ask_again(tx, after.id, after.version, Again::Series(after.id)).await?;
            Ok((after.version, SeriesView::from(after)))
        })
        .await
}
