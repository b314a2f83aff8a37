//! Column maps: how the export of one kind of reader is read.
//!
//! Promises that each version stays readable, so that an import can be followed long after its map
//! was changed. Refuses a map that could read two meanings from one text, and operators whose
//! account is not here.

mod draft_column_map;
mod list_column_maps;
mod revise_column_map;
mod show_column_map;
pub(crate) mod store;
mod wire;

use crate::{
    db::Tx,
    error::{Answer, ApiError},
    ledger,
};
use domain::column_maps::ColumnMap;
use uuid::Uuid;

/// Routes of the slice.
pub fn routes(config: &mut utoipa_actix_web::service_config::ServiceConfig) {
    config
        .service(draft_column_map::draft_column_map)
        .service(list_column_maps::list_column_maps)
        .service(show_column_map::show_column_map)
        .service(revise_column_map::revise_column_map);
}

/// A version of a map, as it is recorded; the operators of a version that is not the newest are
/// left out, since they stand in disclosures.
///
/// # Errors
/// [`ApiError::NotFound`].
pub(crate) async fn version(tx: &mut Tx, id: Uuid, version: i32) -> Answer<ColumnMap> {
    let newest = store::find(tx, id).await?;
    if newest.version == version {
        return Ok(newest.content);
    }
    let before = ledger::contents_before(tx, id, version.saturating_add(1)).await?;
    let found = before.into_iter().find(|(number, _)| *number == version);
    let (_, mut content) = found.ok_or_else(|| ApiError::missing("column map", id))?;
    if let Some(members) = content.as_object_mut() {
        members.remove("_sd");
    }
    serde_json::from_value(content).map_err(ApiError::internal)
}
