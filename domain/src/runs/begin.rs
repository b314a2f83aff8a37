//! Whether a run may begin: not on equipment, kits or reagents past their date.

use chrono::NaiveDate;

use crate::id::{EquipmentId, KitLotId, ReaderId};

/// What a date is of.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Due {
    /// Calibration of the reader.
    ReaderCalibration(ReaderId),
    /// Intermediate check of the reader.
    ReaderCheck(ReaderId),
    /// Calibration of a piece of equipment.
    EquipmentCalibration(EquipmentId),
    /// Intermediate check of a piece of equipment.
    EquipmentCheck(EquipmentId),
    /// The last day of the kit lot, or of a packet of it.
    KitLot(KitLotId),
    /// The last day of a reagent, by its lot number.
    Reagent(String),
}

/// A date, and what it is of; the day itself is still good.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DueDate {
    /// What the date is of.
    pub of: Due,
    /// The last good day.
    pub on: NaiveDate,
}

/// A run may not begin: some of what it needs is past its date.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("a run may not begin: {}", listed(.0))]
pub struct Overdue(pub Vec<DueDate>);

fn listed(dates: &[DueDate]) -> String {
    let sentences: Vec<String> = dates.iter().map(ToString::to_string).collect();
    sentences.join("; ")
}

impl std::fmt::Display for DueDate {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let on = self.on;
        match &self.of {
            Due::ReaderCalibration(_) => write!(f, "the reader's calibration was due on {on}"),
            Due::ReaderCheck(_) => write!(f, "the reader's check was due on {on}"),
            Due::EquipmentCalibration(id) => write!(f, "calibration of {id} was due on {on}"),
            Due::EquipmentCheck(id) => write!(f, "the check of {id} was due on {on}"),
            Due::KitLot(_) => write!(f, "the kit lot, or a packet of it, expired on {on}"),
            Due::Reagent(lot) => write!(f, "reagent lot {lot} expired on {on}"),
        }
    }
}

impl Overdue {
    /// What of the dates lies before `today`; nothing where all are good.
    ///
    /// # Errors
    /// All that are past.
    ///
    /// ```
    /// use domain::runs::{Due, DueDate, Overdue};
    /// let date = DueDate { of: Due::Reagent("D-118".into()), on: "2026-03-01".parse()? };
    /// assert!(Overdue::check(&[date.clone()], "2026-03-01".parse()?).is_ok());
    /// assert!(Overdue::check(&[date], "2026-03-02".parse()?).is_err());
    /// # Ok::<(), chrono::ParseError>(())
    /// ```
    pub fn check(dates: &[DueDate], today: NaiveDate) -> Result<(), Self> {
        let past: Vec<DueDate> = dates
            .iter()
            .filter(|date| date.on < today)
            .cloned()
            .collect();
        if past.is_empty() {
            Ok(())
        } else {
            Err(Self(past))
        }
    }
}
