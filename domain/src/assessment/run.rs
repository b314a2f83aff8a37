//! What is amiss with one run, from everything that bears on it, and which versions that is.

use chrono::{Offset as _, TimeZone as _};

use super::{Dossier, RecordedRun, SharedFacts};
use crate::analytes::Analyte;
use crate::equipment::{Doubts, Equipment, SuspectWindow};
use crate::holds::{Chain, HoldDraft, RunFacts, UsedEquipment, evaluate_run_by};
use crate::kit_lots::KitLot;
use crate::preparations::{Preparation, PreparationKind};
use crate::procedures::Procedure;
use crate::quality_control::{
    SeriesRun, as_seen_by, bearing, rules_bearing, signals_for, verdicts_for,
};
use crate::readers::Reader;
use crate::results::{Facts, UnknownRules};
use crate::samples::Purpose;
use crate::sites::Site;
use crate::time::Moment;
use crate::versions::{SubjectVersion, in_order};

/// A piece of equipment, when it was used, and its times in doubt.
struct Used<'a> {
    equipment: Facts<'a, Equipment>,
    at: Moment,
    doubts: Option<&'a Doubts>,
}

/// Everything that bears on one run, found once for its holds and for their sources.
pub struct RunBackground<'a> {
    shared: &'a dyn SharedFacts,
    dossier: Option<&'a Dossier<'a>>,
    run: RecordedRun<'a>,
    series: &'a [SeriesRun],
    steps: Vec<Facts<'a, Preparation>>,
    procedure: Option<Facts<'a, Procedure>>,
    kit_lot: Option<Facts<'a, KitLot>>,
    reader: Option<Facts<'a, Reader>>,
    site: Option<Facts<'a, Site>>,
    used: Vec<Used<'a>>,
}

impl<'a> RunBackground<'a> {
    /// Looks up what bears on a run: `dossier` where it has a sample, `series` the runs of its
    /// series, itself among them.
    #[must_use]
    pub fn of(
        shared: &'a dyn SharedFacts,
        dossier: Option<&'a Dossier<'a>>,
        run: RecordedRun<'a>,
        series: &'a [SeriesRun],
    ) -> Self {
        let entry = &run.run.entry;
        let reader = entry.reader.and_then(|id| shared.reader(id));
        let site = dossier
            .and_then(|one| one.sample.content.site)
            .or_else(|| reader.and_then(|one| one.content.site));
        let steps = dossier.map_or_else(Vec::new, |one| steps_of(one, &run));
        let used = used_equipment(shared, &steps, &run);
        Self {
            shared,
            dossier,
            run,
            series,
            steps,
            procedure: entry.procedure.and_then(|id| shared.procedure(id)),
            kit_lot: entry.kit_lot.and_then(|id| shared.kit_lot(id)),
            reader,
            site: site.and_then(|id| shared.site(id)),
            used,
        }
    }

    /// The holds of the run by the rules of a number.
    ///
    /// # Errors
    /// [`UnknownRules`].
    pub fn holds(&self, rules: u32) -> Result<Vec<HoldDraft>, UnknownRules> {
        let entry = &self.run.run.entry;
        let sample = self.dossier.map(|one| one.sample.content);
        let doubts = self.reader_doubts();
        let equipment: Vec<UsedEquipment<'_>> = self
            .used
            .iter()
            .map(|used| UsedEquipment {
                equipment: used.equipment.content,
                used_at: used.at,
                suspect: windows(used.doubts),
            })
            .collect();
        let controls = match self.counts_in_series() {
            true => {
                let controls = self.procedure.map(|one| &one.content.entry.controls);
                let most = controls.and_then(|one| one.maximum_runs_between);
                let series = as_seen_by(rules, self.series);
                verdicts_for(self.run.id(), &series, &self.analytes(), most)
            }
            false => Vec::new(),
        };
        let signals = match self.counts_in_series() {
            true => signals_for(self.run.id(), self.series, &self.analytes()),
            false => Vec::new(),
        };
        let account = entry.analyst.and_then(|id| self.shared.account(id));
        evaluate_run_by(
            rules,
            self.run.run,
            &RunFacts {
                recorded_at: self.run.recorded_at,
                utc_offset_s: utc_offset_s(self.site.map(|one| one.content), entry.read_at),
                sample,
                commodities: sample
                    .map(|one| self.shared.commodity_line(&one.commodity))
                    .unwrap_or_default(),
                chain: self.chain(),
                procedure: self.procedure.map(|one| one.content),
                kit_lot: self.kit_lot.map(|one| one.content),
                reader: self.reader.map(|one| one.content),
                reader_suspect: windows(doubts),
                equipment: &equipment,
                controls: &controls,
                control_signals: &signals,
                authorisations: account
                    .map(|one| one.content.authorisations.as_slice())
                    .unwrap_or_default(),
                origin_differences: &self.run.run.differences,
            },
        )
    }

    /// Every version that the holds by the rules of a number came from, sorted by subject.
    #[must_use]
    pub fn sources(&self, rules: u32) -> Vec<SubjectVersion> {
        let entry = &self.run.run.entry;
        let account = entry.analyst.and_then(|id| self.shared.account(id));
        let mut from = vec![self.run.source];
        from.extend(self.dossier.map(|one| one.sample.source));
        from.extend(self.steps.iter().map(|step| step.source));
        from.extend(self.procedure.map(|one| one.source));
        from.extend(self.kit_lot.map(|one| one.source));
        from.extend(self.reader.map(|one| one.source));
        from.extend(self.site.map(|one| one.source));
        from.extend(account.map(|one| one.source));
        for used in &self.used {
            from.push(used.equipment.source);
            from.extend(used.doubts.iter().flat_map(|one| one.bearing(used.at)));
        }
        if let (Some(doubts), Some(read_at)) = (self.reader_doubts(), entry.read_at) {
            from.extend(doubts.bearing(read_at));
        }
        if self.counts_in_series() {
            from.extend(bearing(self.run.id(), self.series, &self.analytes()));
            if rules > 1 {
                from.extend(rules_bearing(self.run.id(), self.series, &self.analytes()));
            }
        }
        in_order(from)
    }

    fn reader_doubts(&self) -> Option<&'a Doubts> {
        self.reader
            .and_then(|one| self.shared.doubts(one.source.subject))
    }

    /// Controls cover the runs of samples; a control run is covered by none.
    fn counts_in_series(&self) -> bool {
        let purpose = self.dossier.map(|one| one.sample.content.purpose);
        self.run.run.entry.series.is_some() && purpose != Some(Purpose::Control)
    }

    fn analytes(&self) -> Vec<Analyte> {
        let readings = self.run.run.entry.readings.iter();
        readings.map(|reading| reading.analyte).collect()
    }

    fn chain(&self) -> Chain<'a> {
        let mut chain = Chain::default();
        for step in &self.steps {
            let place = match step.content.kind {
                PreparationKind::Extract => &mut chain.extract,
                PreparationKind::TestPortion => &mut chain.test_portion,
                PreparationKind::GroundSample => &mut chain.ground_sample,
            };
            *place = Some(step.content);
        }
        chain
    }
}

fn windows(doubts: Option<&Doubts>) -> &[SuspectWindow] {
    doubts
        .map(|doubts| doubts.windows.as_slice())
        .unwrap_or_default()
}

/// Extract, test portion and ground sample of a run, as far as they are recorded, one of each.
fn steps_of<'a>(dossier: &Dossier<'a>, run: &RecordedRun<'_>) -> Vec<Facts<'a, Preparation>> {
    let mut steps: Vec<Facts<'a, Preparation>> = Vec::new();
    let mut next = run.run.entry.extract;
    while let Some(step) = next.and_then(|id| dossier.preparation(id)) {
        let kind = step.content.kind;
        if steps.iter().any(|other| other.content.kind == kind) {
            break; // a loop among parents: what was found stands
        }
        steps.push(step);
        next = step.content.parent;
    }
    steps
}

/// What the steps and the dilution used; what was used at no known time is left out.
fn used_equipment<'a>(
    shared: &'a dyn SharedFacts,
    steps: &[Facts<'a, Preparation>],
    run: &RecordedRun<'_>,
) -> Vec<Used<'a>> {
    let chain = [
        PreparationKind::GroundSample,
        PreparationKind::TestPortion,
        PreparationKind::Extract,
    ];
    let for_steps = chain
        .iter()
        .filter_map(|kind| steps.iter().find(|step| step.content.kind == *kind))
        .flat_map(|step| {
            let at = step.content.at;
            step.content.equipment.iter().map(move |id| (*id, Some(at)))
        });
    let entry = &run.run.entry;
    let run_at = entry.begun_at.or(entry.read_at);
    let for_dilution = entry
        .dilution
        .iter()
        .flat_map(|step| [step.pipette, step.diluent_pipette])
        .flatten()
        .map(|id| (id, run_at));
    for_steps
        .chain(for_dilution)
        .filter_map(|(id, at)| {
            Some(Used {
                equipment: shared.equipment(id)?,
                at: at?,
                doubts: shared.doubts(id.0),
            })
        })
        .collect()
}

/// Offset of a site's time zone from UTC at a moment, in s; 0 where either is not known.
///
/// ```
/// use domain::assessment::utc_offset_s;
/// assert_eq!(utc_offset_s(None, Some("2026-07-01T08:00:00Z".parse()?)), 0);
/// # Ok::<(), domain::time::MomentError>(())
/// ```
#[must_use]
pub fn utc_offset_s(site: Option<&Site>, at: Option<Moment>) -> i32 {
    let zone = site.and_then(|one| one.time_zone.parse::<chrono_tz::Tz>().ok());
    match (zone, at) {
        (Some(zone), Some(at)) => zone
            .offset_from_utc_datetime(&at.utc().naive_utc())
            .fix()
            .local_minus_utc(),
        _ => 0,
    }
}
