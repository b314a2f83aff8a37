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

/// Routes of the slice.
pub fn routes(config: &mut utoipa_actix_web::service_config::ServiceConfig) {
    config
        .service(draft_column_map::draft_column_map)
        .service(list_column_maps::list_column_maps)
        .service(show_column_map::show_column_map)
        .service(revise_column_map::revise_column_map);
}
