//! Control materials: what a control run is compared with.
//!
//! Promises an assigned value with its uncertainty and a window for each analyte; refuses a window
//! upside down or one that leaves the assigned value out, and a material without an analyte.

use chrono::NaiveDate;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use crate::analytes::Analyte;
use crate::entries;
use crate::faults::Faults;
use crate::quantity::{Concentration, Number};

/// A control material; it has no personal data.
pub const DISCLOSED: &[&str] = &[];

/// A control material.
///
/// ```
/// use domain::control_materials::ControlMaterial;
/// let material: ControlMaterial = serde_json::from_str(
///     r#"{"code":"CM-1","name":"maize, naturally contaminated","commodity":"maize-grain",
///         "lot":"2026-A","analytes":[{"analyte":"deoxynivalenol","assigned_value":"1000",
///         "lower":"800","upper":"1200"}],"expires_on":"2027-01-31","stock_g":"400"}"#)?;
/// assert!(material.check().is_ok());
/// assert!(material.draw("500".parse()?).is_err(), "more than is left");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct ControlMaterial {
    /// Unique in the laboratory.
    pub code: String,
    /// What it is.
    pub name: String,
    /// A word of the vocabulary of commodities.
    pub commodity: String,
    /// Its lot.
    pub lot: String,
    /// What is assigned to it.
    pub analytes: Vec<AssignedValue>,
    /// Last day it may be used.
    pub expires_on: NaiveDate,
    /// Mass that is left, in g.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stock_g: Option<Number>,
}

/// What is assigned to a control material for one analyte; all in µg/kg.
///
/// ```
/// use domain::control_materials::AssignedValue;
/// let assigned: AssignedValue = serde_json::from_str(
///     r#"{"analyte":"deoxynivalenol","assigned_value":"1000","lower":"1200","upper":"800"}"#)?;
/// assert!(assigned.check().is_err(), "the window is upside down");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct AssignedValue {
    /// Of what.
    pub analyte: Analyte,
    /// The value.
    pub assigned_value: Concentration,
    /// Its expanded uncertainty.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub expanded_uncertainty: Option<Concentration>,
    /// The factor it was expanded with.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub coverage_factor: Option<Number>,
    /// Standard deviation of single control runs, from earlier ones; it judges them by rules.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub standard_deviation: Option<Concentration>,
    /// A control run below this is out.
    pub lower: Concentration,
    /// A control run above this is out.
    pub upper: Concentration,
}

/// Why no control is taken from a material.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum StockError {
    /// More is asked for than is left.
    #[error("{asked_g} g is more than the {left_g} g that are left of control material {code}")]
    NotEnough {
        /// Its code.
        code: String,
        /// Mass asked for, in g.
        asked_g: Number,
        /// Mass left, in g.
        left_g: Number,
    },
    /// The mass is not above zero.
    #[error("{0} g is no mass that can be taken")]
    NoMass(Number),
}

impl AssignedValue {
    /// Gathers what is wrong with it.
    ///
    /// # Errors
    /// Every fault, with its pointer.
    pub fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        let zero = Concentration::from_ug_per_kg(Decimal::ZERO);
        faults.require(self.assigned_value >= zero, "/assigned_value", || {
            format!("{} µg/kg is below zero", self.assigned_value)
        });
        faults.require(self.lower <= self.assigned_value, "/lower", || {
            format!("{} µg/kg lies above the assigned value", self.lower)
        });
        faults.require(self.upper >= self.assigned_value, "/upper", || {
            format!("{} µg/kg lies below the assigned value", self.upper)
        });
        let deviation = self.standard_deviation.map(|s| Number(s.ug_per_kg()));
        entries::positive(&mut faults, "/standard_deviation", deviation, "µg/kg");
        let uncertainty = self.expanded_uncertainty.map(|u| Number(u.ug_per_kg()));
        entries::positive(&mut faults, "/expanded_uncertainty", uncertainty, "µg/kg");
        entries::positive(&mut faults, "/coverage_factor", self.coverage_factor, "");
        faults.require(
            self.expanded_uncertainty.is_some() || self.coverage_factor.is_none(),
            "/expanded_uncertainty",
            || "a coverage factor without the uncertainty that it expanded".into(),
        );
        faults.into_result()
    }
}

impl ControlMaterial {
    /// Gathers what is wrong with the material.
    ///
    /// # Errors
    /// Every fault, with its pointer.
    pub fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        entries::code(&mut faults, "/code", &self.code);
        entries::text(&mut faults, "/name", &self.name, entries::NAME_LENGTH);
        entries::slug(&mut faults, "/commodity", &self.commodity);
        entries::text(&mut faults, "/lot", &self.lot, entries::CODE_LENGTH);
        faults.require(!self.analytes.is_empty(), "/analytes", || {
            "give at least one assigned value".into()
        });
        for (position, assigned) in self.analytes.iter().enumerate() {
            faults.nest(&format!("/analytes/{position}"), assigned.check());
        }
        let analytes: Vec<Analyte> = self.analytes.iter().map(|one| one.analyte).collect();
        entries::distinct(&mut faults, "/analytes", &analytes);
        let stock = self.stock_g.is_none_or(|stock| stock.0 >= Decimal::ZERO);
        faults.require(stock, "/stock_g", || "is below zero".into());
        faults.into_result()
    }

    /// What is assigned for one analyte.
    #[must_use]
    pub fn assigned(&self, analyte: Analyte) -> Option<&AssignedValue> {
        self.analytes.iter().find(|one| one.analyte == analyte)
    }

    /// The material after a mass in g was taken; where its stock is not kept, it stays as it is.
    ///
    /// # Errors
    /// [`StockError`].
    pub fn draw(&self, mass_g: Number) -> Result<Self, StockError> {
        if mass_g.0 <= Decimal::ZERO {
            return Err(StockError::NoMass(mass_g));
        }
        let mut next = self.clone();
        if let Some(left_g) = self.stock_g {
            match left_g.0.checked_sub(mass_g.0) {
                Some(left) if left >= Decimal::ZERO => next.stock_g = Some(Number(left)),
                Some(_) | None => {
                    return Err(StockError::NotEnough {
                        code: self.code.clone(),
                        asked_g: mass_g,
                        left_g,
                    });
                }
            }
        }
        Ok(next)
    }
}
