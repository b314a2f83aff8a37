//! Kit lots: received, accepted or not, used up, taken back.
//!
//! Promises that tests used are counted from the runs that name the lot, and that a new lot can be
//! compared with the one in use before it is accepted; refuses receipts and decisions that its
//! state does not allow.

mod accept_kit_lot;
mod comparing;
mod exhaust_kit_lot;
mod list_kit_lots;
pub(crate) mod pages;
mod recall_kit_lot;
mod receive_kit_lot;
mod register_kit_lot;
mod reject_kit_lot;
mod revise_kit_lot;
mod show_kit_lot;
mod show_kit_lot_comparison;
pub(crate) mod store;
mod wire;

use crate::{
    db::Tx,
    error::{Answer, ApiError},
    named::{Named, Thing},
};
use domain::{
    faults::Faults,
    id::RunId,
    kit_lots::{KitLotEntry, KitLotError},
};
use uuid::Uuid;

/// Routes of the slice.
pub fn routes(config: &mut utoipa_actix_web::service_config::ServiceConfig) {
    config
        .service(register_kit_lot::register_kit_lot)
        .service(list_kit_lots::list_kit_lots)
        .service(show_kit_lot::show_kit_lot)
        .service(show_kit_lot_comparison::show_kit_lot_comparison)
        .service(revise_kit_lot::revise_kit_lot)
        .service(receive_kit_lot::receive_kit_lot)
        .service(accept_kit_lot::accept_kit_lot)
        .service(reject_kit_lot::reject_kit_lot)
        .service(exhaust_kit_lot::exhaust_kit_lot)
        .service(recall_kit_lot::recall_kit_lot);
}

/// What a kit lot names, its pointers below `at`.
fn names(lot: &KitLotEntry, at: &str) -> Named {
    let mut named = Named::default();
    let pointer = format!("{at}/procedure");
    named.add(Thing::Procedure, pointer, Some(lot.procedure));
    named
}

/// Refuses runs that a lot is decided on unless each was done with it; `at` is where they are
/// named.
async fn must_be_runs_of(tx: &mut Tx, lot: Uuid, runs: &[RunId], at: &str) -> Answer<()> {
    let mut named = Named::default();
    for (position, run) in runs.iter().enumerate() {
        named.add(Thing::Run, format!("{at}/{position}"), Some(*run));
    }
    named.must_be_there(tx).await?;
    let own = store::runs_of(tx, lot, runs).await?;
    let mut faults = Faults::default();
    for (position, run) in runs.iter().enumerate() {
        faults.require(own.contains(&run.0), format!("{at}/{position}"), || {
            format!("Run {run} was not done with the kit lot. Give one that was, or correct it.")
        });
    }
    faults.into_result().map_err(ApiError::from)
}

impl From<KitLotError> for ApiError {
    fn from(error: KitLotError) -> Self {
        match error {
            KitLotError::Faults(faults) => Self::Invalid(faults),
            KitLotError::Not { .. } | KitLotError::TestsLeft { .. } => {
                Self::refused("kit-lot-state", format!("Refused: {error}."))
            }
            KitLotError::NotComparable { .. } => {
                Self::field("/compared_with", format!("Refused: {error}."))
            }
            KitLotError::NotBorneOut { .. } => {
                Self::refused("kit-lot-comparison", format!("Refused: {error}."))
            }
        }
    }
}
