//! Lists what there are control runs of: each has a chart.

use super::{
    store,
    wire::{ControlChartItem, ControlChartList, ControlGroupView},
};
use crate::{
    db::Tx,
    error::{Answer, ApiError, Problem},
    identity::{Action, Actor, Lab},
    request::Data,
};
use actix_web::{get, web};
use domain::{
    analytes::Analyte,
    id::{ControlMaterialId, KitLotId, ProcedureId, ReaderId},
};

/// Which charts are asked for.
#[derive(Debug, Default, serde::Deserialize, utoipa::IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct ControlChartFilter {
    /// Only those of this control material.
    pub control_material: Option<ControlMaterialId>,
    /// Only those of this procedure.
    pub procedure: Option<ProcedureId>,
    /// Only those of this analyte.
    #[param(inline)]
    pub analyte: Option<Analyte>,
}

/// List control charts
///
/// Materials, procedures and analytes that control runs are recorded of; an analyte that nothing is
/// assigned for has no chart.
#[utoipa::path(tag = "control-charts",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"), ControlChartFilter),
    responses((status = 200, body = ControlChartList), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/control-charts")]
pub(super) async fn list_control_charts(
    actor: Actor,
    lab: Lab,
    filter: web::Query<ControlChartFilter>,
    app: Data,
) -> Answer<web::Json<ControlChartList>> {
    let permit = actor.permit(Action::ReadControlCharts, &lab)?;
    let items = app
        .db
        .read(&permit, async |tx| items(tx, lab.slug(), &filter).await)
        .await?;
    Ok(web::Json(ControlChartList { items }))
}

/// What there are control runs of, the one that was read last first.
pub(super) async fn items(
    tx: &mut Tx,
    slug: &str,
    filter: &ControlChartFilter,
) -> Answer<Vec<ControlChartItem>> {
    let reference = tx.reference().await?;
    let mut items: Vec<ControlChartItem> = Vec::new();
    for row in store::groups(tx, filter).await? {
        let analyte: Analyte = row.analyte.parse().map_err(ApiError::internal)?;
        let of_material = reference.control_materials.get(&row.control_material_id);
        if of_material.is_none_or(|one| one.content.assigned(analyte).is_none()) {
            continue;
        }
        let group = ControlGroupView {
            kit_lot: KitLotId(row.kit_lot_id),
            kit_lot_code: reference
                .kit_lots
                .get(&row.kit_lot_id)
                .map(|lot| lot.content.entry.code.clone())
                .unwrap_or_default(),
            reader: ReaderId(row.reader_id),
            reader_serial: reference
                .readers
                .get(&row.reader_id)
                .map(|reader| reader.content.serial.clone())
                .unwrap_or_default(),
            runs: row.runs,
        };
        let (material, procedure) = (row.control_material_id, row.procedure_id);
        let known = items.iter_mut().find(|item| {
            (item.control_material.0, item.procedure.0, item.analyte)
                == (material, procedure, analyte)
        });
        if let Some(item) = known {
            item.runs = item.runs.saturating_add(row.runs);
            item.first_read_at = item.first_read_at.min(row.first_read_at.into());
            item.groups.push(group);
            continue;
        }
        let code = |found: Option<&String>| found.cloned().unwrap_or_default();
        let of_procedure = reference.procedures.get(&procedure);
        items.push(ControlChartItem {
            control_material: ControlMaterialId(material),
            control_material_code: code(of_material.map(|one| &one.content.code)),
            procedure: ProcedureId(procedure),
            procedure_code: code(of_procedure.map(|one| &one.content.entry.code)),
            analyte,
            groups: vec![group],
            runs: row.runs,
            first_read_at: row.first_read_at.into(),
            last_read_at: row.last_read_at.into(),
            link: format!(
                "/v1/laboratories/{slug}/control-charts/{material}?procedure={procedure}&analyte={}",
                analyte.slug()
            ),
        });
    }
    Ok(items)
}
