//! Units as readers write them.
//!
//! Promises that a unit is a mass fraction that can be brought to µg/kg exactly. Refuses units by
//! volume, and words such as `ppb` unless the map says that the export uses them by mass.
//! Codes by UCUM, <https://ucum.org>.

use rust_decimal::Decimal;

use super::FaultCode;
use crate::column_maps::UnitByMass;
use crate::quantity::Unit;

/// A unit that is kept, and what a number is multiplied by to be of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct MassUnit {
    /// The unit that is kept.
    pub unit: Unit,
    /// What the written number is multiplied by; one for the units that are kept as written.
    pub multiplier: Decimal,
}

/// Reads a unit.
///
/// # Errors
/// [`FaultCode::AmbiguousUnit`] or [`FaultCode::UnknownUnit`], with what to do.
///
/// ```
/// use domain::column_maps::UnitByMass;
/// use domain::imports::{mass_unit, FaultCode};
/// use domain::quantity::Unit;
/// assert_eq!(mass_unit("µg/kg", &[]).unwrap().unit, Unit::UgPerKg);
/// assert_eq!(mass_unit("PPM", &[UnitByMass::Ppm]).unwrap().unit, Unit::MgPerKg);
/// assert_eq!(mass_unit("ppb", &[]).unwrap_err().0, FaultCode::AmbiguousUnit);
/// assert_eq!(mass_unit("ng/mL", &[]).unwrap_err().0, FaultCode::UnknownUnit);
/// ```
pub fn mass_unit(text: &str, by_mass: &[UnitByMass]) -> Result<MassUnit, (FaultCode, String)> {
    let thousandth = Decimal::new(1, 3);
    let kept = |unit, multiplier| Ok(MassUnit { unit, multiplier });
    let trimmed = text.trim();
    match trimmed {
        "ug/kg" | "µg/kg" | "μg/kg" | "mcg/kg" | "mg/t" => {
            return kept(Unit::UgPerKg, Decimal::ONE);
        }
        "mg/kg" | "g/t" => return kept(Unit::MgPerKg, Decimal::ONE),
        "ng/g" => return kept(Unit::NgPerG, Decimal::ONE),
        "ug/g" | "µg/g" | "μg/g" | "mcg/g" => return kept(Unit::UgPerG, Decimal::ONE),
        "pg/g" | "ng/kg" => return kept(Unit::UgPerKg, thousandth),
        "g/kg" => return kept(Unit::MgPerKg, Decimal::ONE_THOUSAND),
        _ => {}
    }
    let (word, unit, multiplier) = match trimmed.to_lowercase().as_str() {
        "ppb" | "[ppb]" => (UnitByMass::Ppb, Unit::UgPerKg, Decimal::ONE),
        "ppm" | "[ppm]" => (UnitByMass::Ppm, Unit::MgPerKg, Decimal::ONE),
        "ppt" | "[pptr]" => (UnitByMass::Ppt, Unit::UgPerKg, thousandth),
        "ppth" | "[ppth]" => (UnitByMass::Ppth, Unit::MgPerKg, Decimal::ONE_THOUSAND),
        "%" => (UnitByMass::Percent, Unit::MgPerKg, Decimal::from(10_000)),
        _ => {
            return Err((
                FaultCode::UnknownUnit,
                "the unit is no mass fraction known here; ug/kg, mg/kg, ng/g and ug/g are".into(),
            ));
        }
    };
    if by_mass.contains(&word) {
        return kept(unit, multiplier);
    }
    Err((
        FaultCode::AmbiguousUnit,
        "the unit does not say whether it is by mass; where the reader's maker says so, name it \
         in the map's units_by_mass"
            .into(),
    ))
}
