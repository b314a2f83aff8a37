//! The facts about one run that the rules of [`super::evaluate_run`] look at.

use chrono::{FixedOffset, NaiveDate};
use serde::{Deserialize, Serialize};

use crate::accounts::Authorisation;
use crate::analytes::Analyte;
use crate::equipment::{Equipment, SuspectWindow};
use crate::kit_lots::KitLot;
use crate::preparations::Preparation;
use crate::procedures::Procedure;
use crate::quality_control::{ControlSignal, ControlVerdict};
use crate::readers::Reader;
use crate::samples::Sample;
use crate::time::Moment;

/// What was made of the sample for one run, as far as it is recorded.
#[derive(Debug, Clone, Copy, Default)]
pub struct Chain<'a> {
    /// The sample, ground.
    pub ground_sample: Option<&'a Preparation>,
    /// What was weighed of it.
    pub test_portion: Option<&'a Preparation>,
    /// What was put on the strip.
    pub extract: Option<&'a Preparation>,
}

impl<'a> Chain<'a> {
    /// The steps that are recorded, in the order of working.
    pub fn steps(&self) -> impl Iterator<Item = &'a Preparation> + use<'a> {
        [self.ground_sample, self.test_portion, self.extract]
            .into_iter()
            .flatten()
    }
}

/// A piece of equipment, and when it was used for the run.
#[derive(Debug, Clone, Copy)]
pub struct UsedEquipment<'a> {
    /// The piece.
    pub equipment: &'a Equipment,
    /// When it was used: the step's time, or the run's.
    pub used_at: Moment,
    /// The times in doubt that its checks leave.
    pub suspect: &'a [SuspectWindow],
}

/// A member that the bench and the export give differently.
///
/// Of a personal member both values are left empty: a hold names no person.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct OriginDifference {
    /// JSON pointer of the member.
    pub member: String,
    /// What was typed at the bench.
    pub bench: String,
    /// What the reader exported.
    pub export: String,
    /// The analyte, where it is one reading that differs.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub analyte: Option<Analyte>,
}

/// The facts about one run; what is not known is absent, and is held for that.
///
/// ```
/// use domain::holds::RunFacts;
/// let facts = RunFacts::at("2026-03-01T08:20:00Z".parse()?);
/// assert!(facts.procedure.is_none());
/// # Ok::<(), domain::time::MomentError>(())
/// ```
#[derive(Debug, Clone, Copy)]
pub struct RunFacts<'a> {
    /// When the run was first recorded: a clock ahead then stays ahead when it is asked again.
    pub recorded_at: Moment,
    /// Offset of the site's time zone from UTC at the time read, in s: gives local dates.
    pub utc_offset_s: i32,
    /// The sample.
    pub sample: Option<&'a Sample>,
    /// The sample's commodity, and everything that it is a kind of.
    pub commodities: &'a [String],
    /// What was made of the sample.
    pub chain: Chain<'a>,
    /// The procedure worked by.
    pub procedure: Option<&'a Procedure>,
    /// The kit lot.
    pub kit_lot: Option<&'a KitLot>,
    /// The reader.
    pub reader: Option<&'a Reader>,
    /// The times in doubt that the reader's checks leave.
    pub reader_suspect: &'a [SuspectWindow],
    /// What else was used, for preparation and dilution.
    pub equipment: &'a [UsedEquipment<'a>],
    /// What the controls of the series say for each analyte; none where it has no series.
    pub controls: &'a [(Analyte, ControlVerdict)],
    /// The rules that the nearest control runs of the series complete; looked at by rules number 2.
    pub control_signals: &'a [ControlSignal],
    /// What the analyst is authorised for.
    pub authorisations: &'a [Authorisation],
    /// Where bench and export differ.
    pub origin_differences: &'a [OriginDifference],
}

impl RunFacts<'_> {
    /// Nothing known but when the run was first recorded.
    #[must_use]
    pub const fn at(recorded_at: Moment) -> Self {
        Self {
            recorded_at,
            utc_offset_s: 0,
            sample: None,
            commodities: &[],
            chain: Chain {
                ground_sample: None,
                test_portion: None,
                extract: None,
            },
            procedure: None,
            kit_lot: None,
            reader: None,
            reader_suspect: &[],
            equipment: &[],
            controls: &[],
            control_signals: &[],
            authorisations: &[],
            origin_differences: &[],
        }
    }

    /// The local day of a moment at the site.
    ///
    /// ```
    /// use domain::holds::RunFacts;
    /// let facts = RunFacts {
    ///     utc_offset_s: 3600,
    ///     ..RunFacts::at("2026-03-01T08:20:00Z".parse()?)
    /// };
    /// let day = facts.local_day("2026-03-01T23:30:00Z".parse()?);
    /// assert_eq!(day.to_string(), "2026-03-02");
    /// # Ok::<(), domain::time::MomentError>(())
    /// ```
    #[must_use]
    pub fn local_day(&self, moment: Moment) -> NaiveDate {
        match FixedOffset::east_opt(self.utc_offset_s) {
            Some(offset) => moment.utc().with_timezone(&offset).date_naive(),
            None => moment.utc().date_naive(),
        }
    }
}
