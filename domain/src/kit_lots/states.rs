//! The states of a kit lot, and the tests that are left of it.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::{KitLot, KitLotEntry, KitLotReceipt};
use crate::faults::Faults;
use crate::id::RunId;

/// How far a kit lot has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum KitLotState {
    /// Received, not yet accepted.
    Quarantined,
    /// Worked with.
    Accepted,
    /// Not worked with.
    Rejected,
    /// No test is left.
    Exhausted,
    /// Taken back by who made it.
    Recalled,
}

impl KitLotState {
    /// The word in records.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Quarantined => "quarantined",
            Self::Accepted => "accepted",
            Self::Rejected => "rejected",
            Self::Exhausted => "exhausted",
            Self::Recalled => "recalled",
        }
    }
}

/// Why a kit lot was not changed.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum KitLotError {
    /// The state does not allow it.
    #[error("kit lot {code} is {}: it cannot be {verb}", .state.word())]
    Not {
        /// The lot's code.
        code: String,
        /// Its state.
        state: KitLotState,
        /// What was asked for.
        verb: &'static str,
    },
    /// Tests are left.
    #[error("kit lot {code} has {left} tests left: it is not exhausted")]
    TestsLeft {
        /// The lot's code.
        code: String,
        /// How many.
        left: u64,
    },
    /// It cannot be compared with the lot that was named.
    #[error("kit lot {code} cannot be compared with {with}: {why}")]
    NotComparable {
        /// The lot's code.
        code: String,
        /// The other lot's code.
        with: String,
        /// Why.
        why: String,
    },
    /// The procedure's criterion does not bear the acceptance out, and no reason is given.
    #[error("kit lot {code}: {why}")]
    NotBorneOut {
        /// The lot's code.
        code: String,
        /// What is missing, or what the comparison says.
        why: String,
    },
    /// What was handed in has faults.
    #[error("the kit lot has faults")]
    Faults(#[from] Faults),
}

impl KitLot {
    /// A lot as it arrives: quarantined.
    ///
    /// # Errors
    /// The faults of the entry.
    ///
    /// ```
    /// use domain::kit_lots::{KitLot, KitLotError, KitLotState};
    /// let entry = serde_json::from_str(include_str!("example.json"))?;
    /// let lot = KitLot::quarantine(entry)?.accept(vec![])?;
    /// assert_eq!(lot.tests_left(90), 6);
    /// assert!(matches!(lot.exhaust(90), Err(KitLotError::TestsLeft { left: 6, .. })));
    /// assert_eq!(lot.exhaust(96)?.state, KitLotState::Exhausted);
    /// assert!(lot.recall()?.accept(vec![]).is_err());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn quarantine(entry: KitLotEntry) -> Result<Self, KitLotError> {
        entry.check()?;
        Ok(Self {
            state: KitLotState::Quarantined,
            acceptance_runs: Vec::new(),
            comparison: None,
            entry,
        })
    }

    /// The lot is worked with; `runs` are those that it was accepted on.
    ///
    /// # Errors
    /// [`KitLotError::Not`] unless it is quarantined.
    ///
    /// ```
    /// use domain::kit_lots::{KitLot, KitLotState};
    /// let lot = KitLot::quarantine(serde_json::from_str(include_str!("example.json"))?)?;
    /// let accepted = lot.accept(vec![])?;
    /// assert_eq!(accepted.state, KitLotState::Accepted);
    /// assert!(accepted.accept(vec![]).is_err());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn accept(&self, runs: Vec<RunId>) -> Result<Self, KitLotError> {
        match self.state {
            KitLotState::Quarantined => Ok(Self {
                acceptance_runs: runs,
                ..self.with(KitLotState::Accepted)
            }),
            KitLotState::Accepted
            | KitLotState::Rejected
            | KitLotState::Exhausted
            | KitLotState::Recalled => Err(self.refuse("accepted")),
        }
    }

    /// The lot is not worked with, or no longer; `runs` are those that it was rejected on.
    ///
    /// # Errors
    /// [`KitLotError::Not`] of one that is rejected or recalled already.
    ///
    /// ```
    /// use domain::kit_lots::{KitLot, KitLotState};
    /// let lot = KitLot::quarantine(serde_json::from_str(include_str!("example.json"))?)?;
    /// let rejected = lot.reject(vec![])?;
    /// assert_eq!(rejected.state, KitLotState::Rejected);
    /// assert!(rejected.reject(vec![]).is_err());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn reject(&self, runs: Vec<RunId>) -> Result<Self, KitLotError> {
        match self.state {
            KitLotState::Quarantined | KitLotState::Accepted | KitLotState::Exhausted => Ok(Self {
                acceptance_runs: runs,
                ..self.with(KitLotState::Rejected)
            }),
            KitLotState::Rejected | KitLotState::Recalled => Err(self.refuse("rejected")),
        }
    }

    /// Who made it takes it back, whatever became of it here.
    ///
    /// # Errors
    /// [`KitLotError::Not`] of one that is recalled already.
    ///
    /// ```
    /// use domain::kit_lots::{KitLot, KitLotState};
    /// let lot = KitLot::quarantine(serde_json::from_str(include_str!("example.json"))?)?;
    /// let recalled = lot.reject(vec![])?.recall()?;
    /// assert_eq!(recalled.state, KitLotState::Recalled);
    /// assert!(recalled.recall().is_err());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn recall(&self) -> Result<Self, KitLotError> {
        match self.state {
            KitLotState::Quarantined
            | KitLotState::Accepted
            | KitLotState::Rejected
            | KitLotState::Exhausted => Ok(self.with(KitLotState::Recalled)),
            KitLotState::Recalled => Err(self.refuse("recalled")),
        }
    }

    /// More of the lot arrived; an exhausted lot, which was accepted once, is accepted again.
    ///
    /// # Errors
    /// [`KitLotError::Not`] of a rejected or recalled one; the faults of the receipt.
    ///
    /// ```
    /// use domain::kit_lots::{KitLot, KitLotState};
    /// let lot = KitLot::quarantine(serde_json::from_str(include_str!("example.json"))?)?;
    /// let receipt = lot.entry.receipts[0];
    /// assert_eq!(lot.receive(receipt)?.tests_received(), 192);
    /// assert!(lot.reject(vec![])?.receive(receipt).is_err());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn receive(&self, receipt: KitLotReceipt) -> Result<Self, KitLotError> {
        let state = match self.state {
            KitLotState::Quarantined => KitLotState::Quarantined,
            KitLotState::Accepted | KitLotState::Exhausted => KitLotState::Accepted,
            KitLotState::Rejected | KitLotState::Recalled => return Err(self.refuse("received")),
        };
        receipt.check()?;
        let mut lot = self.with(state);
        lot.entry.receipts.push(receipt);
        Ok(lot)
    }

    /// No test is left of it.
    ///
    /// # Errors
    /// [`KitLotError::Not`] unless it is accepted; [`KitLotError::TestsLeft`].
    ///
    /// ```
    /// use domain::kit_lots::{KitLot, KitLotState};
    /// let lot = KitLot::quarantine(serde_json::from_str(include_str!("example.json"))?)?;
    /// let accepted = lot.accept(vec![])?;
    /// assert_eq!(accepted.exhaust(96)?.state, KitLotState::Exhausted);
    /// assert!(accepted.exhaust(95).is_err(), "one is left");
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn exhaust(&self, tests_used: u64) -> Result<Self, KitLotError> {
        match (self.state, self.tests_left(tests_used)) {
            (KitLotState::Accepted, 0) => Ok(self.with(KitLotState::Exhausted)),
            (KitLotState::Accepted, left) => Err(KitLotError::TestsLeft {
                code: self.entry.code.clone(),
                left,
            }),
            (
                KitLotState::Quarantined
                | KitLotState::Rejected
                | KitLotState::Exhausted
                | KitLotState::Recalled,
                _,
            ) => Err(self.refuse("exhausted")),
        }
    }

    /// What was entered is mended; the state stays.
    ///
    /// # Errors
    /// The faults of the entry.
    ///
    /// ```
    /// use domain::kit_lots::{KitLot, KitLotState};
    /// let lot = KitLot::quarantine(serde_json::from_str(include_str!("example.json"))?)?;
    /// let mut entry = lot.entry.clone();
    /// entry.curve_lot = "C-2602".into();
    /// assert_eq!(lot.amend(entry.clone())?.entry.curve_lot, "C-2602");
    /// entry.matrices.clear();
    /// assert!(lot.amend(entry).is_err());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn amend(&self, entry: KitLotEntry) -> Result<Self, KitLotError> {
        entry.check()?;
        Ok(Self {
            entry,
            ..self.clone()
        })
    }

    /// Tests received less tests used; none where more were run than were received.
    ///
    /// ```
    /// use domain::kit_lots::{KitLot, KitLotState};
    /// let lot = KitLot::quarantine(serde_json::from_str(include_str!("example.json"))?)?;
    /// assert_eq!((lot.tests_left(90), lot.tests_left(97)), (6, 0));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn tests_left(&self, tests_used: u64) -> u64 {
        self.tests_received().saturating_sub(tests_used)
    }

    /// Tests received, in all deliveries.
    ///
    /// ```
    /// use domain::kit_lots::{KitLot, KitLotState};
    /// let lot = KitLot::quarantine(serde_json::from_str(include_str!("example.json"))?)?;
    /// assert_eq!(lot.tests_received(), 96);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn tests_received(&self) -> u64 {
        self.entry.receipts.iter().fold(0_u64, |sum, receipt| {
            sum.saturating_add(receipt.tests.into())
        })
    }

    /// Whether the lot may be worked with on a day: accepted, and not past its date.
    ///
    /// ```
    /// use domain::kit_lots::{KitLot, KitLotState};
    /// let lot = KitLot::quarantine(serde_json::from_str(include_str!("example.json"))?)?;
    /// let accepted = lot.accept(vec![])?;
    /// assert!(accepted.usable("2026-12-31".parse()?), "its last day is good");
    /// assert!(!accepted.usable("2027-01-01".parse()?));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn usable(&self, on: NaiveDate) -> bool {
        self.state == KitLotState::Accepted && !self.past_its_date(on)
    }

    /// Whether the lot, or a packet of it, is past its date.
    ///
    /// ```
    /// use domain::kit_lots::{KitLot, KitLotState};
    /// let lot = KitLot::quarantine(serde_json::from_str(include_str!("example.json"))?)?;
    /// assert!(!lot.past_its_date("2026-12-31".parse()?));
    /// assert!(lot.past_its_date("2027-01-01".parse()?));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn past_its_date(&self, on: NaiveDate) -> bool {
        self.entry.expires_on < on
            || self
                .entry
                .packets
                .iter()
                .filter_map(|packet| packet.expires_on)
                .any(|expires_on| expires_on < on)
    }

    fn with(&self, state: KitLotState) -> Self {
        Self {
            state,
            ..self.clone()
        }
    }

    fn refuse(&self, verb: &'static str) -> KitLotError {
        KitLotError::Not {
            code: self.entry.code.clone(),
            state: self.state,
            verb,
        }
    }
}
