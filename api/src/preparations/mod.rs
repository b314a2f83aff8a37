//! Preparations: ground sample, test portion, extract, each made from the one before.
//!
//! Promises that what stands on the bench of the sample's site fills what a step leaves out, and
//! that the answer says what was filled in. Refuses a chain that does not belong to one sample or
//! does not follow in time; a step on equipment past its date is recorded, and held later.

mod list_preparations;
mod record_preparation;
mod revise_preparation;
mod show_preparation;
pub(crate) mod store;
mod wire;

use crate::{
    db::Tx,
    error::{Answer, ApiError},
    named::{Named, Thing},
};
use domain::preparations::{ChainError, Preparation};

/// Routes of the slice.
pub fn routes(config: &mut utoipa_actix_web::service_config::ServiceConfig) {
    config
        .service(record_preparation::record_preparation)
        .service(list_preparations::list_preparations)
        .service(show_preparation::show_preparation)
        .service(revise_preparation::revise_preparation);
}

/// Checks a step against what it was made from and against everything that it named.
async fn check(tx: &mut Tx, step: &Preparation) -> Answer<()> {
    let mut named = Named::default();
    named.add(Thing::Account, "/by", step.by);
    named.add(Thing::Procedure, "/procedure", step.procedure);
    for (position, equipment) in step.equipment.iter().enumerate() {
        let pointer = format!("/equipment/{position}");
        named.add(Thing::Equipment, pointer, Some(*equipment));
    }
    named.must_be_there(tx).await?;
    let parent = match step.parent {
        Some(parent) => {
            let found = store::find(tx, parent.0).await;
            Some(found.map_err(|missing| missing.named_at("/parent"))?)
        }
        None => None,
    };
    step.check_parent(parent.as_ref().map(|kept| &kept.content))
        .map_err(misfit)
}

fn misfit(error: ChainError) -> ApiError {
    let pointer = match error {
        ChainError::GroundSampleWithParent
        | ChainError::NoParent { .. }
        | ChainError::WrongParent { .. }
        | ChainError::OtherSample { .. } => "/parent",
        ChainError::OutOfOrder { .. } => "/at",
        ChainError::MoreThanParent { .. } => "/mass_g",
    };
    ApiError::field(pointer, format!("Refused: {error}."))
}
