//! The limits that come with this crate, all of them proposed.
//!
//! Promises each row of `domain/data/limits.csv` with its rows of `limit_scope.csv`; refuses a
//! table with an unknown word, a number that is none, or a scope for a limit that is not there.

use std::collections::BTreeMap;

use crate::analytes::{Analyte, UnknownAnalyte};
use crate::quantity::{Concentration, QuantityError, Unit, parse_decimal};

use super::{
    Authority, AuthorityKind, Basis, Comparison, Confidence, Limit, LimitError, LimitState,
    PartialDate, PartialDateError, Scope,
};

const LIMITS_CSV: &str = include_str!("../../data/limits.csv");
const SCOPE_CSV: &str = include_str!("../../data/limit_scope.csv");

/// Why a table of limits was refused.
#[derive(Debug, thiserror::Error)]
pub enum SeedError {
    /// No CSV, or a column is missing.
    #[error("the table cannot be read")]
    Unreadable(#[from] csv::Error),
    /// A word that the column does not know.
    #[error("limit \"{id}\": \"{word}\" is no {column}")]
    UnknownWord {
        /// The limit.
        id: String,
        /// The column.
        column: &'static str,
        /// What stands there.
        word: String,
    },
    /// An analyte that is not known.
    #[error("limit \"{id}\" has no analyte")]
    Analyte {
        /// The limit.
        id: String,
        /// Why.
        source: UnknownAnalyte,
    },
    /// A number or unit that is none.
    #[error("limit \"{id}\" has no value")]
    Value {
        /// The limit.
        id: String,
        /// Why.
        source: QuantityError,
    },
    /// A date that is none.
    #[error("limit \"{id}\" has a date that is none")]
    Date {
        /// The limit.
        id: String,
        /// Why.
        source: PartialDateError,
    },
    /// A jurisdiction that is none.
    #[error("limit \"{id}\" has no jurisdiction")]
    Jurisdiction {
        /// The limit.
        id: String,
        /// Why.
        source: LimitError,
    },
    /// Two rows of one id.
    #[error("limit \"{0}\" stands in the table twice")]
    Twice(String),
    /// Scope and limits do not match.
    #[error("limit \"{0}\" has a scope but no row, or a row but no scope")]
    Unmatched(String),
}

#[derive(serde::Deserialize)]
struct LimitRow {
    limit_id: String,
    jurisdiction: String,
    authority_kind: String,
    analyte: String,
    commodity: String,
    intended_use: String,
    value: String,
    unit: String,
    basis: String,
    comparison: String,
    effective_from: String,
    effective_to: String,
    source: String,
    seen: String,
    confidence: String,
}

#[derive(serde::Deserialize)]
struct ScopeRow {
    limit_id: String,
    commodities: String,
    commodities_except: String,
    uses: String,
    uses_except: String,
    from: String,
    to: String,
    condition: String,
    note: String,
}

/// The limits of `domain/data/`, all proposed, in the order of the table.
///
/// # Errors
/// [`SeedError`]; a test shows that the shipped tables give none.
///
/// ```
/// use domain::limits::{shipped_limits, LimitState};
/// let limits = shipped_limits()?;
/// assert!(limits.iter().all(|limit| limit.state == LimitState::Proposed));
/// # Ok::<(), domain::limits::SeedError>(())
/// ```
pub fn shipped_limits() -> Result<Vec<Limit>, SeedError> {
    parse_limits(LIMITS_CSV, SCOPE_CSV)
}

/// Reads a table of limits and the table of what they cover.
///
/// # Errors
/// [`SeedError`], naming the limit.
///
/// ```
/// use domain::limits::{parse_limits, SeedError};
/// let scope = "limit_id,commodities,commodities_except,uses,uses_except,from,to,condition,note\n\
///              ours,maize,,food,,,,,\n";
/// let none = "limit_id,jurisdiction,authority_kind,analyte,commodity,intended_use,value,unit,\
///             basis,comparison,effective_from,effective_to,source,seen,confidence\n";
/// assert!(matches!(parse_limits(none, scope), Err(SeedError::Unmatched(_))));
/// ```
pub fn parse_limits(limits: &str, scope: &str) -> Result<Vec<Limit>, SeedError> {
    let mut scopes: BTreeMap<String, Vec<Scope>> = BTreeMap::new();
    for row in csv::Reader::from_reader(scope.as_bytes()).deserialize::<ScopeRow>() {
        let row = row?;
        let id = row.limit_id.clone();
        scopes.entry(id).or_default().push(read_scope(row)?);
    }
    let mut found: Vec<Limit> = Vec::new();
    let mut seen = std::collections::BTreeSet::new();
    for row in csv::Reader::from_reader(limits.as_bytes()).deserialize::<LimitRow>() {
        let row = row?;
        if !seen.insert(row.limit_id.clone()) {
            return Err(SeedError::Twice(row.limit_id));
        }
        let Some(scopes) = scopes.remove(&row.limit_id) else {
            return Err(SeedError::Unmatched(row.limit_id));
        };
        found.push(read_limit(row, scopes)?);
    }
    match scopes.into_keys().next() {
        Some(id) => Err(SeedError::Unmatched(id)),
        None => Ok(found),
    }
}

fn read_limit(row: LimitRow, scopes: Vec<Scope>) -> Result<Limit, SeedError> {
    let id = row.limit_id;
    let unit: Unit = row.unit.parse().map_err(|source| SeedError::Value {
        id: id.clone(),
        source,
    })?;
    let value = parse_decimal(&row.value)
        .and_then(|value| Concentration::new(value, unit))
        .map_err(|source| SeedError::Value {
            id: id.clone(),
            source,
        })?;
    let authority = Authority::Law {
        jurisdiction: row
            .jurisdiction
            .parse()
            .map_err(|source| SeedError::Jurisdiction {
                id: id.clone(),
                source,
            })?,
        authority_kind: read_authority_kind(&id, &row.authority_kind)?,
    };
    let analyte: Analyte = row.analyte.parse().map_err(|source| SeedError::Analyte {
        id: id.clone(),
        source,
    })?;
    let comparison = match row.comparison.as_str() {
        "exceeds" => Comparison::Exceeds,
        "at-or-above" => Comparison::AtOrAbove,
        word => return Err(unknown(&id, "comparison", word)),
    };
    let confidence = match row.confidence.as_str() {
        "seen" => Confidence::Seen,
        "memory" => Confidence::Memory,
        word => return Err(unknown(&id, "confidence", word)),
    };
    Ok(Limit {
        authority,
        analyte,
        commodity: row.commodity,
        intended_use: row.intended_use,
        value,
        basis: Basis::from(row.basis),
        comparison,
        effective_from: read_date(&id, &row.effective_from)?,
        effective_to: read_date(&id, &row.effective_to)?,
        source: row.source,
        seen: row.seen,
        confidence,
        scopes,
        state: LimitState::Proposed,
        adoption: None,
        retired_on: None,
        id,
    })
}

fn read_authority_kind(id: &str, word: &str) -> Result<AuthorityKind, SeedError> {
    [
        AuthorityKind::ActionLevel,
        AuthorityKind::GuidanceLevel,
        AuthorityKind::AdvisoryLevel,
        AuthorityKind::MaximumLevel,
        AuthorityKind::GuidanceValue,
    ]
    .into_iter()
    .find(|kind| kind.name() == word)
    .ok_or_else(|| unknown(id, "kind of authority", word))
}

fn read_scope(row: ScopeRow) -> Result<Scope, SeedError> {
    let ids = |text: &str| text.split_whitespace().map(str::to_owned).collect();
    Ok(Scope {
        commodities: ids(&row.commodities),
        commodities_except: ids(&row.commodities_except),
        uses: ids(&row.uses),
        uses_except: ids(&row.uses_except),
        from: read_date(&row.limit_id, &row.from)?,
        to: read_date(&row.limit_id, &row.to)?,
        condition: Some(row.condition).filter(|condition| !condition.is_empty()),
        note: row.note,
    })
}

fn read_date(id: &str, text: &str) -> Result<Option<PartialDate>, SeedError> {
    if text.is_empty() {
        return Ok(None);
    }
    text.parse().map(Some).map_err(|source| SeedError::Date {
        id: id.to_owned(),
        source,
    })
}

fn unknown(id: &str, column: &'static str, word: &str) -> SeedError {
    SeedError::UnknownWord {
        id: id.to_owned(),
        column,
        word: word.chars().take(60).collect(),
    }
}
