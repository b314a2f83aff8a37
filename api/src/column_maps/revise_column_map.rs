//! Makes a new version of a column map.
//!
//! Refuses a stale version and a change without a reason. Warns where runs that were imported will
//! not be known again.

use super::{
    store,
    wire::{ColumnMapView, RevisedColumnMapView},
};
use crate::{
    corrections::{self, Reason},
    error::{Answer, Problem},
    identity::{Action, Actor, InLab},
    request::{Data, Entered, Seen, Valid, shown},
};
use actix_web::{HttpRequest, HttpResponse, put};
use domain::{column_maps::ColumnMap, faults::Faults, id::ColumnMapId};
use serde::Deserialize;

/// The column map as it is to be, and why.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ReviseColumnMap {
    /// The map as it is to be.
    pub column_map: ColumnMap,
    /// Why it changes.
    pub reason: Reason,
}

impl Entered for ReviseColumnMap {
    fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        faults.nest("/column_map", Entered::check(&self.column_map));
        faults.nest("/reason", self.reason.check());
        faults.into_result()
    }
}

/// Revise column map
///
/// Imports that come from now on are read by the new version; each import says which version it
/// was read by. `warnings` tells where runs that were imported already would not be known again.
#[utoipa::path(tag = "column-maps",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = ColumnMapId, Path, description = "Column map"),
        ("If-Match" = String, Header, description = "ETag of the version that you saw")),
    request_body(content = ReviseColumnMap, example = json!({
        "column_map": {"name": "Reader of bay 2", "mode": "row_by_row",
            "time_zone": "Europe/Vienna", "time_formats": ["%d.%m.%Y %H:%M:%S", "rfc3339"],
            "columns": {"reader_serial": {"column": "Reader"}, "port": {"column": "Port"},
                "read_at": {"column": "Time"}, "sample_code": "Sample"},
            "readings": {"by_row": {"analyte": {"fixed": "deoxynivalenol"}, "value": "Result",
                "unit": {"fixed": "ug/kg"}}}},
        "reason": {"code": "late-information", "text": "The reader's new firmware writes times with their offset."}})),
    responses((status = 200, body = RevisedColumnMapView), (status = "4XX", body = Problem)))]
#[put("/v1/laboratories/{lab}/column-maps/{id}")]
pub(super) async fn revise_column_map(
    actor: Actor,
    map: InLab<ColumnMapId>,
    seen: Seen,
    body: Valid<ReviseColumnMap>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::DraftColumnMap, map.lab())?;
    let (kept, warnings) = app
        .db
        .write(&permit, async |tx| {
            let before = store::lock(tx, map.id().0).await?;
            seen.must_be(before.version)?;
            store::check_operators(tx, &body.column_map).await?;
            let after = before.next(tx, body.column_map.clone());
            corrections::record(tx, &before, &after, &body.reason).await?;
            store::save(tx, &after).await?;
            let warnings = warnings(&before.content, &after.content);
            Ok((after, warnings))
        })
        .await?;
    let version = kept.version;
    let view = RevisedColumnMapView {
        map: ColumnMapView::from(kept),
        warnings,
    };
    Ok(shown(&request, version, &view))
}

fn warnings(before: &ColumnMap, after: &ColumnMap) -> Vec<String> {
    let mut warnings = Vec::new();
    if before.identity != after.identity {
        warnings.push(
            "The fields that identify a run changed: a row that was imported by an earlier \
             version is not known again by this one, and would be recorded twice. Post only rows \
             that were never imported, or put the fields back."
                .to_owned(),
        );
    }
    if before.time_zone != after.time_zone && before.identity == after.identity {
        warnings.push(format!(
            "The time zone changed from {} to {}: where local times identify a run, a row that \
             was imported by an earlier version is not known again by this one. Post only rows \
             that were never imported, or put the zone back.",
            before.time_zone, after.time_zone
        ));
    }
    warnings
}
