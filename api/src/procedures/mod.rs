//! Procedures: versions of the written method.
//!
//! Promises that only what was adopted is worked by, and that a change of an adopted procedure is
//! a draft until it is adopted again. Refuses commodities that the vocabulary does not have,
//! a bias shown on control material that nobody registered, and a cut-off that is not that of the
//! validation it names.

mod adopt_procedure;
mod draft_procedure;
mod list_procedures;
mod retire_procedure;
mod revise_procedure;
mod show_procedure;
pub(crate) mod store;
mod wire;

use crate::{
    db::Tx,
    error::{Answer, ApiError},
    named::{Named, Thing},
    request::Entered,
};
use domain::{
    commodities,
    faults::Faults,
    procedures::{ProcedureEntry, ProcedureError},
};

/// Routes of the slice.
pub fn routes(config: &mut utoipa_actix_web::service_config::ServiceConfig) {
    config
        .service(draft_procedure::draft_procedure)
        .service(list_procedures::list_procedures)
        .service(show_procedure::show_procedure)
        .service(revise_procedure::revise_procedure)
        .service(adopt_procedure::adopt_procedure)
        .service(retire_procedure::retire_procedure);
}

impl Entered for ProcedureEntry {
    fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        faults.nest("", ProcedureEntry::check(self));
        for (position, commodity) in self.commodities.iter().enumerate() {
            let pointer = format!("/commodities/{position}");
            commodities::require_commodity(&mut faults, &pointer, commodity);
        }
        faults.into_result()
    }
}

/// That the control materials exist on which a procedure showed its bias; `within` is the pointer
/// of the procedure.
async fn require_materials(tx: &mut Tx, procedure: &ProcedureEntry, within: &str) -> Answer<()> {
    let mut named = Named::default();
    for (position, shown) in procedure.bias.iter().enumerate() {
        let pointer = format!("{within}/bias/{position}/control_material");
        named.add(
            Thing::ControlMaterial,
            &pointer,
            Some(shown.control_material),
        );
    }
    named.must_be_there(tx).await
}

impl From<ProcedureError> for ApiError {
    fn from(error: ProcedureError) -> Self {
        match error {
            ProcedureError::Faults(faults) => Self::Invalid(faults),
            ProcedureError::Not { .. } => {
                Self::refused("procedure-state", format!("Refused: {error}."))
            }
        }
    }
}
