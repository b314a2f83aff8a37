//! Shows how a kit lot compares with the one in use, before anybody decides on it. Stores nothing.

use super::{
    comparing,
    store::{self, LotRun},
};
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, InLab},
    request::Data,
};
use actix_web::{get, web};
use domain::{
    id::{KitLotId, RunId},
    kit_lots::KitLotComparison,
};
use serde::{Deserialize, Serialize};

/// With what a kit lot is compared.
#[derive(Debug, Deserialize, utoipa::IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct ComparedWith {
    /// The lot in use.
    pub compared_with: KitLotId,
}

/// How a kit lot compares with the one in use.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct KitLotComparisonView {
    /// The lot in use: what an acceptance names as `compared_with`.
    pub compared_with: KitLotId,
    /// Runs on the new lot, of samples that were run on both: what it names as `runs`.
    pub runs: Vec<RunId>,
    /// Runs on the lot in use, of these samples: what it names as `compared_runs`.
    pub compared_runs: Vec<RunId>,
    /// What they come to.
    pub comparison: KitLotComparison,
}

/// Show how a kit lot compares with the one in use
///
/// By the newest 500 runs on each, of samples that were run on both. It stores nothing: an
/// acceptance that names the same lot and runs keeps the same comparison.
#[utoipa::path(tag = "kit-lots",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = KitLotId, Path, description = "The new kit lot"), ComparedWith),
    responses((status = 200, body = KitLotComparisonView), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/kit-lots/{id}/comparison")]
pub(super) async fn show_kit_lot_comparison(
    actor: Actor,
    kit_lot: InLab<KitLotId>,
    query: web::Query<ComparedWith>,
    app: Data,
) -> Answer<web::Json<KitLotComparisonView>> {
    let permit = actor.permit(Action::ReadKitLots, kit_lot.lab())?;
    let view = app
        .db
        .read(&permit, async |tx| {
            let lot = store::find(tx, kit_lot.id().0).await?;
            let beside = comparing::beside(tx, &lot, query.compared_with).await?;
            let runs = store::shared_runs(tx, lot.id, beside.used.id).await?;
            let compared_runs = store::shared_runs(tx, beside.used.id, lot.id).await?;
            let ids = |runs: &[LotRun]| runs.iter().map(|run| RunId(run.run_id)).collect();
            Ok(KitLotComparisonView {
                compared_with: query.compared_with,
                comparison: comparing::compared(&lot, &beside, &runs, &compared_runs)?,
                runs: ids(&runs),
                compared_runs: ids(&compared_runs),
            })
        })
        .await?;
    Ok(web::Json(view))
}
