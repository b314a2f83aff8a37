//! What is checked of a limit before it is kept, and how it comes to decide and to decide no more.
//!
//! Promises that a limit goes from proposed to adopted to retired and never back; refuses an
//! adoption without a reading of the source or on a day to come.

use chrono::NaiveDate;

use crate::commodities::Vocabulary;
use crate::quantity::Concentration;

use super::{Adoption, Authority, Confidence, Limit, LimitState, PartialDate, Scope};

/// Why a limit, or a change of one, was refused.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum LimitError {
    /// No code of a jurisdiction.
    #[error("\"{0}\" is no jurisdiction: write 2 to 12 capital letters, such as US or EU")]
    NoJurisdiction(String),
    /// The id is no slug.
    #[error("\"{0}\" is no limit id: lower-case letters, digits and hyphens only")]
    NotASlug(String),
    /// A limit below zero.
    #[error("a limit of {0} µg/kg is below zero")]
    BelowZero(Concentration),
    /// The end lies before the beginning.
    #[error("it ends on {to}, before it begins on {from}")]
    EndsBeforeItBegins {
        /// Beginning.
        from: PartialDate,
        /// End.
        to: PartialDate,
    },
    /// No goods, or no uses, are covered.
    #[error("it covers nothing: name at least one commodity and one use")]
    CoversNothing,
    /// A commodity that the vocabulary does not have.
    #[error("commodity \"{0}\" is not in the vocabulary")]
    UnknownCommodity(String),
    /// A use that the vocabulary does not have.
    #[error("use \"{0}\" is not in the vocabulary")]
    UnknownUse(String),
    /// A contract without parties.
    #[error("a contract's limit names its parties")]
    NoParties,
    /// Only a proposed limit is adopted.
    #[error("the limit is {0:?} already: only a proposed one can be adopted")]
    NotProposed(LimitState),
    /// Only an adopted limit is retired.
    #[error("the limit is {0:?}: only an adopted one can be retired")]
    NotAdopted(LimitState),
    /// Adoption without a reading of the source.
    #[error("say what you read: which edition of the source, and what stands there")]
    NoReading,
    /// A day that has not come.
    #[error("{day} has not come: today is {today}")]
    DayToCome {
        /// The day given.
        day: NaiveDate,
        /// Today.
        today: NaiveDate,
    },
    /// Retired before it was adopted.
    #[error("it was adopted on {adopted}, after {retired}")]
    RetiredBeforeAdopted {
        /// Adoption.
        adopted: NaiveDate,
        /// Retirement asked for.
        retired: NaiveDate,
    },
}

impl Limit {
    /// Checks what was entered against itself and the vocabulary.
    ///
    /// # Errors
    /// The first fault found.
    ///
    /// ```
    /// use domain::commodities::Vocabulary;
    /// use domain::limits::{shipped_limits, LimitError};
    /// let vocabulary = Vocabulary::shipped()?;
    /// let mut limit = shipped_limits()?.remove(0);
    /// assert_eq!(limit.check(&vocabulary), Ok(()));
    /// limit.scopes.clear();
    /// assert_eq!(limit.check(&vocabulary), Err(LimitError::CoversNothing));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn check(&self, vocabulary: &Vocabulary) -> Result<(), LimitError> {
        if !crate::commodities::is_slug(&self.id) {
            return Err(LimitError::NotASlug(self.id.chars().take(80).collect()));
        }
        if self.value.ug_per_kg().is_sign_negative() {
            return Err(LimitError::BelowZero(self.value));
        }
        if matches!(&self.authority, Authority::Contract { parties, .. } if parties.is_empty()) {
            return Err(LimitError::NoParties);
        }
        in_order(self.effective_from, self.effective_to)?;
        if self.scopes.is_empty() {
            return Err(LimitError::CoversNothing);
        }
        self.scopes
            .iter()
            .try_for_each(|scope| scope.check(vocabulary))
    }

    /// The limit, adopted: from now on it decides.
    ///
    /// Who may adopt stands in the table of roles, not here.
    ///
    /// # Errors
    /// [`LimitError::NotProposed`], [`LimitError::NoReading`] or [`LimitError::DayToCome`].
    ///
    /// ```
    /// use domain::limits::{shipped_limits, Adoption, LimitError, LimitState};
    /// let proposed = shipped_limits()?.remove(0);
    /// let today = "2026-03-01".parse()?;
    /// let mut adoption = Adoption {
    ///     on: today,
    ///     by: "019ca869-5003-7d46-b59c-6cf85cca57e4".parse()?,
    ///     reading: "consolidated text of 2025-01-01, Annex I, 1.1.1: 5.0".into(),
    /// };
    /// assert_eq!(proposed.clone().adopt(adoption.clone(), today)?.state, LimitState::Adopted);
    /// adoption.reading = " ".into();
    /// assert_eq!(proposed.adopt(adoption, today), Err(LimitError::NoReading));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn adopt(self, adoption: Adoption, today: NaiveDate) -> Result<Self, LimitError> {
        if self.state != LimitState::Proposed {
            return Err(LimitError::NotProposed(self.state));
        }
        if adoption.reading.trim().is_empty() {
            return Err(LimitError::NoReading);
        }
        if adoption.on > today {
            return Err(LimitError::DayToCome {
                day: adoption.on,
                today,
            });
        }
        Ok(Self {
            state: LimitState::Adopted,
            adoption: Some(adoption),
            ..self
        })
    }

    /// The limit, retired: it decides no more.
    ///
    /// # Errors
    /// [`LimitError::NotAdopted`], [`LimitError::DayToCome`] or
    /// [`LimitError::RetiredBeforeAdopted`].
    ///
    /// ```
    /// use domain::limits::{shipped_limits, LimitError, LimitState};
    /// let proposed = shipped_limits()?.remove(0);
    /// let today = "2026-03-01".parse()?;
    /// let refusal = proposed.retire(today, today);
    /// assert_eq!(refusal, Err(LimitError::NotAdopted(LimitState::Proposed)));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn retire(self, on: NaiveDate, today: NaiveDate) -> Result<Self, LimitError> {
        if self.state != LimitState::Adopted {
            return Err(LimitError::NotAdopted(self.state));
        }
        if on > today {
            return Err(LimitError::DayToCome { day: on, today });
        }
        if let Some(adopted) = self.adoption.as_ref().map(|a| a.on).filter(|day| *day > on) {
            return Err(LimitError::RetiredBeforeAdopted {
                adopted,
                retired: on,
            });
        }
        Ok(Self {
            state: LimitState::Retired,
            retired_on: Some(on),
            ..self
        })
    }

    /// Whether people must be told that nobody here has read the value in its source.
    #[must_use]
    pub fn is_unverified(&self) -> bool {
        self.confidence == Confidence::Memory && self.adoption.is_none()
    }
}

impl Scope {
    fn check(&self, vocabulary: &Vocabulary) -> Result<(), LimitError> {
        if self.commodities.is_empty() || self.uses.is_empty() {
            return Err(LimitError::CoversNothing);
        }
        in_order(self.from, self.to)?;
        let mut goods = self.commodities.iter().chain(&self.commodities_except);
        if let Some(id) = goods.find(|id| vocabulary.commodities.entry(id).is_none()) {
            return Err(LimitError::UnknownCommodity(id.chars().take(80).collect()));
        }
        let mut uses = self.uses.iter().chain(&self.uses_except);
        if let Some(id) = uses.find(|id| vocabulary.uses.entry(id).is_none()) {
            return Err(LimitError::UnknownUse(id.chars().take(80).collect()));
        }
        Ok(())
    }
}

fn in_order(from: Option<PartialDate>, to: Option<PartialDate>) -> Result<(), LimitError> {
    match (from, to) {
        (Some(from), Some(to)) if to.last_day() < from.first_day() => {
            Err(LimitError::EndsBeforeItBegins { from, to })
        }
        _ => Ok(()),
    }
}
