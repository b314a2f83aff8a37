//! The versions that one derived record names, as what its computation takes.
//!
//! Promises that nothing else is looked at: what a record does not name is not known.

use std::collections::HashMap;
use std::sync::Arc;

use uuid::Uuid;

use super::recorded::{RecordedContent, RecordedVersion};
use super::{Dossier, RecordedRun, SharedFacts};
use crate::accounts::Account;
use crate::commodities::{Vocabulary, VocabularyError};
use crate::control_materials::ControlMaterial;
use crate::equipment::{Checked, Doubts, Equipment};
use crate::id::{
    AccountId, ControlMaterialId, EquipmentId, KitLotId, ProcedureId, ReaderId, SampleId, SeriesId,
    SiteId,
};
use crate::kit_lots::KitLot;
use crate::limits::Limit;
use crate::preparations::Preparation;
use crate::procedures::Procedure;
use crate::quality_control::{
    ControlValue, JudgedByRules, SeriesRun, control_values, control_verdicts, judge_series,
    verdicts_as_read,
};
use crate::readers::Reader;
use crate::results::Facts;
use crate::runs::{Run, RunState};
use crate::samples::Purpose;
use crate::sites::Site;
use crate::time::Moment;
use crate::versions::SubjectVersion;

/// Commodities and uses, with what each commodity is a kind of: the same for every record.
#[derive(Debug, Clone)]
pub struct Goods {
    /// Commodities and uses.
    pub vocabulary: Vocabulary,
    lines: HashMap<String, Vec<String>>,
}

impl Goods {
    /// The goods that are shipped with this program.
    ///
    /// # Errors
    /// [`VocabularyError`].
    ///
    /// ```
    /// use domain::assessment::Goods;
    /// let goods = Goods::shipped()?;
    /// assert!(goods.line("maize-grain").contains(&"maize-grain".to_owned()));
    /// assert!(goods.line("corn").is_empty());
    /// # Ok::<(), domain::commodities::VocabularyError>(())
    /// ```
    pub fn shipped() -> Result<Self, VocabularyError> {
        let vocabulary = Vocabulary::shipped()?;
        let goods = &vocabulary.commodities;
        let line = |id: &str| -> Vec<String> {
            let above = goods.entries().iter();
            above
                .filter(|other| goods.is_within(id, &other.id))
                .map(|other| other.id.clone())
                .collect()
        };
        let entries = goods.entries().iter();
        let lines = entries
            .map(|entry| (entry.id.clone(), line(&entry.id)))
            .collect();
        Ok(Self { vocabulary, lines })
    }

    /// A commodity and everything that it is a kind of; nothing for what is no commodity.
    #[must_use]
    pub fn line(&self, commodity: &str) -> &[String] {
        self.lines
            .get(commodity)
            .map(Vec::as_slice)
            .unwrap_or_default()
    }
}

/// The content of one kind.
macro_rules! only {
    ($kind:ident) => {
        |content| {
            if let RecordedContent::$kind(one) = content {
                Some(one)
            } else {
                None
            }
        }
    };
}

/// The versions that a record names.
pub struct NamedVersions<'a> {
    goods: &'a Goods,
    versions: Vec<Arc<RecordedVersion>>,
    /// When version 1 of each run among them was recorded.
    begun: HashMap<Uuid, Moment>,
    doubts: HashMap<Uuid, Doubts>,
    limits: Vec<Limit>,
    limit_sources: Vec<SubjectVersion>,
}

impl<'a> NamedVersions<'a> {
    /// Gathers them; `begun` says when version 1 of a run was recorded.
    #[must_use]
    pub fn new(
        goods: &'a Goods,
        versions: Vec<Arc<RecordedVersion>>,
        begun: HashMap<Uuid, Moment>,
    ) -> Self {
        let mut checks: HashMap<Uuid, Vec<_>> = HashMap::new();
        let (mut limits, mut limit_sources) = (Vec::new(), Vec::new());
        for version in &versions {
            if let RecordedContent::EquipmentCheck(check) = &version.content {
                let of = match check.of {
                    Checked::Equipment(id) => id.0,
                    Checked::Reader(id) => id.0,
                };
                checks.entry(of).or_default().push((version.source, check));
            }
            if let RecordedContent::Limit(limit) = &version.content {
                limits.push(limit.clone());
                limit_sources.push(version.source);
            }
        }
        let doubts = checks
            .into_iter()
            .map(|(of, checks)| (of, Doubts::of(checks.into_iter())))
            .collect();
        Self {
            goods,
            versions,
            begun,
            doubts,
            limits,
            limit_sources,
        }
    }

    fn find<'s, T>(
        &'s self,
        id: Uuid,
        take: impl Fn(&'s RecordedContent) -> Option<&'s T>,
    ) -> Option<Facts<'s, T>> {
        let named = self.versions.iter().find(|one| one.source.subject == id)?;
        Some(Facts {
            source: named.source,
            content: take(&named.content)?,
        })
    }

    /// What there is of a sample among them.
    #[must_use]
    pub fn dossier(&self, sample: SampleId) -> Option<Dossier<'_>> {
        let sample = self.find(sample.0, only!(Sample))?;
        let lot = sample
            .content
            .lot
            .and_then(|id| self.find(id.0, only!(Lot)));
        let of_lot = lot.and_then(|lot| lot.content.order);
        let order = sample
            .content
            .order
            .or(of_lot)
            .and_then(|id| self.find(id.0, only!(Order)));
        let id = SampleId(sample.source.subject);
        let preparations = self.versions.iter().filter_map(|one| {
            Some(Facts {
                source: one.source,
                content: if_preparation(&one.content)?,
            })
        });
        Some(Dossier {
            sample,
            lot,
            sampling: sample
                .content
                .sampling
                .and_then(|id| self.find(id.0, only!(Sampling))),
            order,
            preparations: preparations.collect(),
            runs: self
                .runs()
                .filter(|recorded| recorded.run.entry.sample == Some(id))
                .collect(),
        })
    }

    /// The runs among them.
    pub fn runs(&self) -> impl Iterator<Item = RecordedRun<'_>> {
        self.versions.iter().filter_map(|one| {
            Some(RecordedRun {
                source: one.source,
                run: if_run(&one.content)?,
                recorded_at: *self.begun.get(&one.source.subject)?,
            })
        })
    }

    /// A control run's sample and material among them; none where it is no control.
    fn control_of(&self, run: &Run) -> Option<ControlOf<'_>> {
        let sample = run
            .entry
            .sample
            .and_then(|id| self.find(id.0, only!(Sample)))?;
        (sample.content.purpose == Purpose::Control).then(|| ControlOf {
            sample: sample.source,
            material: sample
                .content
                .control_material
                .and_then(|id| self.find(id.0, only!(ControlMaterial))),
        })
    }

    /// What the control runs among them gave, of whatever series.
    fn control_values(&self) -> Vec<ControlValue> {
        let mut found = Vec::new();
        for recorded in self
            .runs()
            .filter(|one| one.run.state == RunState::Recorded)
        {
            if let Some(control) = self.control_of(recorded.run)
                && let Some(material) = control.material
            {
                let from = [recorded.source, control.sample];
                found.extend(control_values(recorded.id(), recorded.run, material, &from));
            }
        }
        found
    }

    /// The runs of a series among them; a control is one whose sample is named, for that purpose.
    #[must_use]
    pub fn series(&self, series: SeriesId) -> Vec<SeriesRun> {
        let mut found = Vec::new();
        for recorded in self.runs() {
            let entry = &recorded.run.entry;
            let counts = matches!(
                recorded.run.state,
                RunState::Recorded | RunState::Unassigned
            );
            let (true, Some(read_at)) = (counts && entry.series == Some(series), entry.read_at)
            else {
                continue;
            };
            let mut from = vec![recorded.source];
            let mut as_read = None;
            let control = self.control_of(recorded.run).map(|control| {
                from.push(control.sample);
                from.extend(control.material.map(|one| one.source));
                let material = control.material.map(|one| one.content);
                as_read = verdicts_as_read(recorded.run, material);
                control_verdicts(recorded.run, material)
            });
            found.push(SeriesRun {
                run: recorded.id(),
                read_at,
                control,
                as_read,
                from,
                rules: JudgedByRules::default(),
            });
        }
        judge_series(&mut found, &self.control_values());
        found
    }
}

/// The sample of a control run, and its material where that is known.
struct ControlOf<'a> {
    sample: SubjectVersion,
    material: Option<Facts<'a, ControlMaterial>>,
}

impl SharedFacts for NamedVersions<'_> {
    fn procedure(&self, id: ProcedureId) -> Option<Facts<'_, Procedure>> {
        self.find(id.0, only!(Procedure))
    }

    fn kit_lot(&self, id: KitLotId) -> Option<Facts<'_, KitLot>> {
        self.find(id.0, only!(KitLot))
    }

    fn control_material(&self, id: ControlMaterialId) -> Option<Facts<'_, ControlMaterial>> {
        self.find(id.0, only!(ControlMaterial))
    }

    fn reader(&self, id: ReaderId) -> Option<Facts<'_, Reader>> {
        self.find(id.0, only!(Reader))
    }

    fn equipment(&self, id: EquipmentId) -> Option<Facts<'_, Equipment>> {
        self.find(id.0, only!(Equipment))
    }

    fn all_equipment(&self) -> Vec<Facts<'_, Equipment>> {
        let named = self.versions.iter();
        named
            .filter_map(|one| self.equipment(EquipmentId(one.source.subject)))
            .collect()
    }

    fn doubts(&self, of: Uuid) -> Option<&Doubts> {
        self.doubts.get(&of)
    }

    fn site(&self, id: SiteId) -> Option<Facts<'_, Site>> {
        self.find(id.0, only!(Site))
    }

    fn account(&self, id: AccountId) -> Option<Facts<'_, Account>> {
        self.find(id.0, only!(Account))
    }

    fn limits(&self) -> &[Limit] {
        &self.limits
    }

    fn limit_sources(&self) -> &[SubjectVersion] {
        &self.limit_sources
    }

    fn vocabulary(&self) -> &Vocabulary {
        &self.goods.vocabulary
    }

    fn commodity_line(&self, commodity: &str) -> &[String] {
        self.goods.line(commodity)
    }
}

fn if_preparation(content: &RecordedContent) -> Option<&Preparation> {
    if let RecordedContent::Preparation(one) = content {
        Some(one)
    } else {
        None
    }
}

fn if_run(content: &RecordedContent) -> Option<&Run> {
    if let RecordedContent::Run(one) = content {
        Some(one)
    } else {
        None
    }
}
