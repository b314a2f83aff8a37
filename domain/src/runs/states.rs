//! The states of a run: begun, recorded, unassigned, withdrawn.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::{DueDate, Origin, Overdue, Reading, Run, RunContext, RunEntry};
use crate::dilution::{DilutionError, factor_of};
use crate::faults::Faults;
use crate::id::SampleId;

/// How far a run has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum RunState {
    /// The strip develops; nothing is read yet.
    Begun,
    /// Read, and of a sample.
    Recorded,
    /// Read, and of no sample yet.
    Unassigned,
    /// Does not count; stays readable.
    Withdrawn,
}

impl RunState {
    /// The word in records.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Begun => "begun",
            Self::Recorded => "recorded",
            Self::Unassigned => "unassigned",
            Self::Withdrawn => "withdrawn",
        }
    }
}

/// Why a run was not changed.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum RunError {
    /// The state does not allow it.
    #[error("the run is {}: it cannot be {verb}", .state.word())]
    Not {
        /// Its state.
        state: RunState,
        /// What was asked for.
        verb: &'static str,
    },
    /// A correction that changes nothing.
    #[error("the correction changes nothing: the run says so already")]
    NothingChanges,
    /// What it needs is past its date.
    #[error("what the run needs is past its date")]
    Overdue(#[from] Overdue),
    /// What was handed in has faults.
    #[error("the run has faults")]
    Faults(#[from] Faults),
    /// The volumes give no factor.
    #[error("the dilution gives no factor")]
    Dilution(#[from] DilutionError),
}

impl Run {
    /// A run that begins; nothing is read yet.
    ///
    /// # Errors
    /// [`RunError::Overdue`] where a date has passed; the faults of the entry.
    ///
    /// ```
    /// use domain::runs::{Due, DueDate, Run, RunContext, RunEntry, RunError, RunState};
    /// let read: RunEntry = serde_json::from_str(include_str!("example.json"))?;
    /// let beginning = RunEntry { read_at: None, readings: vec![], ..read.clone() };
    /// let today = "2026-03-01".parse()?;
    /// let reader = RunContext { ports: Some(3) };
    /// let run = Run::begin(beginning.clone(), &reader, &[], today)?;
    /// assert_eq!(run.complete(read, &reader)?.state, RunState::Recorded);
    /// let past = DueDate { of: Due::Reagent("D-118".into()), on: "2026-02-28".parse()? };
    /// assert!(matches!(
    ///     Run::begin(beginning, &reader, &[past], today),
    ///     Err(RunError::Overdue(_)),
    /// ));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn begin(
        entry: RunEntry,
        context: &RunContext,
        dates: &[DueDate],
        today: NaiveDate,
    ) -> Result<Self, RunError> {
        entry.check_beginning(context)?;
        Overdue::check(dates, today)?;
        Ok(Self {
            state: RunState::Begun,
            origins: vec![Origin::bench()],
            pipettes_at_hand: Vec::new(),
            differences: Vec::new(),
            factor: factor_of(&entry.dilution)?,
            entry,
        })
    }

    /// A run that was read: recorded, or unassigned where it names no sample. No date refuses it.
    ///
    /// # Errors
    /// The faults of the entry.
    ///
    /// ```
    /// use domain::runs::{Origin, Run, RunContext, RunEntry, RunState};
    /// let entry: RunEntry = serde_json::from_str(include_str!("example.json"))?;
    /// let blank = RunEntry { sample: None, ..entry.clone() };
    /// let run = Run::record(blank, &RunContext::default(), vec![Origin::bench()])?;
    /// assert_eq!(run.state, RunState::Unassigned);
    /// assert_eq!(run.factor.to_string(), "6");
    /// let unread = RunEntry { readings: vec![], ..entry };
    /// assert!(Run::record(unread, &RunContext::default(), vec![]).is_err());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn record(
        entry: RunEntry,
        context: &RunContext,
        origins: Vec<Origin>,
    ) -> Result<Self, RunError> {
        entry.check(context)?;
        Ok(Self {
            state: state_of(&entry),
            origins,
            pipettes_at_hand: Vec::new(),
            differences: Vec::new(),
            factor: factor_of(&entry.dilution)?,
            entry,
        })
    }

    /// A run that was begun is read.
    ///
    /// # Errors
    /// [`RunError::Not`] unless it is begun; the faults of the entry.
    ///
    /// ```
    /// use domain::runs::{Origin, Run, RunContext, RunEntry, RunState};
    /// let entry: RunEntry = serde_json::from_str(include_str!("example.json"))?;
    /// let reader = RunContext { ports: Some(3) };
    /// let run = Run::record(entry.clone(), &reader, vec![Origin::bench()])?;
    /// assert!(run.complete(entry.clone(), &reader).is_err(), "it was read already");
    /// let beginning = RunEntry { read_at: None, readings: vec![], ..entry.clone() };
    /// let begun = Run::begin(beginning, &reader, &[], "2026-03-01".parse()?)?;
    /// assert_eq!(begun.complete(entry, &reader)?.state, RunState::Recorded);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn complete(&self, entry: RunEntry, context: &RunContext) -> Result<Self, RunError> {
        match self.state {
            RunState::Begun => Self::record(entry, context, self.origins.clone()),
            RunState::Recorded | RunState::Unassigned | RunState::Withdrawn => {
                Err(self.refuse("read again"))
            }
        }
    }

    /// An unassigned run gets its sample. Moving one that has a sample is a correction.
    ///
    /// # Errors
    /// [`RunError::Not`] unless it is unassigned.
    ///
    /// ```
    /// use domain::runs::{Run, RunContext, RunEntry, RunError, RunState};
    /// let entry: RunEntry = serde_json::from_str(include_str!("example.json"))?;
    /// let sample = entry.sample.unwrap();
    /// let blank = RunEntry { sample: None, ..entry };
    /// let run = Run::record(blank, &RunContext::default(), vec![])?.assign(sample)?;
    /// assert_eq!((run.state, run.entry.sample), (RunState::Recorded, Some(sample)));
    /// assert!(matches!(run.assign(sample), Err(RunError::Not { .. })));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn assign(&self, sample: SampleId) -> Result<Self, RunError> {
        match self.state {
            RunState::Unassigned => {
                let mut run = self.clone();
                run.state = RunState::Recorded;
                run.entry.sample = Some(sample);
                run.entry.sample_code = None;
                run.entry.lot_code = None;
                Ok(run)
            }
            RunState::Begun | RunState::Recorded | RunState::Withdrawn => {
                Err(self.refuse("assigned to a sample"))
            }
        }
    }

    /// The run no longer counts; it stays readable.
    ///
    /// # Errors
    /// [`RunError::Not`] of one that is withdrawn already.
    ///
    /// ```
    /// use domain::runs::{Origin, Run, RunContext, RunEntry, RunState};
    /// let entry: RunEntry = serde_json::from_str(include_str!("example.json"))?;
    /// let reader = RunContext { ports: Some(3) };
    /// let run = Run::record(entry.clone(), &reader, vec![Origin::bench()])?;
    /// let withdrawn = run.withdraw()?;
    /// assert_eq!(withdrawn.state, RunState::Withdrawn);
    /// assert!(withdrawn.withdraw().is_err());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn withdraw(&self) -> Result<Self, RunError> {
        match self.state {
            RunState::Begun | RunState::Recorded | RunState::Unassigned => Ok(Self {
                state: RunState::Withdrawn,
                ..self.clone()
            }),
            RunState::Withdrawn => Err(self.refuse("withdrawn again")),
        }
    }

    /// Fields are corrected, the sample too: the run may move to another one, or to none.
    ///
    /// # Errors
    /// [`RunError::Not`] of a withdrawn run; [`RunError::NothingChanges`]; the faults of the entry.
    ///
    /// ```
    /// use domain::runs::{Origin, Run, RunContext, RunEntry, RunState};
    /// let entry: RunEntry = serde_json::from_str(include_str!("example.json"))?;
    /// let reader = RunContext { ports: Some(3) };
    /// let run = Run::record(entry.clone(), &reader, vec![Origin::bench()])?;
    /// let undiluted = RunEntry { dilution: vec![], ..entry.clone() };
    /// assert!(run.correct(undiluted, &reader)?.factor.is_one());
    /// assert!(run.correct(entry, &reader).is_err(), "nothing changes");
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn correct(&self, entry: RunEntry, context: &RunContext) -> Result<Self, RunError> {
        let checked = match self.state {
            RunState::Begun => {
                entry.check_beginning(context)?;
                RunState::Begun
            }
            RunState::Recorded | RunState::Unassigned => {
                entry.check(context)?;
                state_of(&entry)
            }
            RunState::Withdrawn => return Err(self.refuse("corrected")),
        };
        if entry == self.entry {
            return Err(RunError::NothingChanges);
        }
        // Elsewhere others stood there.
        let moved = entry.sample != self.entry.sample;
        let at_hand = if moved {
            &[]
        } else {
            self.pipettes_at_hand.as_slice()
        };
        Ok(Self {
            // A correction says which of the two was right.
            differences: Vec::new(),
            pipettes_at_hand: at_hand.to_vec(),
            state: checked,
            origins: self.origins.clone(),
            factor: factor_of(&entry.dilution)?,
            entry,
        })
    }

    /// The run is met again, in an export or at the bench: its other origin is kept too.
    ///
    /// ```
    /// use domain::runs::{Origin, Run, RunContext, RunEntry, RunState};
    /// let entry: RunEntry = serde_json::from_str(include_str!("example.json"))?;
    /// let reader = RunContext { ports: Some(3) };
    /// let run = Run::record(entry.clone(), &reader, vec![Origin::bench()])?;
    /// assert_eq!(run.met_again(Origin::bench()).origins.len(), 1, "the same origin");
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn met_again(&self, origin: Origin) -> Self {
        let mut run = self.clone();
        if !run.origins.contains(&origin) {
            run.origins.push(origin);
        }
        run
    }

    /// An export tells the signals of readings that were typed without them; signals that are there
    /// stay.
    ///
    /// ```
    /// use domain::runs::{Origin, Run, RunContext, RunEntry};
    /// let entry: RunEntry = serde_json::from_str(include_str!("example.json"))?;
    /// let run = Run::record(entry, &RunContext::default(), vec![Origin::bench()])?;
    /// let mut exported = run.entry.readings.clone();
    /// exported[0].signals = serde_json::from_str(r#"{"test_line":"1840"}"#)?;
    /// let told = run.with_signals_of(&exported);
    /// assert_eq!(told.entry.readings[0].signals, exported[0].signals);
    /// exported[0].signals = serde_json::from_str(r#"{"test_line":"9"}"#)?;
    /// assert_eq!(told.with_signals_of(&exported), told);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn with_signals_of(&self, exported: &[Reading]) -> Self {
        let mut run = self.clone();
        for reading in &mut run.entry.readings {
            let told = exported.iter().find(|one| one.analyte == reading.analyte);
            reading.signals = reading.signals.or_else(|| told.and_then(|one| one.signals));
        }
        run
    }

    /// An export tells more of the run: readings of analytes that were not read yet, and where
    /// they stand.
    ///
    /// # Errors
    /// [`RunError::Not`] of a withdrawn run; the faults of the entry with the readings, such as an
    /// analyte read twice.
    ///
    /// ```
    /// use domain::runs::{Origin, Run, RunContext, RunEntry};
    /// let entry: RunEntry = serde_json::from_str(include_str!("example.json"))?;
    /// let (reader, readings) = (RunContext { ports: Some(3) }, entry.readings.clone());
    /// let run = Run::record(entry, &reader, vec![Origin::bench()])?;
    /// let zearalenone = serde_json::from_str(
    ///     r#"{"analyte":"zearalenone","kind":"below","value":"25","unit":"ug/kg"}"#)?;
    /// let more = run.also_read(vec![zearalenone], vec![], &reader)?;
    /// assert_eq!(more.entry.readings.len(), readings.len() + 1);
    /// assert!(run.also_read(readings, vec![], &reader).is_err(), "they were read already");
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn also_read(
        &self,
        readings: Vec<Reading>,
        origins: Vec<Origin>,
        context: &RunContext,
    ) -> Result<Self, RunError> {
        match self.state {
            RunState::Recorded | RunState::Unassigned => {}
            RunState::Begun | RunState::Withdrawn => return Err(self.refuse("read further")),
        }
        let mut run = self.clone();
        run.entry.readings.extend(readings);
        run.entry.check(context)?;
        Ok(origins.into_iter().fold(run, |run, one| run.met_again(one)))
    }

    fn refuse(&self, verb: &'static str) -> RunError {
        RunError::Not {
            state: self.state,
            verb,
        }
    }
}

fn state_of(entry: &RunEntry) -> RunState {
    if entry.sample.is_some() {
        RunState::Recorded
    } else {
        RunState::Unassigned
    }
}
