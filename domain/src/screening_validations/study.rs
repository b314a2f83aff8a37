//! The report of a study: what its determinations come to.
//!
//! Promises the figures of [`validate`] or [`verify`] with the cut-off that decides; refuses a
//! study that has too few determinations, did not span its days or does not scatter, naming the
//! quantity, and a study of the wrong base.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use super::{
    BelowCountedAs, ControlDetermination, ControlKind, ScreeningResponse, ScreeningStudy,
    ScreeningValidation, ScreeningValidationEntry, ScreeningValidationState, StudyDetermination,
    ValidationInputs, ValidationKind, ValidationReport, VerificationInputs, VerificationReport,
    VerifiedControl, validate, verify,
};
use crate::faults::Faults;
use crate::quantity::Number;
use crate::quantity::exact::{Answer, out_of_range, over};
use crate::statistics::StatisticsError;

/// The number of the rules that compute a study and a review.
pub const RULES: u32 = 1;

/// What a study came to.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct StudyReport {
    /// The law, and the place in it.
    pub law: String,
    /// The screening target, µg/kg.
    pub screening_target: Number,
    /// The cut-off that decides, to the figures of the target; of a study that builds on another,
    /// that one's.
    pub cut_off: Number,
    /// The share of blanks that is suspect; none where the study does not estimate it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub false_suspect_rate: Option<Number>,
    /// The figures, where cut-off and rate were found by this study.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub validation: Option<ValidationReport>,
    /// The figures, where another study's cut-off was verified.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub verification: Option<VerificationReport>,
    /// What a reader of the figures should know.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub remarks: Vec<String>,
}

impl StudyReport {
    /// Whether the study may be adopted: every positive of a verification was suspect.
    ///
    /// # Errors
    /// [`StatisticsError::OutOfRange`] of the suspect positives.
    ///
    /// ```
    /// use domain::screening_validations::{ScreeningValidationEntry, StudyReport};
    /// let entry: ScreeningValidationEntry =
    ///     serde_json::from_str(include_str!("example.json"))?;
    /// let report = entry.report(None).unwrap();
    /// assert!(report.must_pass().is_ok());
    /// # Ok::<(), serde_json::Error>(())
    /// ```
    pub fn must_pass(&self) -> Answer<()> {
        match &self.verification {
            Some(report) if !report.passed => Err(out_of_range(
                "suspect controls at the target",
                report.suspect_positives,
                format!("all {}. {}", report.positives, report.statement),
            )),
            Some(_) | None => Ok(()),
        }
    }
}

impl ScreeningValidationEntry {
    /// What the study comes to; `base` is the validation that it builds on.
    ///
    /// # Errors
    /// As [`validate`] and [`verify`]; a positive below a bound; a base that is missing.
    ///
    /// ```
    /// use domain::screening_validations::ScreeningValidationEntry;
    /// let mut entry: ScreeningValidationEntry =
    ///     serde_json::from_str(include_str!("example.json"))?;
    /// let report = entry.report(None).unwrap();
    /// assert_eq!(report.cut_off.to_string(), "19");
    /// entry.determinations.pop();
    /// let refusal = entry.report(None).unwrap_err();
    /// assert_eq!(refusal.quantity(), "controls at the target");
    /// # Ok::<(), serde_json::Error>(())
    /// ```
    pub fn report(&self, base: Option<&ScreeningValidation>) -> Answer<StudyReport> {
        match &self.study {
            ScreeningStudy::WithinLaboratory {} | ScreeningStudy::BetweenLaboratories { .. } => {
                self.validated()
            }
            ScreeningStudy::AddedCommodity { .. } => self.verified(base, true),
            ScreeningStudy::Verification { .. } => self.verified(base, false),
        }
    }

    /// The study as the computation takes it.
    pub(super) fn inputs(&self) -> Answer<ValidationInputs> {
        let determinations = self.determinations.iter();
        Ok(ValidationInputs {
            law: self.law,
            kind: match self.study {
                ScreeningStudy::BetweenLaboratories { .. } => ValidationKind::BetweenLaboratories,
                ScreeningStudy::WithinLaboratory {}
                | ScreeningStudy::AddedCommodity { .. }
                | ScreeningStudy::Verification { .. } => ValidationKind::WithinLaboratory,
            },
            response: self.response.direction(),
            screening_target: self.screening_target,
            table: self.table,
            determinations: determinations
                .map(|one| counted(one, self.below_counted_as))
                .collect::<Answer<_>>()?,
        })
    }

    fn validated(&self) -> Answer<StudyReport> {
        let report = validate(&self.inputs()?)?;
        let mut remarks = self.remarks();
        if report.false_negatives > 0 {
            remarks.push(format!(
                "Controls at the target on the good side of the cut-off: {} of {}; one in twenty \
                 is expected there.",
                report.false_negatives, report.positives
            ));
        }
        if self.response == ScreeningResponse::Concentration
            && report.rounded_cut_off > self.screening_target
        {
            remarks.push(
                "The cut-off lies above the target: the method reads too high, and a procedure \
                 cannot decide by it."
                    .to_owned(),
            );
        }
        Ok(StudyReport {
            law: self.law.name_with_place(),
            screening_target: self.screening_target,
            cut_off: report.rounded_cut_off,
            false_suspect_rate: Some(report.cut_off.false_suspect_rate),
            validation: Some(report),
            verification: None,
            remarks,
        })
    }

    fn verified(
        &self,
        base: Option<&ScreeningValidation>,
        added_commodity: bool,
    ) -> Answer<StudyReport> {
        let (cut_off, false_suspect_rate) = self.cut_off_to_verify(base)?;
        let controls = self.determinations.iter().map(|one| {
            let control = counted(one, self.below_counted_as)?;
            Ok(VerifiedControl {
                kind: control.kind,
                response: control.response,
            })
        });
        let report = verify(&VerificationInputs {
            response: self.response.direction(),
            cut_off,
            added_commodity,
            controls: controls.collect::<Answer<_>>()?,
        })?;
        Ok(StudyReport {
            law: self.law.name_with_place(),
            screening_target: self.screening_target,
            cut_off,
            false_suspect_rate,
            validation: None,
            verification: Some(report),
            remarks: self.remarks(),
        })
    }

    fn cut_off_to_verify(
        &self,
        base: Option<&ScreeningValidation>,
    ) -> Answer<(Number, Option<Number>)> {
        if let ScreeningStudy::Verification {
            stated: Some(stated),
            ..
        } = &self.study
        {
            return Ok((stated.cut_off, None));
        }
        base.and_then(|base| base.report.as_ref())
            .map(|report| (report.cut_off, report.false_suspect_rate))
            .ok_or_else(|| out_of_range("cut-off", "missing", "that of an adopted validation"))
    }

    /// What is to be known of the determinations themselves.
    fn remarks(&self) -> Vec<String> {
        let mut remarks = Vec::new();
        let below = self.determinations.iter().filter(|one| one.below.is_some());
        let below = below.count();
        if let (Some(counted_as), 1..) = (self.below_counted_as, below) {
            let words = match counted_as {
                BelowCountedAs::Zero => "zero",
                BelowCountedAs::Half => "half of the bound",
                BelowCountedAs::Bound => "the bound",
            };
            remarks.push(format!(
                "Blanks that read below a bound, counted as {words}: {below}. Mean and deviation \
                 of the blanks depend on it."
            ));
        }
        let blanks = self.determinations.iter();
        let unknown =
            blanks.filter(|one| one.kind == ControlKind::Negative && one.content.is_none());
        let unknown = unknown.count();
        if unknown > 0 {
            remarks.push(format!(
                "Blanks whose content is not stated: {unknown}. The regulation wants them known to \
                 be free: at most a fifth of the target."
            ));
        }
        if self.law == super::ValidationLaw::Eu2014 {
            remarks.push(
                "Validated by the earlier law: it may be used until 2028-12-31 (Implementing \
                 Regulation (EU) 2023/2782, article 4)."
                    .to_owned(),
            );
        }
        remarks
    }

    /// What a base must be for this study to build on it, each fault with its pointer.
    ///
    /// # Errors
    /// The faults: a base that is not adopted, not a validation in full, or of another method.
    ///
    /// ```
    /// use domain::screening_validations::{ScreeningValidation, ScreeningValidationEntry};
    /// let entry: ScreeningValidationEntry =
    ///     serde_json::from_str(include_str!("example.json"))?;
    /// let draft = ScreeningValidation::draft(entry.clone()).unwrap();
    /// assert!(entry.check_base(&draft).is_err(), "it is a draft");
    /// # Ok::<(), serde_json::Error>(())
    /// ```
    pub fn check_base(&self, base: &ScreeningValidation) -> Result<(), Faults> {
        let mut faults = Faults::default();
        let adopted = base.state == ScreeningValidationState::Adopted;
        faults.require(adopted, "/study/of", || {
            format!(
                "{} is {}: build on an adopted one",
                base.entry.code,
                base.state.word()
            )
        });
        faults.require(base.entry.is_in_full(), "/study/of", || {
            format!("{} found no cut-off of its own", base.entry.code)
        });
        for (same, pointer, what) in [
            (
                self.procedure == base.entry.procedure,
                "/procedure",
                "procedure",
            ),
            (self.analyte == base.entry.analyte, "/analyte", "analyte"),
            (
                self.response == base.entry.response,
                "/response",
                "response",
            ),
            (
                self.screening_target.0 == base.entry.screening_target.0,
                "/screening_target",
                "target",
            ),
            (
                !matches!(self.study, ScreeningStudy::AddedCommodity { .. })
                    || self.commodity_group == base.entry.commodity_group,
                "/commodity_group",
                "group",
            ),
        ] {
            faults.require(same, pointer, || {
                format!(
                    "is another {what} than that of {}, which it builds on",
                    base.entry.code
                )
            });
        }
        faults.into_result()
    }

    /// Whether the study finds a cut-off of its own.
    #[must_use]
    pub const fn is_in_full(&self) -> bool {
        matches!(
            self.study,
            ScreeningStudy::WithinLaboratory {} | ScreeningStudy::BetweenLaboratories { .. }
        )
    }
}

/// A determination as a number; a bound of a blank as it is counted.
pub(super) fn counted(
    one: &StudyDetermination,
    below: Option<BelowCountedAs>,
) -> Answer<ControlDetermination> {
    let response = match (one.value, one.below) {
        (Some(value), _) => value,
        (None, Some(bound)) => below_counted(one.kind, bound, below)?,
        (None, None) => return Err(out_of_range("value", "missing", "a number or a bound")),
    };
    Ok(ControlDetermination {
        kind: one.kind,
        on: one.on,
        laboratory: one.laboratory,
        content: one.content,
        response,
    })
}

fn below_counted(
    kind: ControlKind,
    bound: Number,
    below: Option<BelowCountedAs>,
) -> Result<Number, StatisticsError> {
    if kind == ControlKind::Positive {
        let must = "a number: a positive below a bound has no place in a mean";
        return Err(out_of_range(
            "control at the target",
            format!("<{bound}"),
            must,
        ));
    }
    match below {
        Some(BelowCountedAs::Zero) => Ok(Number(Decimal::ZERO)),
        Some(BelowCountedAs::Half) => over("blank", bound.0, Decimal::TWO).map(Number),
        Some(BelowCountedAs::Bound) => Ok(bound),
        None => Err(out_of_range(
            "blank",
            format!("<{bound}"),
            "a number, or counted as zero, half of the bound or the bound",
        )),
    }
}
