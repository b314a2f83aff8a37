//! The states of a procedure: draft, adopted, retired.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::{Procedure, ProcedureEntry};
use crate::faults::Faults;

/// How far a procedure has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum ProcedureState {
    /// Written, not worked by.
    Draft,
    /// Worked by, from its day on.
    Adopted,
    /// No longer worked by.
    Retired,
}

impl ProcedureState {
    /// The word in records.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Draft => "draft",
            Self::Adopted => "adopted",
            Self::Retired => "retired",
        }
    }
}

/// Why a procedure was not changed.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ProcedureError {
    /// The state does not allow it.
    #[error("procedure {code} is {}: it cannot be {verb}", .state.word())]
    Not {
        /// The procedure's code.
        code: String,
        /// Its state.
        state: ProcedureState,
        /// What was asked for.
        verb: &'static str,
    },
    /// The entry has faults.
    #[error("the procedure has faults")]
    Faults(#[from] Faults),
}

impl Procedure {
    /// A draft of what was entered.
    ///
    /// # Errors
    /// The faults of the entry.
    ///
    /// ```
    /// use domain::procedures::{Procedure, ProcedureError, ProcedureState};
    /// let entry = serde_json::from_str(include_str!("example.json"))?;
    /// let procedure = Procedure::draft(entry)?.adopt()?;
    /// assert_eq!(procedure.state, ProcedureState::Adopted);
    /// assert!(procedure.in_force("2026-01-05".parse()?));
    /// assert!(!procedure.in_force("2026-01-04".parse()?));
    /// assert!(matches!(procedure.adopt(), Err(ProcedureError::Not { .. })));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn draft(entry: ProcedureEntry) -> Result<Self, ProcedureError> {
        entry.check()?;
        Ok(Self {
            state: ProcedureState::Draft,
            entry,
        })
    }

    /// The next version, a draft again: what was adopted stays readable as the version before.
    ///
    /// # Errors
    /// [`ProcedureError::Not`] of a retired one; the faults of the entry.
    ///
    /// ```
    /// use domain::procedures::{Procedure, ProcedureState};
    /// let draft = Procedure::draft(serde_json::from_str(include_str!("example.json"))?)?;
    /// let next = draft.adopt()?.revise(draft.entry.clone())?;
    /// assert_eq!(next.state, ProcedureState::Draft);
    /// assert!(draft.adopt()?.retire()?.revise(draft.entry).is_err());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn revise(&self, entry: ProcedureEntry) -> Result<Self, ProcedureError> {
        match self.state {
            ProcedureState::Draft | ProcedureState::Adopted => Self::draft(entry),
            ProcedureState::Retired => Err(self.refuse("revised")),
        }
    }

    /// The draft is worked by from its day on.
    ///
    /// # Errors
    /// [`ProcedureError::Not`] unless it is a draft; faults, where the draft has any.
    ///
    /// ```
    /// use domain::procedures::{Procedure, ProcedureState};
    /// let draft = Procedure::draft(serde_json::from_str(include_str!("example.json"))?)?;
    /// let adopted = draft.adopt()?;
    /// assert_eq!(adopted.state, ProcedureState::Adopted);
    /// assert!(adopted.adopt().is_err());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn adopt(&self) -> Result<Self, ProcedureError> {
        match self.state {
            ProcedureState::Draft => {
                self.entry.check()?;
                Ok(self.with(ProcedureState::Adopted))
            }
            ProcedureState::Adopted | ProcedureState::Retired => Err(self.refuse("adopted")),
        }
    }

    /// It is no longer worked by.
    ///
    /// # Errors
    /// [`ProcedureError::Not`] unless it is adopted.
    ///
    /// ```
    /// use domain::procedures::{Procedure, ProcedureState};
    /// let draft = Procedure::draft(serde_json::from_str(include_str!("example.json"))?)?;
    /// assert_eq!(draft.adopt()?.retire()?.state, ProcedureState::Retired);
    /// assert!(draft.retire().is_err(), "nobody worked by it");
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn retire(&self) -> Result<Self, ProcedureError> {
        match self.state {
            ProcedureState::Adopted => Ok(self.with(ProcedureState::Retired)),
            ProcedureState::Draft | ProcedureState::Retired => Err(self.refuse("retired")),
        }
    }

    /// Whether it may be worked by on a day.
    ///
    /// ```
    /// use domain::procedures::{Procedure, ProcedureState};
    /// let draft = Procedure::draft(serde_json::from_str(include_str!("example.json"))?)?;
    /// let day = "2026-01-05".parse()?;
    /// assert!(!draft.in_force(day) && draft.adopt()?.in_force(day));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn in_force(&self, on: NaiveDate) -> bool {
        self.state == ProcedureState::Adopted && self.entry.effective_from <= on
    }

    fn with(&self, state: ProcedureState) -> Self {
        Self {
            state,
            entry: self.entry.clone(),
        }
    }

    fn refuse(&self, verb: &'static str) -> ProcedureError {
        ProcedureError::Not {
            code: self.entry.code.clone(),
            state: self.state,
            verb,
        }
    }
}
