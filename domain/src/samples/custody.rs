//! Where a sample was, and in whose hands: events that are only ever added.
//!
//! Promises the order of time; refuses any event after disposal, and disposal of what is to be
//! kept longer.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::Sample;
use crate::entries;
use crate::faults::Faults;
use crate::id::AccountId;
use crate::time::Moment;

/// One event in the custody of a sample.
///
/// ```
/// use domain::samples::{CustodyAction, CustodyEvent};
/// let moved: CustodyEvent = serde_json::from_str(
///     r#"{"at":"2026-03-01T09:00:00Z","action":"moved","place":"shelf 4"}"#)?;
/// assert_eq!(moved.action, CustodyAction::Moved);
/// assert!(moved.check().is_ok());
/// assert!(CustodyEvent { place: None, ..moved }.check().is_err(), "moved where to?");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct CustodyEvent {
    /// When.
    pub at: Moment,
    /// What happened.
    pub action: CustodyAction,
    /// Where the sample is after it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub place: Option<String>,
    /// Number of the seal that was set or opened.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub seal: Option<String>,
    /// Who recorded it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<AccountId>,
    /// Who gave it (disclosed).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from: Option<String>,
    /// Who got it (disclosed).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub to: Option<String>,
}

/// What happened to a sample.
///
/// ```
/// use domain::samples::CustodyAction;
/// assert_eq!(serde_json::to_string(&CustodyAction::HandedOver)?, "\"handed-over\"");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum CustodyAction {
    /// The laboratory got it.
    Received,
    /// It was put somewhere else.
    Moved,
    /// Another person or laboratory got it.
    HandedOver,
    /// Its seal was opened.
    Opened,
    /// A seal was set.
    Sealed,
    /// It was disposed of: nothing comes after.
    Disposed,
}

/// Why a custody event is not added.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum CustodyError {
    /// The sample was disposed of.
    #[error("sample {code} was disposed of at {at}: nothing can happen to it after that")]
    Disposed {
        /// Its code.
        code: String,
        /// When.
        at: Moment,
    },
    /// The event lies before the last one.
    #[error("the event at {at} lies before the last one of sample {code}, at {last}")]
    OutOfOrder {
        /// The sample's code.
        code: String,
        /// Time of the event.
        at: Moment,
        /// Time of the last event.
        last: Moment,
    },
    /// The retained portion is due to be kept still.
    #[error("sample {code} is retained until {until}: it is not disposed of before")]
    StillRetained {
        /// The sample's code.
        code: String,
        /// Last day it is kept.
        until: NaiveDate,
    },
}

impl CustodyEvent {
    /// Gathers what is wrong with it.
    ///
    /// # Errors
    /// Every fault, with its pointer.
    pub fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        for (pointer, value) in [
            ("/place", &self.place),
            ("/seal", &self.seal),
            ("/from", &self.from),
            ("/to", &self.to),
        ] {
            entries::optional_text(&mut faults, pointer, value.as_deref(), entries::NAME_LENGTH);
        }
        match self.action {
            CustodyAction::Moved => faults.require(self.place.is_some(), "/place", || {
                "say where the sample was moved to".into()
            }),
            CustodyAction::HandedOver => {
                faults.require(self.to.is_some(), "/to", || "say who got the sample".into())
            }
            CustodyAction::Sealed => faults.require(self.seal.is_some(), "/seal", || {
                "give the number of the seal".into()
            }),
            CustodyAction::Received | CustodyAction::Opened | CustodyAction::Disposed => {}
        }
        faults.into_result()
    }
}

impl Sample {
    /// The sample with one more custody event.
    ///
    /// # Errors
    /// [`CustodyError`] where the event comes after disposal, lies before the last one, or
    /// disposes of what is to be kept longer.
    ///
    /// ```
    /// use domain::samples::Sample;
    /// let sample: Sample = serde_json::from_str(
    ///     r#"{"code":"S-1","purpose":"validation","commodity":"maize-grain",
    ///         "received_at":"2026-03-01T08:15:00Z"}"#)?;
    /// let gone = sample.with_custody(serde_json::from_str(
    ///     r#"{"at":"2026-03-02T08:00:00Z","action":"disposed"}"#)?)?;
    /// assert!(gone.with_custody(serde_json::from_str(
    ///     r#"{"at":"2026-03-03T08:00:00Z","action":"opened"}"#)?).is_err());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn with_custody(&self, event: CustodyEvent) -> Result<Self, CustodyError> {
        let code = self.code.clone();
        if let Some(last) = self.custody.last() {
            if last.action == CustodyAction::Disposed {
                return Err(CustodyError::Disposed { code, at: last.at });
            }
            if event.at < last.at {
                let (at, last) = (event.at, last.at);
                return Err(CustodyError::OutOfOrder { code, at, last });
            }
        }
        if let Some(retained) = &self.retained
            && event.action == CustodyAction::Disposed
            && event.at.utc().date_naive() <= retained.until
        {
            let until = retained.until;
            return Err(CustodyError::StillRetained { code, until });
        }
        let mut next = self.clone();
        next.custody.push(event);
        Ok(next)
    }
}
