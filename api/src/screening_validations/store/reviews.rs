//! All SQL of the reviews of validations.

use crate::{kept::Subject, request::Page};
use domain::screening_validations::{DISCLOSED, ScreeningReview};
use uuid::Uuid;

impl Subject for ScreeningReview {
    const KIND: &'static str = "screening-review";
    const DISCLOSED: &'static [&'static str] = DISCLOSED;
}

crate::keep_rows! {
    table: screening_validations_review,
    key: review_id,
    content: ScreeningReview,
    called: "review of a validation",
    columns: { validation_id: Uuid = |review| review.validation.0 }
}

/// A page of the reviews of a validation, newest first.
pub(in crate::screening_validations) async fn list(
    tx: &mut Tx,
    page: &Page,
    validation: Uuid,
) -> Answer<Vec<Kept<ScreeningReview>>> {
    let rows: Vec<Row> = dsl::screening_validations_review
        .filter(dsl::laboratory_id.eq(tx.laboratory_id()))
        .filter(dsl::validation_id.eq(validation))
        .filter(dsl::review_id.lt(page.after.unwrap_or(Uuid::max())))
        .order(dsl::review_id.desc())
        .limit(page.rows())
        .select(Row::as_select())
        .load(tx.connection())
        .await?;
    rows.into_iter().map(Row::kept).collect()
}

/// Every review of a validation, in the order of their days.
pub(in crate::screening_validations) async fn of(
    tx: &mut Tx,
    validation: Uuid,
) -> Answer<Vec<Kept<ScreeningReview>>> {
    let rows: Vec<Row> = dsl::screening_validations_review
        .filter(dsl::laboratory_id.eq(tx.laboratory_id()))
        .filter(dsl::validation_id.eq(validation))
        .order((dsl::created_at, dsl::review_id))
        .select(Row::as_select())
        .load(tx.connection())
        .await?;
    let reviews: Answer<Vec<_>> = rows.into_iter().map(Row::kept).collect();
    let mut reviews = reviews?;
    reviews.sort_by_key(|one| one.content.on);
    Ok(reviews)
}
