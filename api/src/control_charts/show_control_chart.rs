//! Shows the control chart of a material, a procedure and an analyte. Refuses settings that no
//! chart can be drawn with, and an analyte that nothing is assigned for.

use super::{ChartQuery, Wanted, gather::gather, wire::ControlChartView};
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, InLab},
    request::Data,
};
use actix_web::{get, web};
use domain::id::ControlMaterialId;

/// Show control chart
///
/// Of the newest 500 control runs of a period: single values and moving ranges with limits from the
/// values, weighted averages and cumulative sums about the assigned value, the rules that hold
/// results, the mean found with its bias, and the runs and results that failed control runs put in
/// doubt. Each figure is that of the computation of the same name under `/v1/calculator/control`.
#[utoipa::path(tag = "control-charts",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = ControlMaterialId, Path, description = "Control material"), ChartQuery),
    responses((status = 200, body = ControlChartView), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/control-charts/{id}")]
pub(super) async fn show_control_chart(
    actor: Actor,
    control_material: InLab<ControlMaterialId>,
    query: web::Query<ChartQuery>,
    app: Data,
) -> Answer<web::Json<ControlChartView>> {
    let permit = actor.permit(Action::ReadControlCharts, control_material.lab())?;
    let slug = control_material.lab().slug();
    let view = app
        .db
        .read(&permit, async |tx| {
            let wanted = Wanted::of(tx, control_material.id(), &query).await?;
            let gathered = gather(tx, &wanted).await?;
            Ok(ControlChartView::of(slug, &wanted, gathered))
        })
        .await?;
    Ok(web::Json(view))
}
