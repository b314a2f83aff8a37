//! The law of propagation over lines with sensitivities, degrees of freedom and coverage.
//!
//! Promises u² = Σ (cᵢ uᵢ)² with the share of each line, second-order terms where they are given,
//! effective degrees of freedom by Welch and Satterthwaite, cut to a whole number, and the
//! expanded uncertainty (JCGM 100:2008, 5.1, 6.2 and G.4). Refuses a budget without lines.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use super::coverage::{Coverage, CoverageUsed, effective_degrees_of_freedom, expand, whole};
use super::doubt::Doubt;
use crate::quantity::Number;
use crate::quantity::exact::{
    Answer, at_least, at_most, figures, over, pole, root_of_squares, times,
};
use crate::rounding::Rounding;

/// Most lines that are taken at once.
pub const MOST_LINES: usize = 200;

/// One line of a budget.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct SourceOfDoubt {
    /// Where it comes from.
    pub source: String,
    /// The estimate that a relative doubt is a fraction of; 1 where none is given.
    #[serde(default = "one")]
    pub value: Number,
    /// Its doubt.
    pub doubt: Doubt,
    /// c: how much the result changes with it; 1 where none is given.
    #[serde(default = "one")]
    pub sensitivity: Number,
    /// How well the doubt itself is known; absent: infinitely well.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub degrees_of_freedom: Option<Number>,
}

/// A term of second order: the product of two doubts (GUM 5.1.2, note).
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct SecondOrderTerm {
    /// Where it comes from.
    pub source: String,
    /// What the product is multiplied by.
    pub coefficient: Number,
    /// One standard uncertainty.
    pub first: Number,
    /// The other.
    pub second: Number,
}

/// A budget to be computed.
///
/// ```
/// use domain::uncertainty::budget::{BudgetInputs, budget};
/// // JCGM 100:2008, H.1: the difference of two gauges, 5.8, 3.9 and 6.7 nm.
/// let inputs: BudgetInputs = serde_json::from_str(r#"{"lines":[
///     {"source":"observations","doubt":{"kind":"standard","standard":"5.8"},
///      "degrees_of_freedom":"24"},
///     {"source":"random effects","doubt":{"kind":"standard","standard":"3.9"},
///      "degrees_of_freedom":"5"},
///     {"source":"systematic effects","doubt":{"kind":"standard","standard":"6.7"},
///      "degrees_of_freedom":"8"}]}"#)?;
/// let found = budget(&inputs).unwrap();
/// assert_eq!(found.combined.0.round_dp(1).to_string(), "9.7");
/// assert_eq!(found.whole_degrees_of_freedom, Some(25));
/// let empty: BudgetInputs = serde_json::from_str(r#"{"lines":[]}"#)?;
/// assert_eq!(budget(&empty).unwrap_err().quantity(), "lines of the budget");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct BudgetInputs {
    /// Its lines, independent of one another.
    pub lines: Vec<SourceOfDoubt>,
    /// Terms of second order.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub second_order: Vec<SecondOrderTerm>,
    /// How the combined uncertainty is expanded; k = 2 where nothing is said.
    #[serde(default)]
    pub coverage: Coverage,
    /// Rounds the combined uncertainty before the degrees of freedom are computed from it, as some
    /// printed examples do; absent: nothing is rounded on the way.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub round_combined: Option<Rounding>,
}

const fn one() -> Number {
    Number(Decimal::ONE)
}

/// A line as it came out.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct ComputedLine {
    /// Where it comes from.
    pub source: String,
    /// How its doubt was stated.
    pub stated: String,
    /// Its standard uncertainty, in its own unit.
    pub standard_uncertainty: Number,
    /// How much the result changes with it.
    pub sensitivity: Number,
    /// |c| · u, in the unit of the result.
    pub contribution: Number,
    /// Its share of the combined variance, in percent.
    pub share_percent: Number,
    /// How well it is known; absent: infinitely well.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub degrees_of_freedom: Option<Number>,
}

/// A budget as it came out.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct ComputedBudget {
    /// Its lines, in the order given.
    pub lines: Vec<ComputedLine>,
    /// u, of the first order.
    pub combined: Number,
    /// u with the terms of second order, where there are any.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub combined_with_second_order: Option<Number>,
    /// Effective degrees of freedom (Welch and Satterthwaite); absent: infinite.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub effective_degrees_of_freedom: Option<Number>,
    /// The same cut to a whole number, as the GUM has it (G.4.1).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub whole_degrees_of_freedom: Option<u32>,
    /// What u, with its terms of second order, was expanded to.
    pub coverage: CoverageUsed,
}

/// Computes a budget.
///
/// # Errors
/// No line or too many, a doubt below zero, degrees of freedom of zero, figures too large.
pub fn budget(inputs: &BudgetInputs) -> Answer<ComputedBudget> {
    let name = "lines of the budget";
    at_least(name, inputs.lines.len(), 1)?;
    at_most(name, inputs.lines.len(), MOST_LINES)?;
    at_most(
        "terms of second order",
        inputs.second_order.len(),
        MOST_LINES,
    )?;
    let mut parts = Vec::with_capacity(inputs.lines.len());
    for line in &inputs.lines {
        let standard = line.doubt.standard(&line.source, line.value.0)?;
        parts.push(Part {
            source: line.source.clone(),
            stated: line.doubt.words(),
            standard,
            sensitivity: line.sensitivity.0,
            freedom: line.degrees_of_freedom,
        });
    }
    let mut further = Vec::with_capacity(inputs.second_order.len());
    for term in &inputs.second_order {
        let product = times(&term.source, term.first.0, term.second.0)?;
        further.push(times(&term.source, term.coefficient.0, product)?);
    }
    combine(&parts, &further, inputs.coverage, inputs.round_combined)
}

/// A line ready to be combined, unrounded.
pub(super) struct Part {
    pub(super) source: String,
    pub(super) stated: String,
    pub(super) standard: Decimal,
    pub(super) sensitivity: Decimal,
    pub(super) freedom: Option<Number>,
}

impl Part {
    pub(super) fn contribution(&self) -> Answer<Decimal> {
        times(&self.source, self.sensitivity.abs(), self.standard)
    }
}

/// Combines lines, and terms of second order that are already products.
pub(super) fn combine(
    parts: &[Part],
    further: &[Decimal],
    coverage: Coverage,
    round_combined: Option<Rounding>,
) -> Answer<ComputedBudget> {
    let name = "combined uncertainty";
    let mut contributions = Vec::with_capacity(parts.len());
    for part in parts {
        contributions.push(part.contribution()?);
    }
    let first_order = rounded(root_of_squares(name, &contributions)?, round_combined)?;
    let all: Vec<Decimal> = contributions.iter().chain(further).copied().collect();
    let combined = if further.is_empty() {
        first_order
    } else {
        root_of_squares(name, &all)?
    };
    let mut lines = Vec::with_capacity(parts.len());
    for (part, contribution) in parts.iter().zip(&contributions) {
        lines.push(ComputedLine {
            source: part.source.clone(),
            stated: part.stated.clone(),
            standard_uncertainty: figures(part.standard),
            sensitivity: figures(part.sensitivity),
            contribution: figures(*contribution),
            share_percent: figures(share(*contribution, combined)?),
            degrees_of_freedom: part.freedom,
        });
    }
    let freedoms: Vec<_> = contributions
        .iter()
        .zip(parts)
        .map(|(contribution, part)| (*contribution, part.freedom))
        .collect();
    let effective = effective_degrees_of_freedom(first_order, &freedoms)?;
    Ok(ComputedBudget {
        lines,
        combined: figures(first_order),
        combined_with_second_order: (!further.is_empty()).then(|| figures(combined)),
        effective_degrees_of_freedom: effective.map(figures),
        whole_degrees_of_freedom: effective.and_then(whole),
        coverage: expand(combined, effective, coverage)?,
    })
}

fn rounded(value: Decimal, rule: Option<Rounding>) -> Answer<Decimal> {
    match rule {
        None => Ok(value),
        Some(rule) => rule
            .apply(value)
            .map_err(|error| pole("rounded combined uncertainty", error.to_string())),
    }
}

fn share(contribution: Decimal, combined: Decimal) -> Answer<Decimal> {
    if combined.is_zero() {
        return Ok(Decimal::ZERO);
    }
    let name = "share of a line";
    let part = over(name, contribution, combined)?;
    times(name, times(name, part, part)?, Decimal::ONE_HUNDRED)
}
