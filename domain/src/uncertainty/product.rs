//! Uncertainty of a product of powers, such as c = 1000 · m · P / V.
//!
//! Promises (u/y)² = Σ (pᵢ uᵢ/xᵢ)² with every doubt as a line of its own (JCGM 100:2008, 5.1.6;
//! QUAM:2012.P1, 8.2.6). Refuses a factor of zero, whose relative uncertainty has no value.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use super::budget::{ComputedBudget, MOST_LINES, Part, combine};
use super::coverage::Coverage;
use super::doubt::Doubt;
use crate::quantity::Number;
use crate::quantity::exact::{
    Answer, at_least, at_most, figures, out_of_range, over, pole, power, root_of_squares, times,
};
use crate::rounding::Rounding;

/// Largest power of a factor, on either side.
pub const MOST_POWER: i32 = 12;

/// One factor of the product, with all its doubts.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct ProductFactor {
    /// What it is called.
    pub name: String,
    /// Its value, not zero.
    pub value: Number,
    /// Its power: 1 where none is given, -1 below the line of a fraction.
    #[serde(default = "one")]
    pub power: i32,
    /// Its doubts, independent of one another; none: it is exact.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub doubts: Vec<NamedDoubt>,
}

/// A doubt with its source.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct NamedDoubt {
    /// Where it comes from.
    pub source: String,
    /// How it is stated.
    pub doubt: Doubt,
    /// How well it is known; absent: infinitely well.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub degrees_of_freedom: Option<Number>,
    /// Where the figure is from, such as a standard's table; it is shown beside it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub basis: Option<String>,
}

impl NamedDoubt {
    /// How it was stated, in words, and where the figure is from.
    #[must_use]
    pub fn words(&self) -> String {
        match &self.basis {
            Some(basis) => format!("{}; {basis}", self.doubt.words()),
            None => self.doubt.words(),
        }
    }
}

const fn one() -> i32 {
    1
}

const fn unit() -> Number {
    Number(Decimal::ONE)
}

/// A product whose uncertainty is asked for.
///
/// ```
/// use domain::uncertainty::product::{ProductInputs, product};
/// let inputs: ProductInputs = serde_json::from_str(r#"{"factors":[
///     {"name":"found","value":"8.4","doubts":[
///         {"source":"found","doubt":{"kind":"standard","standard":"0.6"}}]},
///     {"name":"recovery","value":"0.84","power":-1,"doubts":[
///         {"source":"recovery","doubt":{"kind":"standard","standard":"0.03"}}]}]}"#)?;
/// let found = product(&inputs).unwrap();
/// assert_eq!(found.value.to_string(), "10");
/// assert_eq!(found.budget.combined.0.round_dp(3).to_string(), "0.799");
/// let nothing = serde_json::from_str(r#"{"factors":[{"name":"found","value":"0"}]}"#)?;
/// assert_eq!(product(&nothing).unwrap_err().quantity(), "found");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct ProductInputs {
    /// An exact constant that the product is multiplied by; 1 where none is given.
    #[serde(default = "unit")]
    pub constant: Number,
    /// The factors.
    pub factors: Vec<ProductFactor>,
    /// How the combined uncertainty is expanded; k = 2 where nothing is said.
    #[serde(default)]
    pub coverage: Coverage,
    /// Rounds the uncertainty of each factor before they are combined, as some printed examples
    /// do; absent: nothing is rounded on the way.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub round_parts: Option<Rounding>,
}

/// One factor as it came out.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct ComputedFactor {
    /// What it is called.
    pub name: String,
    /// Its value.
    pub value: Number,
    /// Its power.
    pub power: i32,
    /// Its standard uncertainty, of all its doubts, in its own unit.
    pub standard_uncertainty: Number,
    /// The same as a fraction of its value.
    pub relative: Number,
}

/// A product as it came out.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct ComputedProduct {
    /// Its value.
    pub value: Number,
    /// Its factors.
    pub factors: Vec<ComputedFactor>,
    /// Every doubt as a line, in the unit of the product.
    pub budget: ComputedBudget,
    /// u as a fraction of the value.
    pub relative: Number,
    /// u where the uncertainty of each factor is rounded first, where that was asked for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from_rounded_parts: Option<Number>,
}

/// Computes a product of powers and its uncertainty.
///
/// # Errors
/// No factor or too many, a factor of zero, a power beyond [`MOST_POWER`], a doubt below zero.
pub fn product(inputs: &ProductInputs) -> Answer<ComputedProduct> {
    at_least("factors", inputs.factors.len(), 1)?;
    at_most("factors", inputs.factors.len(), MOST_LINES)?;
    let value = value_of(inputs)?;
    if value.is_zero() {
        return Err(pole(
            "product",
            "it is zero, so that it has no relative uncertainty",
        ));
    }
    let mut parts = Vec::new();
    let mut factors = Vec::with_capacity(inputs.factors.len());
    let mut rounded = Vec::with_capacity(inputs.factors.len());
    for factor in &inputs.factors {
        let name = &factor.name;
        let power = Decimal::from(factor.power);
        let sensitivity = times(name, power, over(name, value, factor.value.0)?)?;
        let mut own = Vec::with_capacity(factor.doubts.len());
        for doubt in &factor.doubts {
            let standard = doubt.doubt.standard(&doubt.source, factor.value.0)?;
            own.push(standard);
            parts.push(Part {
                source: doubt.source.clone(),
                stated: doubt.words(),
                standard,
                sensitivity,
                freedom: doubt.degrees_of_freedom,
            });
        }
        let standard = root_of_squares(name, &own)?;
        rounded.push(match inputs.round_parts {
            Some(rule) => {
                let shown = rule
                    .apply(standard)
                    .map_err(|error| pole(name, error.to_string()))?;
                times(name, sensitivity, shown)?
            }
            None => Decimal::ZERO,
        });
        factors.push(ComputedFactor {
            name: name.clone(),
            value: factor.value,
            power: factor.power,
            standard_uncertainty: figures(standard),
            relative: figures(over(name, standard, factor.value.0.abs())?),
        });
    }
    at_most("doubts", parts.len(), MOST_LINES)?;
    let budget = combine(&parts, &[], inputs.coverage, None)?;
    let combined = root_of_squares(
        "combined uncertainty",
        &parts
            .iter()
            .map(Part::contribution)
            .collect::<Answer<Vec<_>>>()?,
    )?;
    let from_rounded_parts = match inputs.round_parts {
        Some(_) => Some(figures(root_of_squares("rounded parts", &rounded)?)),
        None => None,
    };
    Ok(ComputedProduct {
        value: figures(value),
        factors,
        relative: figures(over("relative uncertainty", combined, value.abs())?),
        budget,
        from_rounded_parts,
    })
}

fn value_of(inputs: &ProductInputs) -> Answer<Decimal> {
    // Powers above the line first: 1/3 · 3 would otherwise be cut on the way.
    let (mut above, mut below) = (inputs.constant.0, Decimal::ONE);
    for factor in &inputs.factors {
        let name = &factor.name;
        if factor.value.0.is_zero() {
            return Err(out_of_range(name, factor.value, "other than 0"));
        }
        if factor.power.abs() > MOST_POWER {
            let name = format!("power of {name}");
            return Err(out_of_range(
                &name,
                factor.power,
                format!("from -{MOST_POWER} to {MOST_POWER}"),
            ));
        }
        let size = power(name, factor.value.0, factor.power.abs())?;
        if factor.power < 0 {
            below = times("product", below, size)?;
        } else {
            above = times("product", above, size)?;
        }
    }
    over("product", above, below)
}
