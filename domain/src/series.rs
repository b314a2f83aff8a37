//! The runs that share their control runs.
//!
//! Promises that a series has one procedure and one kit lot, and that a closed one takes no run
//! more; refuses to close or open it twice.

use serde::{Deserialize, Serialize};

use crate::entries;
use crate::faults::Faults;
use crate::id::{AccountId, KitLotId, ProcedureId, SiteId};
use crate::time::Moment;

/// A series has no personal data.
pub const DISCLOSED: &[&str] = &[];

/// The runs that share their control runs.
///
/// ```
/// use domain::series::{Series, SeriesState};
/// let series: Series = serde_json::from_str(
///     r#"{"code":"2026-03-01/1","site":"019ca869-5003-7d46-b59c-6cf85cca57e4",
///         "procedure":"019ca869-5003-7d46-b59c-6cf85cca57e5",
///         "kit_lot":"019ca869-5003-7d46-b59c-6cf85cca57e6",
///         "opened_at":"2026-03-01T07:00:00Z"}"#)?;
/// assert!(series.check().is_ok());
/// let closed = series.close("2026-03-01T17:00:00Z".parse()?)?;
/// assert_eq!(closed.state, SeriesState::Closed);
/// assert!(closed.close("2026-03-01T18:00:00Z".parse()?).is_err());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Series {
    /// Unique in the laboratory.
    pub code: String,
    /// Where it is worked.
    pub site: SiteId,
    /// By which procedure.
    pub procedure: ProcedureId,
    /// With which kit lot.
    pub kit_lot: KitLotId,
    /// When it was opened.
    pub opened_at: Moment,
    /// By whom.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub opened_by: Option<AccountId>,
    /// Whether it takes runs.
    #[serde(default)]
    pub state: SeriesState,
    /// When it was closed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub closed_at: Option<Moment>,
}

/// Whether a series takes runs.
///
/// ```
/// use domain::series::SeriesState;
/// assert_eq!(serde_json::to_string(&SeriesState::Open)?, "\"open\"");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum SeriesState {
    /// Takes runs.
    #[default]
    Open,
    /// Takes none.
    Closed,
}

/// Why a series does not change, or does not take a run.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum SeriesError {
    /// It is closed.
    #[error("series {code} is closed: open another")]
    Closed {
        /// Its code.
        code: String,
    },
    /// It would close before it was opened.
    #[error("series {code} was opened at {opened_at}: it cannot close before")]
    ClosesBeforeOpening {
        /// Its code.
        code: String,
        /// When it was opened.
        opened_at: Moment,
    },
    /// The run was done by another procedure.
    #[error("series {code} is worked by another procedure")]
    OtherProcedure {
        /// Its code.
        code: String,
    },
    /// The run was done with another kit lot.
    #[error("series {code} is worked with another kit lot")]
    OtherKitLot {
        /// Its code.
        code: String,
    },
}

impl Series {
    /// Gathers what is wrong with the series.
    ///
    /// # Errors
    /// Every fault, with its pointer.
    pub fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        entries::code(&mut faults, "/code", &self.code);
        let closed = self.state == SeriesState::Closed;
        faults.require(closed == self.closed_at.is_some(), "/closed_at", || {
            "a closed series has the time it was closed at, an open one has none".into()
        });
        let ordered = self.closed_at.is_none_or(|at| at >= self.opened_at);
        faults.require(ordered, "/closed_at", || "lies before opened_at".into());
        faults.into_result()
    }

    /// The series, closed at a moment.
    ///
    /// # Errors
    /// [`SeriesError::Closed`] or [`SeriesError::ClosesBeforeOpening`].
    pub fn close(&self, at: Moment) -> Result<Self, SeriesError> {
        let code = self.code.clone();
        if self.state == SeriesState::Closed {
            return Err(SeriesError::Closed { code });
        }
        if at < self.opened_at {
            let opened_at = self.opened_at;
            return Err(SeriesError::ClosesBeforeOpening { code, opened_at });
        }
        Ok(Self {
            state: SeriesState::Closed,
            closed_at: Some(at),
            ..self.clone()
        })
    }

    /// Whether a run may begin in it.
    ///
    /// # Errors
    /// [`SeriesError`] where it is closed, or the run has another procedure or kit lot.
    ///
    /// ```
    /// # use domain::series::Series;
    /// # let series: Series = serde_json::from_str(
    /// #     r#"{"code":"1","site":"019ca869-5003-7d46-b59c-6cf85cca57e4",
    /// #         "procedure":"019ca869-5003-7d46-b59c-6cf85cca57e5",
    /// #         "kit_lot":"019ca869-5003-7d46-b59c-6cf85cca57e6",
    /// #         "opened_at":"2026-03-01T07:00:00Z"}"#)?;
    /// assert!(series.admits(Some(series.procedure), Some(series.kit_lot)).is_ok());
    /// let other = "019ca869-5003-7d46-b59c-6cf85cca57e7".parse()?;
    /// assert!(series.admits(Some(series.procedure), Some(other)).is_err());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn admits(
        &self,
        procedure: Option<ProcedureId>,
        kit_lot: Option<KitLotId>,
    ) -> Result<(), SeriesError> {
        let code = self.code.clone();
        if self.state == SeriesState::Closed {
            Err(SeriesError::Closed { code })
        } else if procedure.is_some_and(|other| other != self.procedure) {
            Err(SeriesError::OtherProcedure { code })
        } else if kit_lot.is_some_and(|other| other != self.kit_lot) {
            Err(SeriesError::OtherKitLot { code })
        } else {
            Ok(())
        }
    }
}
