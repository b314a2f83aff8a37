//! The states of a screening validation: draft, adopted, withdrawn.
//!
//! Promises that an adopted validation keeps the figures that were adopted, with the number of the
//! rules and the versions that they came from. Refuses to change it: one that turned out wrong is
//! withdrawn, and another one recorded.

#![expect(
    clippy::disallowed_types,
    reason = "what serde derives here names every primitive type; none is kept"
)]

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::{RULES, ScreeningValidationEntry, StudyReport};
use crate::faults::Faults;
use crate::id::AccountId;
use crate::statistics::StatisticsError;
use crate::versions::{SubjectVersion, in_order};

/// How far a validation has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum ScreeningValidationState {
    /// Under way: determinations are added.
    Draft,
    /// Complete; procedures may decide by it.
    Adopted,
    /// No longer decided by.
    Withdrawn,
}

impl ScreeningValidationState {
    /// The word in records.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Draft => "draft",
            Self::Adopted => "adopted",
            Self::Withdrawn => "withdrawn",
        }
    }
}

/// Who adopted a validation, and when.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct ScreeningAdoption {
    /// The day.
    pub on: NaiveDate,
    /// Whose account.
    pub by: AccountId,
}

/// A screening validation as it is recorded: what was entered, and once it is adopted, what it
/// came to.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct ScreeningValidation {
    /// Draft, adopted or withdrawn.
    pub state: ScreeningValidationState,
    /// Who adopted it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub adoption: Option<ScreeningAdoption>,
    /// The figures that were adopted.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub report: Option<StudyReport>,
    /// The number of the rules that computed them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rules: Option<u32>,
    /// The versions that were looked at: procedure, runs, and the validation it builds on.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub from: Vec<SubjectVersion>,
    /// What was entered.
    #[serde(flatten)]
    pub entry: ScreeningValidationEntry,
}

/// Why a validation was not changed.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ScreeningValidationError {
    /// The state does not allow it.
    #[error("validation {code} is {}: it cannot be {verb}", .state.word())]
    Not {
        /// Its code.
        code: String,
        /// Its state.
        state: ScreeningValidationState,
        /// What was asked for.
        verb: &'static str,
    },
    /// The law by which it was validated ended.
    #[error("{law} ended: validate the method by the law in force")]
    LawEnded {
        /// The law.
        law: &'static str,
    },
    /// The entry has faults.
    #[error("the validation has faults")]
    Faults(#[from] Faults),
    /// The determinations do not make a validation.
    #[error("the study is not complete: {0}")]
    Incomplete(StatisticsError),
}

impl ScreeningValidation {
    /// A draft of what was entered.
    ///
    /// # Errors
    /// The faults of the entry.
    ///
    /// ```
    /// use domain::screening_validations::{ScreeningValidation, ScreeningValidationState};
    /// let entry = serde_json::from_str(include_str!("example.json"))?;
    /// let draft = ScreeningValidation::draft(entry)?;
    /// assert_eq!(draft.state, ScreeningValidationState::Draft);
    /// let mut nobody = draft.entry;
    /// nobody.performed_by.clear();
    /// assert!(ScreeningValidation::draft(nobody).is_err());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn draft(entry: ScreeningValidationEntry) -> Result<Self, ScreeningValidationError> {
        entry.check()?;
        Ok(Self {
            state: ScreeningValidationState::Draft,
            adoption: None,
            report: None,
            rules: None,
            from: Vec::new(),
            entry,
        })
    }

    /// The draft as it is to be.
    ///
    /// # Errors
    /// [`ScreeningValidationError::Not`] unless it is a draft; the faults of the entry.
    ///
    /// ```
    /// use domain::screening_validations::ScreeningValidation;
    /// let draft = ScreeningValidation::draft(serde_json::from_str(include_str!("example.json"))?)?;
    /// assert!(draft.revise(draft.entry.clone()).is_ok());
    /// assert!(draft.withdraw()?.revise(draft.entry).is_err());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn revise(
        &self,
        entry: ScreeningValidationEntry,
    ) -> Result<Self, ScreeningValidationError> {
        match self.state {
            ScreeningValidationState::Draft => Self::draft(entry),
            ScreeningValidationState::Adopted | ScreeningValidationState::Withdrawn => {
                Err(self.refuse("revised"))
            }
        }
    }

    /// The validation with its figures: procedures may decide by it. `from` are the versions of
    /// what was looked at.
    ///
    /// # Errors
    /// [`ScreeningValidationError`]: no draft, a law that ended, a study that is not complete, a
    /// verification that did not pass.
    ///
    /// ```
    /// use domain::screening_validations::{ScreeningAdoption, ScreeningValidation};
    /// let draft = ScreeningValidation::draft(serde_json::from_str(include_str!("example.json"))?)?;
    /// let adoption = ScreeningAdoption { on: "2026-03-09".parse()?,
    ///     by: "019ca869-5003-7d46-b59c-6cf85cca57e6".parse()? };
    /// let adopted = draft.adopt(adoption, None, vec![])?;
    /// assert_eq!(adopted.report.as_ref().unwrap().cut_off.to_string(), "19");
    /// assert!(adopted.adopt(adoption, None, vec![]).is_err());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn adopt(
        &self,
        adoption: ScreeningAdoption,
        base: Option<&Self>,
        from: Vec<SubjectVersion>,
    ) -> Result<Self, ScreeningValidationError> {
        if self.state != ScreeningValidationState::Draft {
            return Err(self.refuse("adopted"));
        }
        self.entry.check()?;
        if let Some(base) = base {
            self.entry.check_base(base)?;
        }
        if !self.entry.law.may_be_used_on(adoption.on) {
            let law = self.entry.law.name();
            return Err(ScreeningValidationError::LawEnded { law });
        }
        let report = self
            .entry
            .report(base)
            .map_err(ScreeningValidationError::Incomplete)?;
        report
            .must_pass()
            .map_err(ScreeningValidationError::Incomplete)?;
        Ok(Self {
            state: ScreeningValidationState::Adopted,
            adoption: Some(adoption),
            report: Some(report),
            rules: Some(RULES),
            from: in_order(from),
            entry: self.entry.clone(),
        })
    }

    /// It is no longer decided by; its figures stay readable.
    ///
    /// # Errors
    /// [`ScreeningValidationError::Not`] of one that is withdrawn already.
    ///
    /// ```
    /// use domain::screening_validations::ScreeningValidation;
    /// let draft = ScreeningValidation::draft(serde_json::from_str(include_str!("example.json"))?)?;
    /// let withdrawn = draft.withdraw()?;
    /// assert!(withdrawn.withdraw().is_err());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn withdraw(&self) -> Result<Self, ScreeningValidationError> {
        match self.state {
            ScreeningValidationState::Draft | ScreeningValidationState::Adopted => Ok(Self {
                state: ScreeningValidationState::Withdrawn,
                ..self.clone()
            }),
            ScreeningValidationState::Withdrawn => Err(self.refuse("withdrawn")),
        }
    }

    /// Whether procedures may decide by it on a day, and why not.
    ///
    /// ```
    /// use domain::screening_validations::ScreeningValidation;
    /// let draft = ScreeningValidation::draft(serde_json::from_str(include_str!("example.json"))?)?;
    /// assert_eq!(draft.not_usable_on("2026-03-09".parse()?).as_deref(), Some("it is draft"));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn not_usable_on(&self, day: NaiveDate) -> Option<String> {
        if self.state != ScreeningValidationState::Adopted {
            return Some(format!("it is {}", self.state.word()));
        }
        let allowed = self.entry.law.may_be_used_on(day);
        (!allowed).then(|| format!("{} allowed its use until 2028-12-31", self.entry.law.name()))
    }

    pub(super) fn refuse(&self, verb: &'static str) -> ScreeningValidationError {
        ScreeningValidationError::Not {
            code: self.entry.code.clone(),
            state: self.state,
            verb,
        }
    }
}
