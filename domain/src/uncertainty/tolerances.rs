//! What standards allow pipettes and cylinders to be wrong by.
//!
//! Promises the row of the standard that is named, and the standard uncertainty that its limit
//! gives. Refuses sizes that the standard's table, as known here, does not have. Some rows are
//! from memory and say so: a laboratory's own certificates go before them.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use super::Doubt;
use super::doubt::Shape;
use crate::quantity::Number;
use crate::quantity::exact::{Answer, figures, out_of_range, over, positive, times};

/// Which edition of the standard for piston pipettes.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub enum PipetteStandard {
    /// ISO 8655-2:2002, table 1 (from memory; the row of 1000 µL also read elsewhere).
    #[default]
    #[serde(rename = "iso-8655-2:2002")]
    Iso8655Of2002,
    /// ISO 8655-2:2022: systematic classes only, second-hand.
    #[serde(rename = "iso-8655-2:2022")]
    Iso8655Of2022,
}

/// A piston pipette and the volume that it is set to.
///
/// ```
/// use domain::uncertainty::tolerances::{PipetteInputs, pipette};
/// // A 1000 µL pipette at 200 µL: ISO 8655-2:2002 limits as printed in a 2019 calibration paper.
/// let inputs: PipetteInputs = serde_json::from_str(
///     r#"{"nominal_volume_ul":"1000","selected_volume_ul":"200"}"#)?;
/// let limits = pipette(&inputs).unwrap();
/// assert_eq!(limits.systematic_percent.to_string(), "4");
/// let more: PipetteInputs = serde_json::from_str(
///     r#"{"nominal_volume_ul":"100","selected_volume_ul":"200"}"#)?;
/// assert_eq!(pipette(&more).unwrap_err().quantity(), "selected volume");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct PipetteInputs {
    /// Largest volume of the pipette, in µL, above 0 and at most 10,000.
    pub nominal_volume_ul: Number,
    /// The volume it is set to, in µL; the nominal one where none is given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub selected_volume_ul: Option<Number>,
    /// The edition.
    #[serde(default)]
    pub standard: PipetteStandard,
    /// Whether it has several channels, which doubles its limits (from memory).
    #[serde(default)]
    pub several_channels: bool,
}

/// What a pipette may be wrong by at the volume selected.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct PipetteLimits {
    /// Systematic limit at the nominal volume, percent.
    pub systematic_percent_at_nominal: Number,
    /// Systematic limit, ± µL: the same at every volume of the pipette.
    pub systematic_ul: Number,
    /// Systematic limit in percent of the selected volume.
    pub systematic_percent: Number,
    /// Limit of the standard deviation of deliveries, µL; absent where the table has none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub random_ul: Option<Number>,
    /// The same in percent of the selected volume.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub random_percent: Option<Number>,
    /// The systematic limit as a doubt, taken as rectangular.
    pub systematic: Doubt,
    /// The random limit as a doubt of one delivery.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub random: Option<Doubt>,
    /// Where the limits come from.
    pub source: String,
}

/// Nominal volume in µL, systematic and random limit in tenths of a percent: ISO 8655-2:2002,
/// table 1, single channel, air displacement (from memory).
const PIPETTES: [(u32, i64, i64); 13] = [
    (1, 50, 50),
    (2, 40, 20),
    (5, 25, 15),
    (10, 12, 8),
    (20, 10, 5),
    (50, 10, 4),
    (100, 8, 3),
    (200, 8, 3),
    (500, 8, 3),
    (1_000, 8, 3),
    (2_000, 8, 3),
    (5_000, 8, 3),
    (10_000, 6, 3),
];

/// Upper end of the class in µL and its systematic limit in tenths of a percent: ISO 8655-2:2022.
const CLASSES: [(u32, i64); 5] = [(5, 25), (10, 12), (50, 10), (5_000, 8), (10_000, 6)];

/// What a standard allows a piston pipette.
///
/// A nominal volume between two rows of the edition of 2002 takes the absolute limits of the next
/// larger row (from memory).
///
/// # Errors
/// A nominal volume beyond the table, a selected volume that is not above zero or above nominal.
pub fn pipette(inputs: &PipetteInputs) -> Answer<PipetteLimits> {
    let nominal = positive("nominal volume", inputs.nominal_volume_ul)?;
    let selected = inputs
        .selected_volume_ul
        .unwrap_or(inputs.nominal_volume_ul);
    let selected = positive("selected volume", selected)?;
    if selected > nominal {
        let must = format!("at most the nominal volume of {nominal} µL");
        return Err(out_of_range("selected volume", selected, must));
    }
    let beyond = || out_of_range("nominal volume", nominal, "at most 10000 µL");
    let channels = Decimal::from(if inputs.several_channels { 2 } else { 1 });
    let tenths = |row: Decimal, limit: i64| {
        let percent = times("limit", Decimal::new(limit, 3), channels)?;
        times("limit", percent, row)
    };
    let (systematic, random, source) = match inputs.standard {
        PipetteStandard::Iso8655Of2002 => {
            let (row, limit, scatter) = PIPETTES
                .into_iter()
                .find(|(row, ..)| Decimal::from(*row) >= nominal)
                .ok_or_else(beyond)?;
            let random = tenths(row.into(), scatter)?;
            let source = "ISO 8655-2:2002, table 1 (from memory)";
            (tenths(row.into(), limit)?, Some(random), source)
        }
        PipetteStandard::Iso8655Of2022 => {
            let (_, limit) = CLASSES
                .into_iter()
                .find(|(end, _)| Decimal::from(*end) >= nominal)
                .ok_or_else(beyond)?;
            let source = "ISO 8655-2:2022, systematic classes (second-hand)";
            (tenths(nominal, limit)?, None, source)
        }
    };
    let percent_of = |limit: Decimal, volume: Decimal| {
        Ok(figures(times(
            "limit",
            over("limit", limit, volume)?,
            Decimal::ONE_HUNDRED,
        )?))
    };
    Ok(PipetteLimits {
        systematic_percent_at_nominal: percent_of(systematic, nominal)?,
        systematic_ul: figures(systematic),
        systematic_percent: percent_of(systematic, selected)?,
        random_ul: random.map(figures),
        random_percent: random
            .map(|limit| percent_of(limit, selected))
            .transpose()?,
        systematic: Doubt::HalfWidth {
            half_width: figures(systematic),
            shape: Shape::Rectangular,
            relative: false,
        },
        random: random.map(|limit| Doubt::Deviation {
            standard_deviation: figures(limit),
            observations: 1,
            relative: false,
        }),
        source: source.to_owned(),
    })
}

/// Which standard a graduated cylinder meets.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum CylinderStandard {
    /// ASTM E1272-02 (2012), table 1.
    AstmE1272,
    /// ISO 4788:2005 (from memory).
    #[serde(rename = "iso-4788")]
    Iso4788,
}

/// The class of a piece of volumetric glass.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub enum GlassClass {
    /// The stricter one.
    A,
    /// Twice the tolerance of A.
    B,
}

/// A graduated cylinder.
///
/// ```
/// use domain::uncertainty::tolerances::{CylinderInputs, cylinder};
/// let inputs: CylinderInputs = serde_json::from_str(
///     r#"{"standard":"astm-e1272","capacity_ml":"50","class":"B"}"#)?;
/// assert_eq!(cylinder(&inputs).unwrap().tolerance_ml.to_string(), "0.5");
/// let odd: CylinderInputs = serde_json::from_str(
///     r#"{"standard":"astm-e1272","capacity_ml":"60","class":"A"}"#)?;
/// assert_eq!(cylinder(&odd).unwrap_err().quantity(), "capacity of the cylinder");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct CylinderInputs {
    /// The standard it meets: for one capacity they differ by a factor of two.
    pub standard: CylinderStandard,
    /// Its capacity in mL.
    pub capacity_ml: Number,
    /// Its class.
    pub class: GlassClass,
    /// How values are spread between the limits; rectangular where nothing is said.
    #[serde(default)]
    pub shape: Shape,
}

/// What a cylinder may be wrong by.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct CylinderTolerance {
    /// ± mL.
    pub tolerance_ml: Number,
    /// The standard uncertainty that it gives, in mL.
    pub standard_uncertainty_ml: Number,
    /// The same in percent of the capacity.
    pub relative_percent: Number,
    /// Where the tolerance comes from.
    pub source: String,
}

/// Capacity in mL, class A tolerance in hundredths of a mL: ASTM E1272-02 (2012), table 1.
const ASTM_CYLINDERS: [(u32, i64); 7] = [
    (5, 5),
    (10, 10),
    (25, 17),
    (50, 25),
    (100, 50),
    (250, 100),
    (500, 200),
];

/// The same for ISO 4788:2005 (from memory).
const ISO_CYLINDERS: [(u32, i64); 7] = [
    (10, 10),
    (25, 25),
    (50, 50),
    (100, 50),
    (250, 100),
    (500, 250),
    (1_000, 500),
];

/// What a standard allows a graduated cylinder.
///
/// # Errors
/// A capacity that the table does not have.
pub fn cylinder(inputs: &CylinderInputs) -> Answer<CylinderTolerance> {
    let name = "capacity of the cylinder";
    let capacity = positive(name, inputs.capacity_ml)?;
    let (table, source): (&[(u32, i64)], _) = match inputs.standard {
        CylinderStandard::AstmE1272 => (&ASTM_CYLINDERS, "ASTM E1272-02 (2012), table 1"),
        CylinderStandard::Iso4788 => (&ISO_CYLINDERS, "ISO 4788:2005 (from memory)"),
    };
    let row = table
        .iter()
        .find(|(size, _)| Decimal::from(*size) == capacity);
    let (_, hundredths) = row.ok_or_else(|| {
        let sizes: Vec<String> = table.iter().map(|(size, _)| size.to_string()).collect();
        out_of_range(name, capacity, format!("one of {} mL", sizes.join(", ")))
    })?;
    let class = Decimal::from(match inputs.class {
        GlassClass::A => 1,
        GlassClass::B => 2,
    });
    let tolerance = times(name, Decimal::new(*hundredths, 2), class)?;
    let standard = Doubt::HalfWidth {
        half_width: Number(tolerance),
        shape: inputs.shape,
        relative: false,
    }
    .standard(name, capacity)?;
    let relative = times(name, over(name, standard, capacity)?, Decimal::ONE_HUNDRED)?;
    Ok(CylinderTolerance {
        tolerance_ml: figures(tolerance),
        standard_uncertainty_ml: figures(standard),
        relative_percent: figures(relative),
        source: source.to_owned(),
    })
}
