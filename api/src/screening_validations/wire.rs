//! How validations, their reports and their reviews are shown.

use super::standing::Standing;
use crate::kept::Kept;
use chrono::NaiveDate;
use domain::{
    analytes::Analyte,
    id::ProcedureId,
    procedures::Procedure,
    quantity::Number,
    screening_validations::{
        CommodityGroup, ScreeningResponse, ScreeningReview, ScreeningStudy, ScreeningValidation,
        ScreeningValidationState, StudyDetermination, StudyReport, ValidationLaw,
    },
    statistics::StatisticsError,
    time::Moment,
};
use serde::Serialize;
use uuid::Uuid;

/// What a study lacks.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct MissingView {
    /// The quantity.
    #[schema(example = "blanks")]
    pub quantity: String,
    /// How much of it there is, and how much is needed.
    #[schema(example = "blanks: 20 are needed, 12 are there.")]
    pub detail: String,
}

impl From<&StatisticsError> for MissingView {
    fn from(missing: &StatisticsError) -> Self {
        Self {
            quantity: missing.quantity().to_owned(),
            detail: format!("{missing}."),
        }
    }
}

/// A validation, as it is shown.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct ScreeningValidationView {
    /// Its id.
    pub id: Uuid,
    /// Its version.
    pub version: i32,
    /// What it says; once it is adopted, with its figures.
    #[serde(flatten)]
    pub validation: ScreeningValidation,
    /// What keeps it from being adopted; absent where nothing does.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub missing: Option<MissingView>,
    /// The cut-off in force: of the last review, else of the study.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cut_off: Option<Number>,
    /// Whether a procedure may decide by it today.
    pub usable: bool,
    /// Why not.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub not_usable_because: Option<String>,
    /// The last day of the year within which the next review is due.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub review_due_on: Option<NaiveDate>,
    /// When version 1 was recorded.
    pub created_at: Moment,
    /// When this version was recorded.
    pub changed_at: Moment,
}

impl From<Standing> for ScreeningValidationView {
    fn from(standing: Standing) -> Self {
        Self {
            missing: standing.missing.as_ref().map(MissingView::from),
            cut_off: standing.cut_off(),
            usable: standing.not_usable.is_none(),
            not_usable_because: standing.not_usable,
            review_due_on: standing.review_due_on,
            id: standing.kept.id,
            version: standing.kept.version,
            created_at: standing.kept.created_at,
            changed_at: standing.kept.changed_at,
            validation: standing.kept.content,
        }
    }
}

/// A validation in the list.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct ScreeningValidationItem {
    /// Its id.
    pub id: Uuid,
    /// Its version.
    pub version: i32,
    /// Its code.
    pub code: String,
    /// Draft, adopted or withdrawn.
    pub state: ScreeningValidationState,
    /// The procedure that is validated.
    pub procedure: ProcedureId,
    /// For what.
    pub analyte: Analyte,
    /// In which goods.
    pub commodity_group: CommodityGroup,
    /// By which law.
    pub law: ValidationLaw,
    /// Which study.
    pub study: ScreeningStudy,
    /// The screening target, µg/kg.
    pub screening_target: Number,
    /// How many determinations it has.
    pub determinations: usize,
    /// The cut-off that was adopted.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cut_off: Option<Number>,
    /// When version 1 was recorded.
    pub created_at: Moment,
    /// When this version was recorded.
    pub changed_at: Moment,
}

impl From<Kept<ScreeningValidation>> for ScreeningValidationItem {
    fn from(kept: Kept<ScreeningValidation>) -> Self {
        let entry = kept.content.entry;
        Self {
            id: kept.id,
            version: kept.version,
            state: kept.content.state,
            procedure: entry.procedure,
            analyte: entry.analyte,
            commodity_group: entry.commodity_group,
            law: entry.law,
            screening_target: entry.screening_target,
            determinations: entry.determinations.len(),
            cut_off: kept.content.report.map(|report| report.cut_off),
            code: entry.code,
            study: entry.study,
            created_at: kept.created_at,
            changed_at: kept.changed_at,
        }
    }
}

/// The report of a validation.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct ScreeningReportView {
    /// The validation's id.
    pub id: Uuid,
    /// Its version.
    pub version: i32,
    /// Its code.
    pub code: String,
    /// Draft, adopted or withdrawn.
    pub state: ScreeningValidationState,
    /// The procedure that is validated.
    pub procedure: ProcedureId,
    /// Its code.
    pub procedure_code: String,
    /// For what.
    pub analyte: Analyte,
    /// In which goods.
    pub commodity_group: CommodityGroup,
    /// Which study.
    pub study: ScreeningStudy,
    /// The law and the place in it.
    pub law: String,
    /// The screening target, µg/kg.
    pub screening_target: Number,
    /// What the determinations give.
    pub response: ScreeningResponse,
    /// The figures; absent while the study lacks something.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub report: Option<StudyReport>,
    /// What it lacks.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub missing: Option<MissingView>,
    /// The cut-off in force: of the last review, else of the study.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cut_off: Option<Number>,
    /// Whether a procedure may decide by it today.
    pub usable: bool,
    /// Why not.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub not_usable_because: Option<String>,
    /// The last day of the year within which the next review is due.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub review_due_on: Option<NaiveDate>,
    /// Every determination.
    pub determinations: Vec<StudyDetermination>,
}

impl ScreeningReportView {
    /// The report of a validation of this procedure.
    pub(super) fn of(standing: Standing, procedure: &Procedure) -> Self {
        let cut_off = standing.cut_off();
        let entry = standing.kept.content.entry;
        Self {
            id: standing.kept.id,
            version: standing.kept.version,
            state: standing.kept.content.state,
            procedure: entry.procedure,
            procedure_code: procedure.entry.code.clone(),
            analyte: entry.analyte,
            commodity_group: entry.commodity_group,
            law: entry.law.name_with_place(),
            screening_target: entry.screening_target,
            response: entry.response,
            report: standing.report,
            missing: standing.missing.as_ref().map(MissingView::from),
            cut_off,
            usable: standing.not_usable.is_none(),
            not_usable_because: standing.not_usable,
            review_due_on: standing.review_due_on,
            code: entry.code,
            study: entry.study,
            determinations: entry.determinations,
        }
    }
}

/// A review of a validation, as it is shown.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct ScreeningReviewView {
    /// Its id.
    pub id: Uuid,
    /// Its version.
    pub version: i32,
    /// What it says.
    #[serde(flatten)]
    pub review: ScreeningReview,
    /// The cut-off from this review on.
    pub cut_off: Number,
    /// When it was recorded.
    pub created_at: Moment,
}

impl From<Kept<ScreeningReview>> for ScreeningReviewView {
    fn from(kept: Kept<ScreeningReview>) -> Self {
        Self {
            id: kept.id,
            version: kept.version,
            cut_off: kept.content.cut_off(),
            review: kept.content,
            created_at: kept.created_at,
        }
    }
}
