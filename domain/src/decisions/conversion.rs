//! A result brought to the basis of a limit.
//!
//! Promises the ratio of dry-matter fractions in exact decimals; refuses to convert without a
//! recorded moisture, and to take a sample for a part or preparation of the good that nothing
//! recorded says it is.

use rust_decimal::Decimal;

use crate::limits::Basis;
use crate::quantity::{Concentration, QuantityError, computed};

use super::{Finding, Measured, Undecided, wording};

/// A finding on a limit's basis.
pub(super) struct OnBasis {
    pub(super) finding: Finding,
    /// The expanded uncertainty on the same basis.
    pub(super) expanded: Option<Decimal>,
    /// What was done, or what is taken for granted; none where nothing is to be said.
    pub(super) sentence: Option<String>,
}

pub(super) fn to_basis(measured: &Measured, basis: &Basis) -> Result<OnBasis, Undecided> {
    let expanded = measured.uncertainty.map(|u| u.expanded.ug_per_kg());
    if expanded.is_some_and(|expanded| expanded < Decimal::ZERO) {
        return Err(Undecided::Uncomputable);
    }
    let unchanged = |sentence| OnBasis {
        finding: measured.finding,
        expanded,
        sentence,
    };
    match basis {
        Basis::AsIs | Basis::PlacedOnMarket => Ok(unchanged(None)),
        Basis::EdiblePart => Ok(unchanged(Some(wording::EDIBLE_PART.to_owned()))),
        Basis::HuskIncluded => Ok(unchanged(Some(wording::HUSK_INCLUDED.to_owned()))),
        Basis::KernelMass | Basis::ReadyToUse | Basis::Other(_) => {
            if measured.recorded_bases.contains(basis) {
                Ok(unchanged(Some(wording::recorded_basis(basis))))
            } else {
                Err(Undecided::NotOnBasis {
                    basis: basis.clone(),
                })
            }
        }
        Basis::DryMatter
        | Basis::Moisture(_)
        | Basis::DryMatterPercent(_)
        | Basis::AboutWater(_) => by_moisture(measured, basis, expanded),
    }
}

/// value x (100 - moisture of the basis) / (100 - moisture of the sample): arithmetic of the
/// dry-matter fractions.
fn by_moisture(
    measured: &Measured,
    basis: &Basis,
    expanded: Option<Decimal>,
) -> Result<OnBasis, Undecided> {
    let moisture = measured.moisture_percent.ok_or(Undecided::NoMoisture)?.0;
    if moisture < Decimal::ZERO || moisture >= Decimal::ONE_HUNDRED {
        return Err(Undecided::AbsurdMoisture);
    }
    let on_basis = basis.moisture_percent().ok_or(Undecided::Uncomputable)?;
    let convert = |value: Decimal| {
        let wanted = Decimal::ONE_HUNDRED.checked_sub(on_basis)?;
        let had = Decimal::ONE_HUNDRED.checked_sub(moisture)?;
        Some(computed(value.checked_mul(wanted)?.checked_div(had)?))
    };
    let finding = measured
        .finding
        .try_map(|value| {
            convert(value.ug_per_kg())
                .map(Concentration::from_ug_per_kg)
                .ok_or(QuantityError::Overflow)
        })
        .map_err(|_overflow| Undecided::Uncomputable)?;
    let expanded = match expanded {
        Some(expanded) => Some(convert(expanded).ok_or(Undecided::Uncomputable)?),
        None => None,
    };
    let sentence = wording::converted(measured.finding, finding, moisture, basis);
    Ok(OnBasis {
        finding,
        expanded,
        sentence: Some(sentence),
    })
}
