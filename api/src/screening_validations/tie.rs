//! Ties the cut-offs of a procedure to the validations that they name.
//!
//! Promises that a named validation is of this procedure and analyte, in use, and that its cut-off
//! in force is the one stated; adds its target where none is stated, so that decisions need no
//! other source than the procedure. Refuses anything else, with the pointer.

use super::{standing::Standing, store};
use crate::{
    db::Tx,
    error::{Answer, ApiError},
};
use domain::{
    faults::Faults,
    id::ProcedureId,
    procedures::{ProcedureEntry, ScreeningCutOff},
    quantity::Concentration,
    screening_validations::ScreeningResponse,
};

/// The procedure with the targets of the validations that its cut-offs name; `within` is the
/// pointer of the procedure.
///
/// # Errors
/// [`ApiError::Invalid`] with every fault.
pub(crate) async fn tie_to_validations(
    tx: &mut Tx,
    id: ProcedureId,
    entry: &ProcedureEntry,
    within: &str,
) -> Answer<ProcedureEntry> {
    let mut tied = entry.clone();
    let mut faults = Faults::default();
    for (place, cut_off) in tied.screening.iter_mut().enumerate() {
        let Some(validation) = cut_off.validation else {
            continue;
        };
        let pointer = format!("{within}/screening/{place}");
        match store::maybe(tx, validation.0).await? {
            Some(kept) => {
                let standing = Standing::of(tx, kept).await?;
                faults.nest(&pointer, compare(id, cut_off, &standing));
                let target = standing.kept.content.entry.screening_target;
                cut_off.target = Some(Concentration::from_ug_per_kg(target.0));
            }
            None => faults.add(
                format!("{pointer}/validation"),
                format!(
                    "There is no validation {validation} in this laboratory. Look it up in the \
                     list."
                ),
            ),
        }
    }
    faults.into_result().map_err(ApiError::from)?;
    Ok(tied)
}

/// What stands against deciding by a validation.
fn compare(
    procedure: ProcedureId,
    stated: &ScreeningCutOff,
    standing: &Standing,
) -> Result<(), Faults> {
    let mut faults = Faults::default();
    let entry = &standing.kept.content.entry;
    let code = &entry.code;
    if let Some(why) = &standing.not_usable {
        let fault = format!("Validation {code} cannot be decided by: {why}.");
        faults.add("/validation", fault);
        return Err(faults);
    }
    faults.require(entry.procedure == procedure, "/validation", || {
        format!("Validation {code} is of another procedure.")
    });
    faults.require(entry.analyte == stated.analyte, "/validation", || {
        format!("Validation {code} is of {}.", entry.analyte)
    });
    let concentration = entry.response == ScreeningResponse::Concentration;
    faults.require(concentration, "/validation", || {
        format!("Validation {code} has the cut-off of a signal: results are concentrations.")
    });
    let cut_off = standing.cut_off();
    let same = cut_off.is_some_and(|one| one.0 == stated.cut_off.ug_per_kg());
    faults.require(same, "/cut_off", || match cut_off {
        Some(one) => format!("The cut-off in force of validation {code} is {one} µg/kg."),
        None => format!("Validation {code} has no cut-off."),
    });
    let target = entry.screening_target;
    let same = stated.target.is_none_or(|one| one.ug_per_kg() == target.0);
    faults.require(same, "/target", || {
        format!("The target of validation {code} is {target} µg/kg.")
    });
    faults.into_result()
}
