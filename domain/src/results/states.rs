//! The states of a result, and what may become of each.

#![expect(
    clippy::disallowed_types,
    reason = "what serde derives here names every primitive type; none is kept"
)]

use serde::{Deserialize, Serialize};

use super::ComputedResult;

/// How far a result has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum ResultState {
    /// A run is due first.
    NeedsARun,
    /// A hold stands between it and its release.
    Held,
    /// It waits for its reviewer.
    Ready,
    /// The reviewer gave it back.
    Returned,
    /// The reviewer released it: it is final.
    Released,
    /// Another result stands in its place.
    Superseded,
    /// It is no longer asked for.
    Cancelled,
}

impl ResultState {
    /// The words for people.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::NeedsARun => "in need of a run",
            Self::Held => "held",
            Self::Ready => "ready for review",
            Self::Returned => "returned",
            Self::Released => "released",
            Self::Superseded => "superseded",
            Self::Cancelled => "cancelled",
        }
    }
}

/// Why a result was not changed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum ResultError {
    /// The state does not allow it.
    #[error("the result is {}: it cannot be {verb}", .state.words())]
    Not {
        /// Its state.
        state: ResultState,
        /// What was asked for.
        verb: &'static str,
    },
    /// A hold is open.
    #[error("a hold stands between the result and its release: lift it first")]
    Held,
}

/// A result as it is recorded.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct ResultVersion {
    /// How far it has come.
    pub state: ResultState,
    /// Whether it was released, and says something else now: its certificate is due for
    /// amendment.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub amendment_due: bool,
    /// What was computed.
    #[serde(flatten)]
    pub computed: ComputedResult,
}

impl ResultVersion {
    /// The first version of a result.
    ///
    /// ```
    /// use domain::results::{ResultState, ResultVersion};
    /// let computed = serde_json::from_str(include_str!("example.json"))?;
    /// let ready = ResultVersion::first(computed, false);
    /// assert_eq!(ready.state, ResultState::Ready);
    /// assert_eq!(ResultVersion::first(ready.computed, true).state, ResultState::Held);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn first(computed: ComputedResult, holds_open: bool) -> Self {
        Self {
            state: state_of(&computed, holds_open),
            amendment_due: false,
            computed,
        }
    }

    /// The next version, after it was computed again; none where nothing changed.
    ///
    /// A released result that says the same stays released, also where it now comes from later
    /// versions. One that says something else is to be reviewed again, and its certificate is due
    /// for amendment. A returned one stays returned until it says something else.
    ///
    /// # Errors
    /// [`ResultError::Not`] of a superseded or cancelled one.
    ///
    /// ```
    /// use domain::results::{ResultState, ResultVersion};
    /// let computed = serde_json::from_str(include_str!("example.json"))?;
    /// let ready = ResultVersion::first(computed, false);
    /// let released = ready.release(false)?;
    /// let mut other = ready.computed.clone();
    /// assert_eq!(released.computed_again(other.clone(), false)?, None, "it says the same");
    /// other.reported = Some("50.0".into());
    /// let next = released.computed_again(other.clone(), false)?.unwrap();
    /// assert!(next.amendment_due);
    /// assert!(ready.cancel()?.computed_again(other, false).is_err());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn computed_again(
        &self,
        computed: ComputedResult,
        holds_open: bool,
    ) -> Result<Option<Self>, ResultError> {
        let same = self.computed.says_the_same(&computed);
        let state = match self.state {
            ResultState::Superseded | ResultState::Cancelled => {
                return Err(self.refuse("computed again"));
            }
            ResultState::Released | ResultState::Returned if same => return Ok(None),
            ResultState::Released
            | ResultState::Returned
            | ResultState::NeedsARun
            | ResultState::Held
            | ResultState::Ready => state_of(&computed, holds_open),
        };
        let next = Self {
            state,
            amendment_due: self.amendment_due || self.state == ResultState::Released,
            computed,
        };
        Ok((next != *self).then_some(next))
    }

    /// The next version, after holds were raised or lifted; none where its state stays.
    ///
    /// A hold that appears on a released result changes nothing of it by itself.
    ///
    /// ```
    /// use domain::results::{ResultState, ResultVersion};
    /// let computed = serde_json::from_str(include_str!("example.json"))?;
    /// let ready = ResultVersion::first(computed, false);
    /// let held = ready.with_holds(true).unwrap();
    /// assert_eq!(held.state, ResultState::Held);
    /// assert_eq!(ready.release(false)?.with_holds(true), None, "it is out already");
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn with_holds(&self, holds_open: bool) -> Option<Self> {
        match self.state {
            ResultState::NeedsARun | ResultState::Held | ResultState::Ready => {
                let state = state_of(&self.computed, holds_open);
                (state != self.state).then(|| self.with(state))
            }
            ResultState::Returned
            | ResultState::Released
            | ResultState::Superseded
            | ResultState::Cancelled => None,
        }
    }

    /// The reviewer releases it. Who may is not asked here.
    ///
    /// # Errors
    /// [`ResultError::Held`] while a hold is open; [`ResultError::Not`] unless it is ready.
    ///
    /// ```
    /// use domain::results::{ResultState, ResultVersion};
    /// let computed = serde_json::from_str(include_str!("example.json"))?;
    /// let ready = ResultVersion::first(computed, false);
    /// assert_eq!(ready.release(false)?.state, ResultState::Released);
    /// assert!(ready.release(true).is_err(), "a hold is open");
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn release(&self, holds_open: bool) -> Result<Self, ResultError> {
        match self.state {
            ResultState::Ready if holds_open => Err(ResultError::Held),
            ResultState::Ready => Ok(self.with(ResultState::Released)),
            ResultState::Held => Err(ResultError::Held),
            ResultState::NeedsARun
            | ResultState::Returned
            | ResultState::Released
            | ResultState::Superseded
            | ResultState::Cancelled => Err(self.refuse("released")),
        }
    }

    /// The reviewer gives it back.
    ///
    /// # Errors
    /// [`ResultError::Not`] unless it is ready or held.
    ///
    /// ```
    /// use domain::results::{ResultState, ResultVersion};
    /// let computed = serde_json::from_str(include_str!("example.json"))?;
    /// let ready = ResultVersion::first(computed, false);
    /// let returned = ready.give_back()?;
    /// assert_eq!(returned.state, ResultState::Returned);
    /// assert!(returned.give_back().is_err());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn give_back(&self) -> Result<Self, ResultError> {
        match self.state {
            ResultState::Ready | ResultState::Held => Ok(self.with(ResultState::Returned)),
            ResultState::NeedsARun
            | ResultState::Returned
            | ResultState::Released
            | ResultState::Superseded
            | ResultState::Cancelled => Err(self.refuse("returned")),
        }
    }

    /// The analyst puts a returned result before the reviewer again.
    ///
    /// # Errors
    /// [`ResultError::Not`] unless it was returned.
    ///
    /// ```
    /// use domain::results::{ResultState, ResultVersion};
    /// let computed = serde_json::from_str(include_str!("example.json"))?;
    /// let ready = ResultVersion::first(computed, false);
    /// let again = ready.give_back()?.put_forward(false)?;
    /// assert_eq!(again.state, ResultState::Ready);
    /// assert!(again.put_forward(false).is_err());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn put_forward(&self, holds_open: bool) -> Result<Self, ResultError> {
        match self.state {
            ResultState::Returned => Ok(self.with(state_of(&self.computed, holds_open))),
            ResultState::NeedsARun
            | ResultState::Held
            | ResultState::Ready
            | ResultState::Released
            | ResultState::Superseded
            | ResultState::Cancelled => Err(self.refuse("put forward again")),
        }
    }

    /// Another result stands in its place.
    ///
    /// # Errors
    /// [`ResultError::Not`] of a superseded or cancelled one.
    ///
    /// ```
    /// use domain::results::{ResultState, ResultVersion};
    /// let computed = serde_json::from_str(include_str!("example.json"))?;
    /// let ready = ResultVersion::first(computed, false);
    /// let superseded = ready.release(false)?.supersede()?;
    /// assert_eq!(superseded.state, ResultState::Superseded);
    /// assert!(superseded.supersede().is_err());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn supersede(&self) -> Result<Self, ResultError> {
        match self.state {
            ResultState::NeedsARun
            | ResultState::Held
            | ResultState::Ready
            | ResultState::Returned
            | ResultState::Released => Ok(self.with(ResultState::Superseded)),
            ResultState::Superseded | ResultState::Cancelled => Err(self.refuse("superseded")),
        }
    }

    /// It is no longer asked for.
    ///
    /// # Errors
    /// [`ResultError::Not`] once it is released: then it can be amended, not cancelled.
    ///
    /// ```
    /// use domain::results::{ResultState, ResultVersion};
    /// let computed = serde_json::from_str(include_str!("example.json"))?;
    /// let ready = ResultVersion::first(computed, false);
    /// assert_eq!(ready.cancel()?.state, ResultState::Cancelled);
    /// assert!(ready.release(false)?.cancel().is_err(), "it is final");
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn cancel(&self) -> Result<Self, ResultError> {
        match self.state {
            ResultState::NeedsARun
            | ResultState::Held
            | ResultState::Ready
            | ResultState::Returned => Ok(self.with(ResultState::Cancelled)),
            ResultState::Released | ResultState::Superseded | ResultState::Cancelled => {
                Err(self.refuse("cancelled"))
            }
        }
    }

    /// Its certificate was amended.
    ///
    /// # Errors
    /// [`ResultError::Not`] unless it is released, and an amendment was due.
    ///
    /// ```
    /// use domain::results::{ResultState, ResultVersion};
    /// let computed = serde_json::from_str(include_str!("example.json"))?;
    /// let ready = ResultVersion::first(computed, false);
    /// assert!(ready.amended().is_err(), "nothing is due");
    /// let mut due = ready.release(false)?;
    /// due.amendment_due = true;
    /// assert!(!due.amended()?.amendment_due);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn amended(&self) -> Result<Self, ResultError> {
        if self.state == ResultState::Released && self.amendment_due {
            Ok(Self {
                amendment_due: false,
                ..self.clone()
            })
        } else {
            Err(self.refuse("amended"))
        }
    }

    fn with(&self, state: ResultState) -> Self {
        Self {
            state,
            ..self.clone()
        }
    }

    const fn refuse(&self, verb: &'static str) -> ResultError {
        ResultError::Not {
            state: self.state,
            verb,
        }
    }
}

const fn state_of(computed: &ComputedResult, holds_open: bool) -> ResultState {
    if computed.needs.is_some() {
        ResultState::NeedsARun
    } else if holds_open {
        ResultState::Held
    } else {
        ResultState::Ready
    }
}
