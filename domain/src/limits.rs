//! Limits: what the law, a contract or the intake itself allows, for which goods and when.
//!
//! Promises that a limit keeps its number, basis, comparison, source and scope together, and that
//! only an adopted one decides. Refuses an adoption without a day and a reading of the source, a
//! scope of unknown goods, and dates that end before they begin.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use crate::analytes::Analyte;
use crate::decisions::DecisionRule;
use crate::id::{AccountId, CustomerId, SiteId};
use crate::quantity::Concentration;

mod adoption;
mod basis;
mod dates;
mod entry;
mod scope;
mod seed;

pub use adoption::LimitError;
pub use basis::Basis;
pub use dates::{PartialDate, PartialDateError, lies_within};
pub use entry::LimitEntry;
pub use scope::{
    Applied, ConditionFacts, ConditionState, OwnQuery, Query, QueryError, applicable,
    applicable_bearing, applicable_own,
};
pub use seed::{SeedError, parse_limits, shipped_limits};

/// JSON pointers of what is personal or free text in a [`Limit`].
pub const DISCLOSED: &[&str] = &["/adoption/reading"];

/// Whose law: a code of capital letters, such as `US`, `EU` or `CODEX`.
///
/// ```
/// use domain::limits::Jurisdiction;
/// assert_eq!("EU".parse::<Jurisdiction>()?.to_string(), "EU");
/// assert!("eu".parse::<Jurisdiction>().is_err());
/// # Ok::<(), domain::limits::LimitError>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema), schema(value_type = String))]
pub struct Jurisdiction(String);

impl Jurisdiction {
    /// Whether strips count as a screening method under this law: Implementing Regulation (EU)
    /// 2023/2782, Annex II.
    #[must_use]
    pub fn treats_strips_as_screening(&self) -> bool {
        self.0 == "EU"
    }
}

impl std::str::FromStr for Jurisdiction {
    type Err = LimitError;
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        if (2..=12).contains(&text.len()) && text.bytes().all(|b| b.is_ascii_uppercase()) {
            Ok(Self(text.to_owned()))
        } else {
            Err(LimitError::NoJurisdiction(text.chars().take(40).collect()))
        }
    }
}

impl TryFrom<String> for Jurisdiction {
    type Error = LimitError;
    fn try_from(text: String) -> Result<Self, Self::Error> {
        text.parse()
    }
}

impl From<Jurisdiction> for String {
    fn from(jurisdiction: Jurisdiction) -> Self {
        jurisdiction.0
    }
}

impl std::fmt::Display for Jurisdiction {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.0)
    }
}

/// How binding the number is, in the words of the authority.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub enum AuthorityKind {
    /// The level at which the authority may act.
    ActionLevel,
    /// A recommended level.
    GuidanceLevel,
    /// A level that the authority advises.
    AdvisoryLevel,
    /// A level that the good must not exceed.
    MaximumLevel,
    /// A value to judge by, set by recommendation.
    GuidanceValue,
}

impl AuthorityKind {
    /// The words for people, as the source has them.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::ActionLevel => "action level",
            Self::GuidanceLevel => "guidance level",
            Self::AdvisoryLevel => "advisory level",
            Self::MaximumLevel => "maximum level",
            Self::GuidanceValue => "guidance value",
        }
    }

    /// Whether goods over the level may not be placed on the market, or the authority may act;
    /// guidance and advice recommend.
    ///
    /// ```
    /// use domain::limits::AuthorityKind;
    /// assert!(AuthorityKind::MaximumLevel.is_binding());
    /// assert!(!AuthorityKind::GuidanceValue.is_binding());
    /// ```
    #[must_use]
    pub const fn is_binding(self) -> bool {
        match self {
            Self::ActionLevel | Self::MaximumLevel => true,
            Self::GuidanceLevel | Self::AdvisoryLevel | Self::GuidanceValue => false,
        }
    }
}

/// Who set the limit.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case", deny_unknown_fields)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub enum Authority {
    /// A law, or a recommendation of its authority.
    Law {
        /// Whose.
        jurisdiction: Jurisdiction,
        /// How binding.
        authority_kind: AuthorityKind,
    },
    /// A contract.
    Contract {
        /// The parties: it binds lots of which all of them are parties.
        parties: Vec<CustomerId>,
        /// The decision rule that they agreed, where they did.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        rule: Option<DecisionRule>,
    },
    /// The intake's own action level.
    Intake {
        /// Only at this site; at every site where none is named.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        site: Option<SiteId>,
    },
}

/// When a value is over the limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub enum Comparison {
    /// Over when it exceeds the limit; equal conforms.
    Exceeds,
    /// Over when it reaches the limit.
    AtOrAbove,
}

/// Whether anybody read the value in its source.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub enum Confidence {
    /// The value stood in the text named in `seen`.
    Seen,
    /// From memory: unverified until somebody adopts it on their own reading.
    Memory,
}

/// Where a limit stands in the laboratory.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub enum LimitState {
    /// Shown, decides nothing.
    Proposed,
    /// Decides.
    Adopted,
    /// Decided once, decides no more.
    Retired,
}

/// One row of what a limit covers. An id means itself and everything below it.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Scope {
    /// Goods that it covers.
    pub commodities: Vec<String>,
    /// Goods taken out of them.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub commodities_except: Vec<String>,
    /// Uses that it covers.
    pub uses: Vec<String>,
    /// Uses taken out of them.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub uses_except: Vec<String>,
    /// First day of the row, where it is bounded.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from: Option<PartialDate>,
    /// Last day of the row.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub to: Option<PartialDate>,
    /// A fact that good and use do not hold, such as a share of the diet.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub condition: Option<String>,
    /// Why the row is as it is.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub note: String,
}

/// Who adopted a limit, when, and on which reading of its source.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Adoption {
    /// The day.
    pub on: NaiveDate,
    /// Whose account.
    pub by: AccountId,
    /// What they read, in which edition, and what it said. A person's words: beside a record
    /// they stand as a disclosure.
    pub reading: String,
}

/// A limit with its scope.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Limit {
    /// A slug that stays the same as long as the limit lives.
    pub id: String,
    /// Who set it.
    pub authority: Authority,
    /// On what.
    pub analyte: Analyte,
    /// The goods, in the words of the source.
    pub commodity: String,
    /// The use, in the words of the source.
    pub intended_use: String,
    /// The number, µg/kg, with the places of its source.
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
    /// Document and entry.
    pub source: String,
    /// The address read, or `from memory`.
    pub seen: String,
    /// Whether the value was read there.
    pub confidence: Confidence,
    /// What it covers.
    pub scopes: Vec<Scope>,
    /// Whether it decides.
    pub state: LimitState,
    /// Who adopted it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub adoption: Option<Adoption>,
    /// The day on which it was retired.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub retired_on: Option<NaiveDate>,
}

#[cfg(test)]
mod tests;
