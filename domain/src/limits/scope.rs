//! Which limits a lot meets, and why.
//!
//! Promises every limit whose authority, analyte, dates, goods and uses fit, conditional ones
//! included, sorted by id: nothing more specific wins, because exceptions are written out.
//! Refuses goods and uses that the vocabulary does not have.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use crate::analytes::Analyte;
use crate::commodities::Vocabulary;
use crate::id::{CustomerId, SiteId};

use super::{Authority, Jurisdiction, Limit, Scope, lies_within};

/// A lot and a use, asked of the law of one jurisdiction.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Query {
    /// Whose law.
    pub jurisdiction: Jurisdiction,
    /// What was measured.
    pub analyte: Analyte,
    /// What the good is known to be.
    pub commodity: String,
    /// What it is meant for.
    pub intended_use: String,
    /// The lot's governing date.
    pub date: NaiveDate,
}

/// A lot and a use, asked of contracts and of the intake's own levels.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OwnQuery {
    /// The lot's parties.
    pub parties: Vec<CustomerId>,
    /// Where it arrived.
    pub site: Option<SiteId>,
    /// What was measured.
    pub analyte: Analyte,
    /// What the good is known to be.
    pub commodity: String,
    /// What it is meant for.
    pub intended_use: String,
    /// The lot's governing date.
    pub date: NaiveDate,
}

/// Why no limits can be found.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum QueryError {
    /// A commodity that the vocabulary does not have.
    #[error("commodity \"{0}\" is not in the vocabulary")]
    UnknownCommodity(String),
    /// A use that the vocabulary does not have.
    #[error("use \"{0}\" is not in the vocabulary")]
    UnknownUse(String),
}

/// Conditions that somebody recorded: limit id, and whether its condition is met.
pub type ConditionFacts = BTreeMap<String, bool>;

/// Where the condition of a limit stands for one lot.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "state", content = "condition", rename_all = "kebab-case")]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub enum ConditionState {
    /// The limit has none here.
    None,
    /// Recorded as met: the limit decides.
    Met(String),
    /// Recorded as not met: the limit does not apply.
    NotMet(String),
    /// Nobody has recorded it.
    Unknown(String),
}

/// A limit that applies to a lot.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Applied<'a> {
    /// The limit.
    pub limit: &'a Limit,
    /// Why, as a sentence.
    pub why: String,
    /// The fact that it depends on; none where it applies outright.
    pub condition: Option<String>,
}

impl Applied<'_> {
    /// Where the condition stands, given what was recorded.
    #[must_use]
    pub fn condition_state(&self, facts: &ConditionFacts) -> ConditionState {
        match &self.condition {
            None => ConditionState::None,
            Some(condition) => match facts.get(&self.limit.id) {
                Some(true) => ConditionState::Met(condition.clone()),
                Some(false) => ConditionState::NotMet(condition.clone()),
                None => ConditionState::Unknown(condition.clone()),
            },
        }
    }
}

/// The limits of law for exactly the analyte that was asked for, proposed, adopted and retired.
///
/// # Errors
/// [`QueryError`] for goods or uses that the vocabulary does not have.
///
/// ```
/// use domain::analytes::Analyte;
/// use domain::commodities::Vocabulary;
/// use domain::limits::{applicable, shipped_limits, Query, QueryError};
/// let (vocabulary, limits) = (Vocabulary::shipped()?, shipped_limits()?);
/// let mut query = Query {
///     jurisdiction: "EU".parse()?,
///     analyte: Analyte::AflatoxinB1,
///     commodity: "maize-grain".into(),
///     intended_use: "food-sorting".into(),
///     date: "2026-03-01".parse()?,
/// };
/// let applied = applicable(&limits, &vocabulary, &query)?;
/// assert_eq!(applied[0].limit.id, "eu-food-maize-rice-sorting-afb1");
/// query.commodity = "corn".into();
/// let refusal = applicable(&limits, &vocabulary, &query);
/// assert_eq!(refusal, Err(QueryError::UnknownCommodity("corn".into())));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn applicable<'a>(
    limits: &'a [Limit],
    vocabulary: &Vocabulary,
    query: &Query,
) -> Result<Vec<Applied<'a>>, QueryError> {
    find(limits, vocabulary, &lot_of(query), |limit| {
        is_law_of(limit, &query.jurisdiction) && limit.analyte == query.analyte
    })
}

/// The limits of law on which a result for the analyte bears: its own, and those for a sum that
/// contains it or for a part of it.
///
/// # Errors
/// [`QueryError`] for goods or uses that the vocabulary does not have.
///
/// ```
/// use domain::analytes::Analyte;
/// use domain::commodities::Vocabulary;
/// use domain::limits::{applicable_bearing, shipped_limits, Query};
/// let (vocabulary, limits) = (Vocabulary::shipped()?, shipped_limits()?);
/// let query = Query {
///     jurisdiction: "EU".parse()?,
///     analyte: Analyte::AflatoxinTotal,
///     commodity: "maize-grain".into(),
///     intended_use: "food-sorting".into(),
///     date: "2026-03-01".parse()?,
/// };
/// assert_eq!(applicable_bearing(&limits, &vocabulary, &query)?.len(), 2);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn applicable_bearing<'a>(
    limits: &'a [Limit],
    vocabulary: &Vocabulary,
    query: &Query,
) -> Result<Vec<Applied<'a>>, QueryError> {
    find(limits, vocabulary, &lot_of(query), |limit| {
        is_law_of(limit, &query.jurisdiction) && query.analyte.bears_on(limit.analyte)
    })
}

/// The limits of the lot's contracts and of the intake on which a result for the analyte bears.
///
/// A contract binds a lot of which all its parties are parties.
///
/// # Errors
/// [`QueryError`] for goods or uses that the vocabulary does not have.
pub fn applicable_own<'a>(
    limits: &'a [Limit],
    vocabulary: &Vocabulary,
    query: &OwnQuery,
) -> Result<Vec<Applied<'a>>, QueryError> {
    let lot = Lot {
        commodity: &query.commodity,
        intended_use: &query.intended_use,
        date: query.date,
    };
    find(limits, vocabulary, &lot, |limit| {
        query.analyte.bears_on(limit.analyte)
            && match &limit.authority {
                Authority::Law { .. } => false,
                Authority::Contract { parties, .. } => {
                    !parties.is_empty() && parties.iter().all(|one| query.parties.contains(one))
                }
                Authority::Intake { site } => site.is_none() || *site == query.site,
            }
    })
}

impl Limit {
    /// Whether some row of the limit covers the good and the use, on whatever day; what is not
    /// asked for fits.
    ///
    /// ```
    /// use domain::{commodities::Vocabulary, limits::shipped_limits};
    /// let (vocabulary, limits) = (Vocabulary::shipped()?, shipped_limits()?);
    /// let sorting = "eu-food-maize-rice-sorting-afb1";
    /// let limit = limits.iter().find(|limit| limit.id == sorting).ok_or("not there")?;
    /// assert!(limit.covers(&vocabulary, Some("maize-grain"), None));
    /// assert!(!limit.covers(&vocabulary, Some("wheat-grain"), Some("food-sorting")));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn covers(
        &self,
        vocabulary: &Vocabulary,
        commodity: Option<&str>,
        intended_use: Option<&str>,
    ) -> bool {
        let (goods, uses) = (&vocabulary.commodities, &vocabulary.uses);
        self.scopes.iter().any(|scope| {
            commodity.is_none_or(|id| {
                goods.first_above(id, &scope.commodities).is_some()
                    && goods.first_above(id, &scope.commodities_except).is_none()
            }) && intended_use.is_none_or(|id| {
                uses.first_above(id, &scope.uses).is_some()
                    && uses.first_above(id, &scope.uses_except).is_none()
            })
        })
    }
}

/// What a scope is compared with.
struct Lot<'q> {
    commodity: &'q str,
    intended_use: &'q str,
    date: NaiveDate,
}

fn lot_of(query: &Query) -> Lot<'_> {
    Lot {
        commodity: &query.commodity,
        intended_use: &query.intended_use,
        date: query.date,
    }
}

fn is_law_of(limit: &Limit, asked: &Jurisdiction) -> bool {
    matches!(&limit.authority, Authority::Law { jurisdiction, .. } if jurisdiction == asked)
}

fn find<'a>(
    limits: &'a [Limit],
    vocabulary: &Vocabulary,
    lot: &Lot<'_>,
    concerns: impl Fn(&Limit) -> bool,
) -> Result<Vec<Applied<'a>>, QueryError> {
    if vocabulary.commodities.entry(lot.commodity).is_none() {
        return Err(QueryError::UnknownCommodity(
            lot.commodity.chars().take(80).collect(),
        ));
    }
    if vocabulary.uses.entry(lot.intended_use).is_none() {
        return Err(QueryError::UnknownUse(
            lot.intended_use.chars().take(80).collect(),
        ));
    }
    let mut found: Vec<_> = limits
        .iter()
        .filter(|limit| concerns(limit))
        .filter(|limit| lies_within(lot.date, limit.effective_from, limit.effective_to))
        .filter_map(|limit| apply(limit, vocabulary, lot))
        .collect();
    found.sort_by(|one, other| one.limit.id.cmp(&other.limit.id));
    Ok(found)
}

/// Of the rows that cover the lot, one without a condition counts before one with.
fn apply<'a>(limit: &'a Limit, vocabulary: &Vocabulary, lot: &Lot<'_>) -> Option<Applied<'a>> {
    limit
        .scopes
        .iter()
        .filter_map(|scope| {
            let (good, purpose) = covers(scope, vocabulary, lot)?;
            Some((scope, why(limit, scope, vocabulary, lot, good, purpose)))
        })
        .min_by_key(|(scope, _)| scope.condition.is_some())
        .map(|(scope, why)| Applied {
            limit,
            why,
            condition: scope.condition.clone(),
        })
}

/// The commodity and the use of the row under which the lot falls.
fn covers<'s>(
    scope: &'s Scope,
    vocabulary: &Vocabulary,
    lot: &Lot<'_>,
) -> Option<(&'s str, &'s str)> {
    let (goods, uses) = (&vocabulary.commodities, &vocabulary.uses);
    if !lies_within(lot.date, scope.from, scope.to)
        || goods
            .first_above(lot.commodity, &scope.commodities_except)
            .is_some()
        || uses
            .first_above(lot.intended_use, &scope.uses_except)
            .is_some()
    {
        return None;
    }
    let good = goods.first_above(lot.commodity, &scope.commodities)?;
    Some((good, uses.first_above(lot.intended_use, &scope.uses)?))
}

fn why(
    limit: &Limit,
    scope: &Scope,
    vocabulary: &Vocabulary,
    lot: &Lot<'_>,
    good: &str,
    purpose: &str,
) -> String {
    let under = |graph: &crate::commodities::Graph, id: &str, above: &str| {
        let name = |id: &str| {
            graph
                .entry(id)
                .map_or_else(|| id.to_owned(), |e| e.name.clone())
        };
        if id == above {
            format!("\"{}\" is named", name(id))
        } else {
            format!("\"{}\" falls under \"{}\"", name(id), name(above))
        }
    };
    let mut text = format!(
        "{}; {}",
        under(&vocabulary.commodities, lot.commodity, good),
        under(&vocabulary.uses, lot.intended_use, purpose),
    );
    text.push_str(&match (limit.effective_from, limit.effective_to) {
        (None, None) => format!("; no dates are known, so it holds on {}", lot.date),
        (Some(from), None) => format!("; in force since {from}"),
        (None, Some(to)) => format!("; in force until {to}"),
        (Some(from), Some(to)) => format!("; in force from {from} to {to}"),
    });
    if let Some(condition) = &scope.condition {
        text.push_str("; only if ");
        text.push_str(&condition.replace('-', " "));
    }
    text
}
