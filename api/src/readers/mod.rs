//! Readers: the curves that were loaded into them and the faults of their ports.
//!
//! Promises that it is known who loaded which lot's curve and when; refuses a port that the reader
//! does not have.

mod list_readers;
mod load_curve;
mod mend_port;
mod register_reader;
mod report_port_fault;
mod revise_reader;
mod show_reader;
pub(crate) mod store;
mod wire;

use crate::{
    db::Tx,
    error::{Answer, ApiError},
    named::{Named, Thing},
};
use domain::{
    equipment::{CheckKind, EquipmentCheck},
    id::ReaderId,
    readers::{Reader, ReaderError},
};

/// Routes of the slice.
pub fn routes(config: &mut utoipa_actix_web::service_config::ServiceConfig) {
    config
        .service(register_reader::register_reader)
        .service(list_readers::list_readers)
        .service(show_reader::show_reader)
        .service(revise_reader::revise_reader)
        .service(load_curve::load_curve)
        .service(report_port_fault::report_port_fault)
        .service(mend_port::mend_port);
}

/// What a reader names, its pointers below `at`.
fn names(reader: &Reader, at: &str) -> Named {
    let mut named = Named::default();
    named.add(Thing::Site, format!("{at}/site"), reader.site);
    for (position, curve) in reader.curves.iter().enumerate() {
        let pointer = format!("{at}/curves/{position}/loaded_by");
        named.add(Thing::Account, pointer, curve.loaded_by);
    }
    named
}

/// Brings the dates and the state of a reader up to its checks, of which one of `kind` was
/// recorded or corrected; a reader that they leave as it is gets no new version.
///
/// # Errors
/// [`ApiError::NotFound`], [`ApiError::Unavailable`] or [`ApiError::Internal`].
pub(crate) async fn follow_checks(
    tx: &mut Tx,
    reader: ReaderId,
    checks: &[EquipmentCheck],
    kind: CheckKind,
) -> Answer<()> {
    let before = store::lock(tx, reader.0).await?;
    let content = before.content.with_checks(checks, kind);
    if content == before.content {
        return Ok(());
    }
    let after = before.next(tx, content);
    store::save(tx, &after).await
}

impl From<ReaderError> for ApiError {
    fn from(error: ReaderError) -> Self {
        match error {
            ReaderError::NoSuchPort { .. } => Self::field("/port", format!("{error}.")),
            ReaderError::LoadedAlready { .. } => {
                Self::refused("curve-loaded", format!("Refused: {error}."))
            }
            ReaderError::PortUnchanged { .. } => {
                Self::refused("port-unchanged", format!("Refused: {error}."))
            }
        }
    }
}
