//! Where a validation stands: its figures, what is still missing, which cut-off is in force.
//!
//! Promises the figures that were adopted, or of a draft those that it comes to now. Refuses none:
//! what a study lacks is said, not refused.

use super::store;
use crate::{db::Tx, error::Answer, kept::Kept, laboratories};
use chrono::NaiveDate;
use domain::{
    quantity::Number,
    screening_validations::{ScreeningReview, ScreeningValidation, StudyReport},
    statistics::StatisticsError,
};

/// A validation, and what follows from it.
pub(super) struct Standing {
    /// The validation.
    pub(super) kept: Kept<ScreeningValidation>,
    /// Its figures.
    pub(super) report: Option<StudyReport>,
    /// What keeps the study from being adopted.
    pub(super) missing: Option<StatisticsError>,
    /// Its reviews, in the order of their days.
    pub(super) reviews: Vec<Kept<ScreeningReview>>,
    /// Why no procedure may decide by it today.
    pub(super) not_usable: Option<String>,
    /// The last day of the year within which the next review is due; of an adopted one that finds
    /// its own cut-off.
    pub(super) review_due_on: Option<NaiveDate>,
    /// Today.
    pub(super) today: NaiveDate,
}

impl Standing {
    /// Reads what follows from a validation.
    pub(super) async fn of(tx: &mut Tx, kept: Kept<ScreeningValidation>) -> Answer<Self> {
        let today = laboratories::today(tx).await?;
        let reviews = store::reviews::of(tx, kept.id).await?;
        let (report, missing) = match &kept.content.report {
            Some(report) => (Some(report.clone()), None),
            None => {
                let base = match kept.content.entry.study.base() {
                    Some(id) => store::maybe(tx, id.0).await?,
                    None => None,
                };
                let base = base.as_ref().map(|base| &base.content);
                match kept.content.entry.report(base) {
                    Ok(report) => {
                        let missing = report.must_pass().err();
                        (Some(report), missing)
                    }
                    Err(missing) => (None, Some(missing)),
                }
            }
        };
        let entry = &kept.content.entry;
        let not_usable = kept.content.not_usable_on(today);
        let last = reviews.last().map(|review| &review.content);
        let is_reviewed = not_usable.is_none() && entry.is_in_full();
        let review_due_on = is_reviewed.then(|| entry.review_due_on(last)).flatten();
        Ok(Self {
            report,
            missing,
            not_usable,
            review_due_on,
            reviews,
            today,
            kept,
        })
    }

    /// The cut-off in force: of the last review, else of the validation.
    pub(super) fn cut_off(&self) -> Option<Number> {
        let reviewed = self.reviews.last().map(|review| review.content.cut_off());
        reviewed.or_else(|| self.report.as_ref().map(|report| report.cut_off))
    }
}
