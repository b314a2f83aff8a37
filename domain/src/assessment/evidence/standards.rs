//! What standards allow the equipment that is recorded, or that is not.
//!
//! Promises the limit of a standard with the words that say where it is from; what is not recorded
//! of a piece of equipment is taken at its worst. Refuses volumes beyond every table.

use rust_decimal::Decimal;

use crate::equipment::Equipment;
use crate::quantity::Number;
use crate::quantity::exact::square_root;
use crate::uncertainty::balances::{BalanceClass, BalanceInputs, balance};
use crate::uncertainty::product::NamedDoubt;
use crate::uncertainty::tolerances::{
    CylinderInputs, CylinderStandard, GlassClass, PipetteInputs, PipetteStandard, cylinder, pipette,
};
use crate::uncertainty::{Doubt, Shape};

/// Capacities in mL of the cylinders of [`CylinderStandard::Iso4788`].
const CAPACITIES_ML: [i64; 7] = [10, 25, 50, 100, 250, 500, 1_000];

pub(super) fn millilitres(volume_ul: Number) -> Option<Number> {
    volume_ul
        .0
        .checked_div(Decimal::ONE_THOUSAND)
        .map(|volume| Number(volume.normalize()))
}

/// Doubts of a cylinder, in mL, as doubts of a volume in µL.
pub(super) fn in_microlitres(mut doubts: Vec<NamedDoubt>) -> Vec<NamedDoubt> {
    for named in &mut doubts {
        if let Doubt::HalfWidth { half_width, .. } = &mut named.doubt {
            half_width.0 = half_width
                .0
                .saturating_mul(Decimal::ONE_THOUSAND)
                .normalize();
        }
        named.basis = named
            .basis
            .take()
            .map(|basis| basis.replace("in mL", "in µL"));
    }
    doubts
}

/// The limits that ISO 8655 allows a pipette; none where the volume is beyond its table. More than
/// a pipette holds is delivered in several strokes alike: their limits add, their scatter as
/// squares.
pub(super) fn by_pipette(
    used: Option<&Equipment>,
    is_named: bool,
    volume_ul: Number,
) -> Option<Vec<NamedDoubt>> {
    let nominal = used.and_then(|one| nominal_of(one, volume_ul));
    let strokes = match nominal {
        Some(nominal) => volume_ul.0.checked_div(nominal.0)?.ceil(),
        None => Decimal::ONE,
    };
    let limits = pipette(&PipetteInputs {
        nominal_volume_ul: nominal.unwrap_or(volume_ul),
        selected_volume_ul: None,
        standard: PipetteStandard::Iso8655Of2002,
        several_channels: false,
    })
    .ok()?;
    let name = used.map_or("pipette", |one| one.code.as_str());
    let said = match (nominal, is_named) {
        (None, _) => "the standard's limit for this volume, since no pipette is recorded",
        (Some(_), true) => "the standard's limit for the pipette recorded",
        (Some(_), false) => "the standard's limit for the pipette that stands there",
    };
    let systematic = limits.systematic_ul.0.checked_mul(strokes)?.normalize();
    let random = limits.random_ul?.0;
    let root = square_root("strokes", strokes).ok()?;
    Some(vec![
        NamedDoubt {
            source: name.to_owned(),
            doubt: Doubt::HalfWidth {
                half_width: Number(systematic),
                shape: Shape::Rectangular,
                relative: false,
            },
            degrees_of_freedom: None,
            basis: Some(format!("{said}, {}, in µL", limits.source)),
        },
        NamedDoubt {
            source: format!("{name}, each delivery"),
            doubt: Doubt::Deviation {
                standard_deviation: Number(random.checked_mul(root)?.normalize()),
                observations: 1,
                relative: false,
            },
            degrees_of_freedom: None,
            basis: None,
        },
    ])
}

/// The volume that a pipette is made for: its largest, or the fixed one that is asked for.
fn nominal_of(equipment: &Equipment, volume_ul: Number) -> Option<Number> {
    let fixed = equipment.nominal_volumes_ul.iter().copied();
    fixed
        .filter(|one| *one >= volume_ul)
        .min()
        .filter(|_| equipment.maximum_volume_ul.is_none())
        .or_else(|| equipment.largest_volume_ul())
        .filter(|one| one.0 > Decimal::ZERO)
}

/// What a standard allows the cylinder that was used. What is not recorded of it is taken at its
/// worst: the larger of the tables, class B.
pub(super) fn by_cylinder(
    used: Option<&Equipment>,
    volume_ml: Number,
    unit: &str,
) -> Option<Vec<NamedDoubt>> {
    let recorded = used
        .and_then(Equipment::largest_volume_ul)
        .and_then(millilitres)
        .filter(|capacity| *capacity >= volume_ml);
    let in_table = |capacity: &Number| {
        let mut table = CAPACITIES_ML.into_iter();
        table.any(|one| Decimal::from(one) == capacity.0)
    };
    let smallest = || {
        let mut table = CAPACITIES_ML.into_iter().map(Decimal::from);
        table.find(|one| *one >= volume_ml.0).map(Number)
    };
    let capacity_ml = recorded.filter(in_table).or_else(smallest)?;
    let standard = used.and_then(|one| one.glass_standard);
    let class = used.and_then(|one| one.glass_class);
    let inputs = |standard| CylinderInputs {
        standard,
        capacity_ml,
        class: class.unwrap_or(GlassClass::B),
        shape: Shape::Rectangular,
    };
    let limit = standard
        .and_then(|standard| cylinder(&inputs(standard)).ok())
        .or_else(|| cylinder(&inputs(CylinderStandard::Iso4788)).ok())?;
    let word = match class {
        Some(GlassClass::A) => "class A",
        Some(GlassClass::B) => "class B",
        None => "class B, since none is recorded",
    };
    Some(vec![NamedDoubt {
        source: used.map_or_else(|| "cylinder".to_owned(), |one| one.code.clone()),
        doubt: Doubt::HalfWidth {
            half_width: limit.tolerance_ml,
            shape: Shape::Rectangular,
            relative: false,
        },
        degrees_of_freedom: None,
        basis: Some(format!(
            "{} for {capacity_ml} mL, {word}, {unit}",
            limit.source
        )),
    }])
}

/// What a standard allows the balance in service, by its verification scale interval. Where that
/// is not recorded, the procedure's own tolerance; without one, an interval of the last place that
/// the mass is written with.
pub(super) fn by_balance(
    used: Option<&Equipment>,
    tolerance_g: Option<Number>,
    mass_g: Number,
) -> Option<NamedDoubt> {
    let recorded = used.and_then(|one| one.verification_interval_g);
    let (half_width, basis) = match (recorded, tolerance_g) {
        (None, Some(tolerance)) => {
            let said = "the procedure's tolerance, since nothing is recorded of a balance's limits";
            (tolerance, format!("{said}, in g"))
        }
        (_, _) => {
            let interval = recorded.unwrap_or(Number(Decimal::new(1, mass_g.0.scale())));
            let class = used.and_then(|one| one.accuracy_class);
            let limits = balance(&BalanceInputs {
                class: class.unwrap_or(BalanceClass::III),
                load_g: mass_g,
                verification_interval_g: interval,
                shape: Shape::Rectangular,
            })
            .ok()?;
            let assumed = match (class, recorded) {
                (Some(_), Some(_)) => "",
                (None, Some(_)) => ", class III since none is recorded",
                (_, None) => ", e taken as the last place written, since none is recorded",
            };
            let source = limits.source;
            let basis = format!("{source}, in service, e = {interval} g{assumed}, in g");
            (limits.in_service_g, basis)
        }
    };
    Some(NamedDoubt {
        source: used.map_or_else(|| "balance".to_owned(), |one| one.code.clone()),
        doubt: Doubt::HalfWidth {
            half_width,
            shape: Shape::Rectangular,
            relative: false,
        },
        degrees_of_freedom: None,
        basis: Some(basis),
    })
}
