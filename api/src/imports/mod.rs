//! Imports: readers' exports, read by a laboratory's column map.
//!
//! Promises that whatever can be read as a run is recorded, and held where something is amiss; that
//! the same export posted twice, or overlapping another, makes nothing twice; that uploaded bytes
//! are kept under their digest, and rows that cannot be read with every reason. One transaction: a
//! broken connection leaves nothing half-written. Refuses what says something else than was
//! imported before, and shows both.

mod answering;
mod deciding;
mod fingerprints;
mod import_readings;
mod knowing;
mod list_import_rows;
mod list_imports;
mod mend_row;
pub(crate) mod pages;
mod reading;
mod rebuilding;
mod recording;
mod refusing;
mod registering;
mod show_import;
mod show_upload;
mod store;
mod wire;

pub(crate) use rebuilding::rebuild;
pub(crate) use store::{replay, rows::replay as replay_rows};
pub(crate) use store::{rows::erase as erase_row, uploads::erase_holding};

/// Routes of the slice.
pub fn routes(config: &mut utoipa_actix_web::service_config::ServiceConfig) {
    config
        .service(import_readings::import_readings)
        .service(list_imports::list_imports)
        .service(show_import::show_import)
        .service(list_import_rows::list_import_rows)
        .service(show_upload::show_upload)
        .service(mend_row::mend_row);
}
