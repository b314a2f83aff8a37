//! Drafts a column map. Refuses a name that is in use, and a map that cannot be read by.

use super::{store, wire::ColumnMapView};
use crate::{
    db::Created,
    error::{Answer, ApiError, Problem},
    identity::{Action, Actor, Lab},
    ids,
    kept::Kept,
    request::{Data, Entered, Once, Valid},
};
use actix_web::{HttpResponse, post};
use domain::{column_maps::ColumnMap, faults::Faults};
use uuid::Uuid;

impl Entered for ColumnMap {
    fn check(&self) -> Result<(), Faults> {
        self.clone().check().map(drop)
    }
}

/// Draft column map
///
/// `operators` says whose account each operator of the export is; names of people stand in
/// disclosures, never in records. `identity` names what identifies a run: rows that agree in it
/// belong to one run, and an export that comes again is known by it.
#[utoipa::path(tag = "column-maps",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("Idempotency-Key" = String, Header, description = "A random value of your own, the same when you repeat the request")),
    request_body(content = ColumnMap, example = json!({
        "name": "Reader of bay 2", "mode": "row_by_row", "decimal_mark": "comma",
        "time_zone": "Europe/Vienna", "time_formats": ["%d.%m.%Y %H:%M:%S"],
        "columns": {"reader_serial": {"column": "Reader"}, "port": {"column": "Port"},
            "read_at": {"column": "Time"}, "sample_code": "Sample",
            "kit_lot_code": {"column": "Kit lot"}, "operator": "Operator"},
        "readings": {"by_row": {"analyte": {"column": "Test"}, "value": "Result",
            "unit": {"column": "Unit"}}},
        "analyte_names": {"DON": "deoxynivalenol"}, "units_by_mass": ["ppb"]})),
    responses((status = 201, body = ColumnMapView), (status = "4XX", body = Problem)))]
#[post("/v1/laboratories/{lab}/column-maps")]
pub(super) async fn draft_column_map(
    actor: Actor,
    lab: Lab,
    once: Once,
    body: Valid<ColumnMap>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::DraftColumnMap, &lab)?;
    let id: Uuid = ids::fresh();
    app.db
        .create(&permit, &once, body.fingerprint(), async |tx| {
            store::check_operators(tx, &body)
                .await
                .map_err(at_the_root)?;
            let kept = Kept::first(tx, id, (*body).clone());
            store::insert(tx, &kept).await?;
            Ok(Created {
                location: format!("/v1/laboratories/{}/column-maps/{id}", lab.slug()),
                version: kept.version,
                view: ColumnMapView::from(kept),
            })
        })
        .await
}

/// Here the body is the map itself.
fn at_the_root(error: ApiError) -> ApiError {
    let ApiError::Invalid(mut faults) = error else {
        return error;
    };
    for fault in &mut faults.0 {
        if let Some(inside) = fault.pointer.strip_prefix("/column_map") {
            fault.pointer = inside.to_owned();
        }
    }
    ApiError::Invalid(faults)
}
