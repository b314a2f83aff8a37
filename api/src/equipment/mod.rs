//! Equipment that is no reader, and the checks of equipment and readers.
//!
//! Promises that a check moves the date on which the next one is due, in the same act, and that a
//! failed one names the runs that it throws doubt on. Refuses a check of what is not there.

mod list_checks;
mod list_equipment;
pub(crate) mod pages;
mod record_check;
mod register_equipment;
mod revise_check;
mod revise_equipment;
mod show_check;
mod show_equipment;
pub(crate) mod store;
mod wire;

use crate::{
    db::Tx,
    error::Answer,
    kept::Kept,
    named::{Named, Thing},
    readers,
    results::{self, Again},
};
use domain::equipment::{Checked, Equipment, EquipmentCheck};

/// Routes of the slice.
pub fn routes(config: &mut utoipa_actix_web::service_config::ServiceConfig) {
    config
        .service(register_equipment::register_equipment)
        .service(list_equipment::list_equipment)
        .service(show_equipment::show_equipment)
        .service(revise_equipment::revise_equipment)
        .service(record_check::record_check)
        .service(list_checks::list_checks)
        .service(show_check::show_check)
        .service(revise_check::revise_check);
}

/// What a piece of equipment names, its pointers below `at`.
fn names(piece: &Equipment, at: &str) -> Named {
    let mut named = Named::default();
    named.add(Thing::Site, format!("{at}/site"), piece.site);
    named
}

/// What a check names, its pointers below `at`.
fn names_of_check(check: &EquipmentCheck, at: &str) -> Named {
    let mut named = Named::default();
    match check.of {
        Checked::Equipment(id) => {
            named.add(Thing::Equipment, format!("{at}/of/equipment"), Some(id));
        }
        Checked::Reader(id) => named.add(Thing::Reader, format!("{at}/of/reader"), Some(id)),
    }
    named.add(Thing::Account, format!("{at}/by"), check.by);
    named
}

/// Brings dates and state of what was checked up to its checks, and asks for the results that
/// depend on it to be computed again. Returns all checks of the thing.
async fn carry_over(tx: &mut Tx, made: &Kept<EquipmentCheck>) -> Answer<Vec<EquipmentCheck>> {
    let check = &made.content;
    let checks = store::checks::of(tx, check.of).await?;
    let again = match check.of {
        Checked::Reader(id) => {
            readers::follow_checks(tx, id, &checks, check.kind).await?;
            Again::Reader(id.0)
        }
        Checked::Equipment(id) => {
            let before = store::lock(tx, id.0).await?;
            let content = before.content.with_checks(&checks, check.kind);
            if content != before.content {
                let after = before.next(tx, content);
                store::save(tx, &after).await?;
            }
            Again::Equipment(id.0)
        }
    };
    results::ask_again(tx, made.id, made.version, again).await?;
    Ok(checks)
}
