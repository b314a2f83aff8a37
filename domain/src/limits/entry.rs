//! A limit as somebody enters it: of a contract, of the intake, or of a law that is not shipped.
//!
//! Promises a proposed limit of what was entered; refuses, field by field, what no limit can be.

use serde::{Deserialize, Serialize};

use crate::analytes::Analyte;
use crate::commodities::Vocabulary;
use crate::entries;
use crate::faults::Faults;
use crate::quantity::Concentration;

use super::{
    Authority, Basis, Comparison, Confidence, Limit, LimitError, LimitState, PartialDate, Scope,
};

/// A limit, as it is proposed by hand.
///
/// ```
/// use domain::{commodities::Vocabulary, limits::{LimitEntry, LimitState}};
/// let vocabulary = Vocabulary::shipped()?;
/// let entry = |value: &str| serde_json::from_value::<LimitEntry>(serde_json::json!({
///     "code": "intake-don", "authority": {"kind": "intake"}, "analyte": "deoxynivalenol",
///     "commodity": "wheat", "intended_use": "flour milling", "value": value, "basis": "as-is",
///     "comparison": "exceeds", "source": "Intake rules, section 4",
///     "scopes": [{"commodities": ["wheat-grain"], "uses": ["food"]}],
/// }));
/// assert!(entry("900")?.check(&vocabulary).is_ok());
/// assert_eq!(entry("900")?.into_limit().state, LimitState::Proposed);
/// let faults = entry("-1")?.check(&vocabulary).err().ok_or("taken")?;
/// assert_eq!(faults.0[0].pointer, "/value");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct LimitEntry {
    /// A slug of your own: lower-case letters, digits and hyphens. It never changes.
    #[cfg_attr(feature = "openapi", schema(example = "hollow-mill-wheat-don"))]
    pub code: String,
    /// Who set it.
    pub authority: Authority,
    /// On what.
    pub analyte: Analyte,
    /// The goods, in the words of the source.
    pub commodity: String,
    /// The use, in the words of the source.
    pub intended_use: String,
    /// The number, µg/kg.
    pub value: Concentration,
    /// On what basis the number stands.
    pub basis: Basis,
    /// When a value is over it.
    pub comparison: Comparison,
    /// From when; always, where nothing is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub effective_from: Option<PartialDate>,
    /// Until when; the last day counts.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub effective_to: Option<PartialDate>,
    /// Document and entry: a number of a contract or a title, no names of people.
    pub source: String,
    /// Where the text was read. A law without it is shown as unverified.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub seen: Option<String>,
    /// What it covers: one row or more.
    pub scopes: Vec<Scope>,
}

impl LimitEntry {
    /// Every fault of the entry against itself and the vocabulary.
    ///
    /// # Errors
    /// The faults, each with its JSON pointer.
    pub fn check(&self, vocabulary: &Vocabulary) -> Result<(), Faults> {
        let mut faults = Faults::default();
        for (pointer, text) in [
            ("/commodity", &self.commodity),
            ("/intended_use", &self.intended_use),
            ("/source", &self.source),
        ] {
            entries::text(&mut faults, pointer, text, entries::TEXT_LENGTH);
        }
        if let Some(seen) = &self.seen {
            entries::text(&mut faults, "/seen", seen, entries::TEXT_LENGTH);
        }
        faults.require(uuid::Uuid::parse_str(&self.code).is_err(), "/code", || {
            "This code reads like an id. Choose words.".into()
        });
        if let Authority::Contract {
            rule: Some(rule), ..
        } = &self.authority
            && let Err(fault) = rule.check()
        {
            faults.add("/authority/rule", format!("{fault}."));
        }
        if let Err(fault) = self.clone().into_limit().check(vocabulary) {
            faults.add(pointer(&fault), format!("Refused: {fault}."));
        }
        faults.into_result()
    }

    /// The proposed limit. What a contract or the intake says is known to those who enter it; a
    /// law is unverified unless it is said where it was read.
    #[must_use]
    pub fn into_limit(self) -> Limit {
        let of_law = matches!(self.authority, Authority::Law { .. });
        let (seen, confidence) = match self.seen {
            Some(seen) => (seen, Confidence::Seen),
            None if of_law => ("from memory".to_owned(), Confidence::Memory),
            None => (self.source.clone(), Confidence::Seen),
        };
        Limit {
            id: self.code,
            authority: self.authority,
            analyte: self.analyte,
            commodity: self.commodity,
            intended_use: self.intended_use,
            value: self.value,
            basis: self.basis,
            comparison: self.comparison,
            effective_from: self.effective_from,
            effective_to: self.effective_to,
            source: self.source,
            seen,
            confidence,
            scopes: self.scopes,
            state: LimitState::Proposed,
            adoption: None,
            retired_on: None,
        }
    }
}

/// The member of an entry, or of an adoption or retirement, that an error speaks of.
const fn pointer(error: &LimitError) -> &'static str {
    match error {
        LimitError::NoJurisdiction(_) => "/authority/jurisdiction",
        LimitError::NotASlug(_) => "/code",
        LimitError::BelowZero(_) => "/value",
        LimitError::EndsBeforeItBegins { .. } => "/effective_to",
        LimitError::CoversNothing | LimitError::UnknownCommodity(_) | LimitError::UnknownUse(_) => {
            "/scopes"
        }
        LimitError::NoParties => "/authority/parties",
        LimitError::NoReading => "/reading",
        LimitError::DayToCome { .. } | LimitError::RetiredBeforeAdopted { .. } => "/date",
        LimitError::NotProposed(_) | LimitError::NotAdopted(_) => "",
    }
}

impl LimitError {
    /// The member that it speaks of, as a JSON pointer; none where the limit's state refuses.
    ///
    /// ```
    /// use domain::limits::{LimitError, LimitState};
    /// assert_eq!(LimitError::NoReading.pointer(), Some("/reading"));
    /// assert_eq!(LimitError::NotProposed(LimitState::Retired).pointer(), None);
    /// ```
    #[must_use]
    pub fn pointer(&self) -> Option<&'static str> {
        Some(pointer(self)).filter(|pointer| !pointer.is_empty())
    }
}
