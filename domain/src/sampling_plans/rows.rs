//! The table of plans that the crate carries.
//!
//! Promises every row of `sampling_plans.csv` with its bounds read from its own words; refuses a
//! table with a number that is none or an id given twice.

use std::collections::BTreeSet;
use std::sync::LazyLock;

use rust_decimal::Decimal;

use super::increments::Increments;
use crate::quantity::exact::{Answer, pole};
use crate::quantity::{Number, QuantityError, parse_decimal};

const PLANS_CSV: &str = include_str!("../../data/sampling_plans.csv");

/// Why a table of plans was refused.
#[derive(Debug, thiserror::Error)]
pub enum PlanTableError {
    /// No CSV, or a column is missing.
    #[error("the table cannot be read")]
    Unreadable(#[from] csv::Error),
    /// A number that is none.
    #[error("plan \"{plan}\" has a {column} that is none")]
    Number {
        /// The row.
        plan: String,
        /// The column.
        column: &'static str,
        /// Why.
        source: QuantityError,
    },
    /// Two rows of one id.
    #[error("plan \"{0}\" stands in the table twice")]
    Twice(String),
}

/// How a lot is divided.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sublots {
    /// Into so many.
    Count(u32),
    /// Into sublots of so many tonnes.
    Mass(Decimal),
}

/// One row of the table.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PlanRow {
    /// Unique slug.
    pub plan_id: String,
    /// Who wrote the plan: EU, CODEX, US.
    pub authority: String,
    /// What it is for, in words.
    pub commodity: String,
    /// Lower bound of the lot's mass, t; exclusive unless the rule says otherwise.
    pub lot_mass_min_t: Option<Number>,
    /// Upper bound, t; inclusive unless the rule says otherwise.
    pub lot_mass_max_t: Option<Number>,
    /// How many increments.
    pub increments: Increments,
    /// Mass of an increment, about, g.
    pub increment_mass_g: Option<Number>,
    /// Mass of the combined increments, kg.
    pub aggregate_mass_kg: Option<Number>,
    /// Mass of each laboratory sample, kg.
    pub laboratory_sample_mass_kg: Option<Number>,
    /// How many laboratory samples.
    pub laboratory_samples: Option<u32>,
    /// How the lot is divided.
    pub sublots: Option<Sublots>,
    /// How the lot is decided, and what the bounds mean.
    pub decision_rule: String,
    /// The document.
    pub source: String,
    /// `seen`, or `memory`.
    pub confidence: String,
}

#[derive(serde::Deserialize)]
struct Written {
    plan_id: String,
    authority: String,
    commodity: String,
    lot_mass_min_t: String,
    lot_mass_max_t: String,
    increments: String,
    increment_mass_g: String,
    aggregate_mass_kg: String,
    laboratory_sample_mass_kg: String,
    laboratory_samples: String,
    decision_rule: String,
    source: String,
    confidence: String,
}

/// The plans that come with this crate.
///
/// # Errors
/// [`PlanTableError`], naming the row.
///
/// ```
/// let plans = domain::sampling_plans::shipped_plans()?;
/// assert!(plans.iter().any(|plan| plan.plan_id == "eu-2023-cereal-20-100"));
/// # Ok::<(), domain::sampling_plans::PlanTableError>(())
/// ```
pub fn shipped_plans() -> Result<Vec<PlanRow>, PlanTableError> {
    let mut reader = csv::Reader::from_reader(PLANS_CSV.as_bytes());
    let mut seen = BTreeSet::new();
    let mut plans = Vec::new();
    for written in reader.deserialize::<Written>() {
        let written = written?;
        if !seen.insert(written.plan_id.clone()) {
            return Err(PlanTableError::Twice(written.plan_id));
        }
        plans.push(read(written)?);
    }
    Ok(plans)
}

/// The shipped plans, read once.
static SHIPPED: LazyLock<Result<Vec<PlanRow>, PlanTableError>> = LazyLock::new(shipped_plans);

pub(super) fn rows() -> Answer<&'static [PlanRow]> {
    let rows = SHIPPED.as_ref();
    rows.map(Vec::as_slice)
        .map_err(|error| pole("sampling plans", error.to_string()))
}

fn read(written: Written) -> Result<PlanRow, PlanTableError> {
    let number = |column: &'static str, text: &str| {
        if text.is_empty() {
            return Ok(None);
        }
        match parse_decimal(text) {
            Ok(value) => Ok(Some(Number(value))),
            Err(source) => Err(PlanTableError::Number {
                plan: written.plan_id.clone(),
                column,
                source,
            }),
        }
    };
    let samples = number("laboratory_samples", &written.laboratory_samples)?;
    Ok(PlanRow {
        lot_mass_min_t: number("lot_mass_min_t", &written.lot_mass_min_t)?,
        lot_mass_max_t: number("lot_mass_max_t", &written.lot_mass_max_t)?,
        increments: Increments::read(&written.increments),
        increment_mass_g: number("increment_mass_g", &written.increment_mass_g)?,
        aggregate_mass_kg: number("aggregate_mass_kg", &written.aggregate_mass_kg)?,
        laboratory_sample_mass_kg: number(
            "laboratory_sample_mass_kg",
            &written.laboratory_sample_mass_kg,
        )?,
        laboratory_samples: samples.and_then(|samples| u32::try_from(samples.0).ok()),
        sublots: sublots(&written.decision_rule),
        plan_id: written.plan_id,
        authority: written.authority,
        commodity: written.commodity,
        decision_rule: written.decision_rule,
        source: written.source,
        confidence: written.confidence,
    })
}

/// Reads "3 sublots", "one sublot" or "sublots of 100 t" from the words of a rule.
fn sublots(rule: &str) -> Option<Sublots> {
    for phrase in rule.split(';').map(str::trim) {
        let phrase = phrase.strip_prefix("split into ").unwrap_or(phrase);
        if phrase == "one sublot" {
            return Some(Sublots::Count(1));
        }
        let mass = phrase
            .strip_prefix("sublots of ")
            .or_else(|| phrase.strip_prefix("larger lots are split into sublots of "))
            .and_then(|rest| rest.split(' ').next());
        if let Some(mass) = mass.and_then(|mass| parse_decimal(mass).ok()) {
            return Some(Sublots::Mass(mass));
        }
        let mut words = phrase.split(' ');
        if let (Some(count), Some("sublots")) = (words.next(), words.next())
            && let Ok(count) = count.parse()
        {
            return Some(Sublots::Count(count));
        }
    }
    None
}

impl PlanRow {
    /// Whether it is a row for a range of masses of a family: the family's id, then a mass or
    /// `sublot`.
    pub(super) fn is_range_of(&self, family: &str) -> bool {
        let rest = self
            .plan_id
            .strip_prefix(family)
            .and_then(|rest| rest.strip_prefix('-'));
        let ranged = self.lot_mass_min_t.is_some() || self.lot_mass_max_t.is_some();
        ranged
            && rest.is_some_and(|rest| {
                rest.starts_with("sublot-")
                    || rest.starts_with(|first: char| first.is_ascii_digit())
            })
    }

    /// Whether a mass in tonnes falls into it.
    pub(super) fn holds(&self, mass: Decimal) -> bool {
        let says = |words: &str| {
            self.decision_rule
                .split(';')
                .any(|phrase| phrase.trim() == words)
        };
        let both = says("both bounds inclusive");
        let lower_included = both || says("lower bound inclusive");
        let upper_included = both || !says("upper bound exclusive");
        let above = self
            .lot_mass_min_t
            .is_none_or(|least| mass > least.0 || (lower_included && mass == least.0));
        let below = self.lot_mass_max_t.is_none_or(|most| {
            mass < most.0 || (upper_included && mass == most.0) || self.splits_larger()
        });
        above && below
    }

    /// Whether lots above the bound are split and sampled by the same row.
    fn splits_larger(&self) -> bool {
        self.decision_rule
            .contains("larger lots are split into sublots")
    }
}
