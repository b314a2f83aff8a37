//! What a person enters of a screening validation: the method, the target and every determination.
//!
//! Promises that each determination has one finding, a number or a bound, and that what depends on
//! the kind of study is there. Refuses a run named twice, and a bound without a word on how it is
//! counted. Too few determinations are no fault here: a study grows, day by day.

use chrono::NaiveDate;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use super::{CommodityGroup, ControlKind, ValidationLaw};
use crate::analytes::Analyte;
use crate::entries;
use crate::faults::Faults;
use crate::id::{AccountId, ProcedureId, RunId, SampleId, ScreeningValidationId};
use crate::quantity::Number;
use crate::statistics::screening::{ResponseDirection, TableOfT};

/// JSON pointers of what is personal or free text: none; people stand in it by their accounts.
pub const DISCLOSED: &[&str] = &[];

/// Most determinations of one study.
pub const MOST_DETERMINATIONS: usize = 1_000;

/// What a person enters of a screening validation.
///
/// ```
/// use domain::screening_validations::ScreeningValidationEntry;
/// let mut entry: ScreeningValidationEntry =
///     serde_json::from_str(include_str!("example.json"))?;
/// assert!(entry.check().is_ok());
/// entry.below_counted_as = None;
/// let faults = entry.check().unwrap_err();
/// assert_eq!(faults.0[0].pointer, "/below_counted_as", "a blank reads below 1");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct ScreeningValidationEntry {
    /// The laboratory's own code of the study.
    pub code: String,
    /// The procedure that is validated.
    pub procedure: ProcedureId,
    /// For what.
    pub analyte: Analyte,
    /// In which goods: the group of the regulation that the samples are of.
    pub commodity_group: CommodityGroup,
    /// By which law.
    #[serde(default)]
    pub law: ValidationLaw,
    /// The screening target concentration in µg/kg, above zero, as it is written: the cut-off is
    /// rounded to as many figures.
    pub screening_target: Number,
    /// What the determinations give.
    #[serde(default)]
    pub response: ScreeningResponse,
    /// Which study.
    pub study: ScreeningStudy,
    /// Which quantile of Student's t the cut-off takes.
    #[serde(default)]
    pub table: TableOfT,
    /// What a blank that reads below a bound is counted as; only where one does.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub below_counted_as: Option<BelowCountedAs>,
    /// Who did it, by their accounts.
    pub performed_by: Vec<AccountId>,
    /// Every determination.
    #[serde(default)]
    pub determinations: Vec<StudyDetermination>,
}

/// What the determinations of a study give.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum ScreeningResponse {
    /// Concentrations in µg/kg, as a reader with a curve gives them; suspect above the cut-off.
    #[default]
    Concentration,
    /// A signal that rises with the concentration; suspect above the cut-off.
    RisingSignal,
    /// A signal that falls, as the line of a competitive strip; suspect below the cut-off.
    FallingSignal,
}

impl ScreeningResponse {
    /// Which way it goes.
    ///
    /// ```
    /// use domain::screening_validations::ScreeningResponse;
    /// use domain::statistics::screening::ResponseDirection;
    /// let falling = ScreeningResponse::FallingSignal.direction();
    /// assert_eq!(falling, ResponseDirection::Falling);
    /// ```
    #[must_use]
    pub const fn direction(self) -> ResponseDirection {
        match self {
            Self::Concentration | Self::RisingSignal => ResponseDirection::Rising,
            Self::FallingSignal => ResponseDirection::Falling,
        }
    }

    /// The unit, for people; none of a signal.
    #[must_use]
    pub const fn unit(self) -> Option<&'static str> {
        match self {
            Self::Concentration => Some("µg/kg"),
            Self::RisingSignal | Self::FallingSignal => None,
        }
    }
}

/// Which study: how many determinations it takes, and by which rule it passes.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(tag = "kind", rename_all = "kebab-case", deny_unknown_fields)]
pub enum ScreeningStudy {
    /// Initial validation in one laboratory: 20 and 20 over 5 days.
    WithinLaboratory {},
    /// Validation by several: 20 and 20 in all, from at least 8 laboratories with 2 samples each.
    BetweenLaboratories {
        /// The number that this laboratory has among them; its routine controls join under it.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        own_laboratory: Option<u32>,
    },
    /// A commodity is added to a validated group: 10 and 10, every positive suspect.
    AddedCommodity {
        /// The validation that it extends, an adopted one.
        of: ScreeningValidationId,
    },
    /// A method that was validated elsewhere is verified here: 6 and 6, every positive suspect.
    Verification {
        /// The laboratory's own validation, adopted, that is verified after a transfer.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        of: Option<ScreeningValidationId>,
        /// The cut-off of others, and where it stands.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        stated: Option<StatedCutOff>,
    },
}

impl ScreeningStudy {
    /// The study, for people.
    #[must_use]
    pub const fn name(&self) -> &'static str {
        match self {
            Self::WithinLaboratory {} => "initial validation within the laboratory",
            Self::BetweenLaboratories { .. } => "validation between laboratories",
            Self::AddedCommodity { .. } => "extension to a commodity of the same group",
            Self::Verification { .. } => "verification of a validated method",
        }
    }

    /// The validation that it builds on, where it names one.
    ///
    /// ```
    /// use domain::screening_validations::ScreeningStudy;
    /// let study: ScreeningStudy = serde_json::from_str(r#"{"kind":"within-laboratory"}"#)?;
    /// assert_eq!(study.base(), None);
    /// let odd = r#"{"kind":"within-laboratory","of":"019ca869-5003-7d46-b59c-6cf85cca57e4"}"#;
    /// assert!(serde_json::from_str::<ScreeningStudy>(odd).is_err());
    /// # Ok::<(), serde_json::Error>(())
    /// ```
    #[must_use]
    pub const fn base(&self) -> Option<ScreeningValidationId> {
        match self {
            Self::WithinLaboratory {} | Self::BetweenLaboratories { .. } => None,
            Self::AddedCommodity { of } => Some(*of),
            Self::Verification { of, .. } => *of,
        }
    }
}

/// A cut-off that others found.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct StatedCutOff {
    /// The cut-off.
    pub cut_off: Number,
    /// The report that it stands in.
    pub source: String,
}

/// What a blank below a bound is counted as.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum BelowCountedAs {
    /// As zero: the lower bound.
    Zero,
    /// As half of the bound: the middle bound.
    Half,
    /// As the bound itself: the upper bound.
    Bound,
}

/// One determination of a study: of a blank, or of a positive at the target.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct StudyDetermination {
    /// Blank, or positive at the target.
    pub kind: ControlKind,
    /// The day it was measured.
    pub on: NaiveDate,
    /// What it gave; this or `below`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub value: Option<Number>,
    /// The bound below which it is: `<`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub below: Option<Number>,
    /// The laboratory, by a number; only between laboratories.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub laboratory: Option<u32>,
    /// Its content in µg/kg, where it is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub content: Option<Number>,
    /// The run that it was read in; what was recorded there must be what stands here.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub run: Option<RunId>,
    /// The sample, one for validation or a control.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sample: Option<SampleId>,
}

impl ScreeningValidationEntry {
    /// Every fault of the entry, with JSON pointers into it.
    ///
    /// # Errors
    /// The faults.
    pub fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        entries::code(&mut faults, "/code", &self.code);
        let target = Some(self.screening_target);
        entries::positive(&mut faults, "/screening_target", target, "µg/kg");
        faults.require(!self.performed_by.is_empty(), "/performed_by", || {
            "is empty: name whoever did it, by their accounts".to_owned()
        });
        entries::distinct(&mut faults, "/performed_by", &self.performed_by);
        self.check_study(&mut faults);
        let count = self.determinations.len();
        faults.require(count <= MOST_DETERMINATIONS, "/determinations", || {
            format!("has {count} members; {MOST_DETERMINATIONS} is the most")
        });
        let some_below = self.determinations.iter().any(|one| one.below.is_some());
        let counted = self.below_counted_as.is_some();
        faults.require(some_below == counted, "/below_counted_as", || {
            if some_below {
                "is missing: some determination reads below a bound".to_owned()
            } else {
                "counts nothing: no determination reads below a bound".to_owned()
            }
        });
        for (place, one) in self.determinations.iter().enumerate() {
            faults.nest(&format!("/determinations/{place}"), one.check(self));
        }
        let runs: Vec<(usize, RunId)> = self
            .determinations
            .iter()
            .enumerate()
            .filter_map(|(place, one)| Some((place, one.run?)))
            .collect();
        let mut seen = std::collections::BTreeSet::new();
        for (place, run) in runs {
            let pointer = format!("/determinations/{place}/run");
            faults.require(seen.insert(run), pointer, || {
                format!("run {run} stands here twice: a strip is read once")
            });
        }
        faults.into_result()
    }

    fn check_study(&self, faults: &mut Faults) {
        let ScreeningStudy::Verification { of, stated } = &self.study else {
            return;
        };
        faults.require(of.is_some() != stated.is_some(), "/study", || {
            "a verification names a validation (`of`) or a cut-off of others (`stated`), one of them"
                .to_owned()
        });
        if let Some(stated) = stated {
            let cut_off = Some(stated.cut_off);
            entries::positive(faults, "/study/stated/cut_off", cut_off, "");
            let longest = entries::NAME_LENGTH;
            entries::text(faults, "/study/stated/source", &stated.source, longest);
        }
    }
}

impl StudyDetermination {
    /// What is wrong with the determination, in the study that it is of.
    fn check(&self, study: &ScreeningValidationEntry) -> Result<(), Faults> {
        let mut faults = Faults::default();
        match (self.value, self.below) {
            (Some(_), None) | (None, Some(_)) => {}
            (Some(_), Some(_)) => faults.add("/below", "stands beside a value: give one of them"),
            (None, None) => faults.add(
                "/value",
                "is missing: give a value, or the bound it is below",
            ),
        }
        entries::positive(&mut faults, "/below", self.below, "");
        let is_signal = study.response != ScreeningResponse::Concentration;
        let negative = self.value.is_some_and(|value| value.0 < Decimal::ZERO);
        faults.require(is_signal || !negative, "/value", || {
            "is negative: no mass fraction is".to_owned()
        });
        faults.require(!is_signal || self.below.is_none(), "/below", || {
            "a signal has a number: a bound is of a concentration".to_owned()
        });
        faults.require(!is_signal || self.run.is_none(), "/run", || {
            "a run's reading is a concentration: a signal names none".to_owned()
        });
        let between = matches!(study.study, ScreeningStudy::BetweenLaboratories { .. });
        faults.require(between || self.laboratory.is_none(), "/laboratory", || {
            "only a validation between laboratories numbers them".to_owned()
        });
        let content = self
            .content
            .is_none_or(|content| content.0 >= Decimal::ZERO);
        faults.require(content, "/content", || "is below zero".to_owned());
        faults.into_result()
    }

    /// The finding as people write it: `4.1` or `<2`.
    ///
    /// ```
    /// use domain::screening_validations::StudyDetermination;
    /// let one: StudyDetermination =
    ///     serde_json::from_str(r#"{"kind":"negative","on":"2026-03-02","below":"2"}"#)?;
    /// assert_eq!(one.shown(), "<2");
    /// # Ok::<(), serde_json::Error>(())
    /// ```
    #[must_use]
    pub fn shown(&self) -> String {
        match (self.value, self.below) {
            (Some(value), _) => value.to_string(),
            (None, Some(bound)) => format!("<{bound}"),
            (None, None) => String::new(),
        }
    }
}
