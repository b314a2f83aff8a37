//! What a recorded run says of an analyte, as a determination states it.
//!
//! Promises the value after the run's dilution, applied once; refuses a run that gave no number
//! and no upper bound.

use rust_decimal::Decimal;

use super::StudyDetermination;
use crate::analytes::Analyte;
use crate::quantity::{Concentration, Number};
use crate::runs::{ReadingKind, Run, RunState};

/// What a run read, µg/kg.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ReadByRun {
    /// A number.
    Value(Number),
    /// Below a bound.
    Below(Number),
}

/// Why a run says nothing that a determination could state.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum NoNumber {
    /// It is under way or withdrawn.
    #[error("the run is {}: it does not count", .0.word())]
    DoesNotCount(RunState),
    /// It did not read the analyte.
    #[error("the run has no reading of the analyte")]
    NotRead,
    /// Its reading is invalid.
    #[error("the run's reading is invalid")]
    Invalid,
    /// It read above its range.
    #[error("the run read above its range: that is no number")]
    Above,
    /// It detected nothing, and below which value is not known.
    #[error("the run detected nothing, and no limit of detection says below what")]
    NotDetected,
    /// The value leaves the range of a decimal.
    #[error("the run's value is too large")]
    TooLarge,
}

/// Places that a computed concentration is kept with.
const PLACES: u32 = 6;

/// What a run says of an analyte; what it did not detect is below `lod`, in µg/kg.
///
/// # Errors
/// [`NoNumber`].
///
/// ```
/// use domain::analytes::Analyte;
/// use domain::runs::{Run, RunContext, RunEntry};
/// use domain::screening_validations::{NoNumber, ReadByRun, read_by_run};
/// let entry: RunEntry = serde_json::from_str(
///     r#"{"port":1,"read_at":"2026-03-01T08:15:00Z","readings":[
///         {"analyte":"zearalenone","kind":"number","value":"0.04","unit":"mg/kg"}]}"#)?;
/// let run = Run::record(entry, &RunContext::default(), vec![])?;
/// let read = read_by_run(&run, Analyte::Zearalenone, None);
/// assert_eq!(read, Ok(ReadByRun::Value("40".parse()?)));
/// let other = read_by_run(&run, Analyte::OchratoxinA, None);
/// assert_eq!(other, Err(NoNumber::NotRead));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn read_by_run(
    run: &Run,
    analyte: Analyte,
    lod: Option<Concentration>,
) -> Result<ReadByRun, NoNumber> {
    match run.state {
        RunState::Recorded | RunState::Unassigned => {}
        RunState::Begun | RunState::Withdrawn => return Err(NoNumber::DoesNotCount(run.state)),
    }
    let reading = run.reading_of(analyte).ok_or(NoNumber::NotRead)?;
    let multiplied = |value: Option<Concentration>, is_multiplied: bool| {
        let value = value.ok_or(NoNumber::TooLarge)?.ug_per_kg();
        if is_multiplied || run.factor.is_one() {
            return Ok(Number(value));
        }
        let value = run.factor.apply(value);
        let value: Decimal = value.map_err(|_too_large| NoNumber::TooLarge)?;
        Ok(Number(value.round_dp(PLACES)))
    };
    let includes_factor = run.entry.value_includes_factor;
    match reading.kind {
        ReadingKind::Number => {
            multiplied(reading.concentration(), includes_factor).map(ReadByRun::Value)
        }
        ReadingKind::Below => {
            multiplied(reading.concentration(), includes_factor).map(ReadByRun::Below)
        }
        ReadingKind::NotDetected => {
            let lod = lod.ok_or(NoNumber::NotDetected)?;
            multiplied(Some(lod), false).map(ReadByRun::Below)
        }
        ReadingKind::Above => Err(NoNumber::Above),
        ReadingKind::Invalid => Err(NoNumber::Invalid),
    }
}

impl ReadByRun {
    /// Whether a determination states the same.
    ///
    /// ```
    /// use domain::screening_validations::{ReadByRun, StudyDetermination};
    /// let one: StudyDetermination =
    ///     serde_json::from_str(r#"{"kind":"positive","on":"2026-03-02","value":"20.40"}"#)?;
    /// assert!(ReadByRun::Value("20.4".parse().unwrap()).is_stated_by(&one));
    /// assert!(!ReadByRun::Below("20.4".parse().unwrap()).is_stated_by(&one));
    /// # Ok::<(), serde_json::Error>(())
    /// ```
    #[must_use]
    pub fn is_stated_by(self, determination: &StudyDetermination) -> bool {
        let same = |stated: Option<Number>, read: Number| stated.is_some_and(|one| one.0 == read.0);
        match self {
            Self::Value(value) => same(determination.value, value) && determination.below.is_none(),
            Self::Below(bound) => same(determination.below, bound) && determination.value.is_none(),
        }
    }

    /// What was read, as people write it.
    #[must_use]
    pub fn shown(self) -> String {
        match self {
            Self::Value(value) => value.to_string(),
            Self::Below(bound) => format!("<{bound}"),
        }
    }
}
