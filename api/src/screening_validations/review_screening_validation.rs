//! Reviews a validation: joins the control runs of a period in, and sets the cut-off again.
//!
//! The caller says which control material is which control; the runs are gathered here. Refuses
//! a material that is not the control it is said to be, and too few positives, naming how many
//! there are.

use super::{gathering, store, wire::ScreeningReviewView};
use crate::{
    db::Created,
    error::{Answer, ApiError, Problem},
    identity::{Action, Actor, InLab},
    ids,
    kept::Kept,
    laboratories,
    request::{Data, Entered, Once, Valid},
};
use actix_web::{HttpResponse, post};
use domain::{
    entries,
    faults::Faults,
    id::{ControlMaterialId, ScreeningValidationId},
    screening_validations::{ReviewControl, ReviewPeriod, ScreeningReview},
};
use serde::Deserialize;
use uuid::Uuid;

/// Which days are reviewed, by which controls.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ReviewScreeningValidation {
    /// The days; both ends are looked at.
    pub period: ReviewPeriod,
    /// Which control material is the blank, and which the positive at the target; 1 to 20.
    pub controls: Vec<ReviewControl>,
}

/// Most control materials of one review.
const MOST_CONTROLS: usize = 20;

impl Entered for ReviewScreeningValidation {
    fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        let ReviewPeriod { from, to } = self.period;
        faults.require(from <= to, "/period/to", || {
            format!("lies before the first day, {from}")
        });
        let count = self.controls.len();
        faults.require((1..=MOST_CONTROLS).contains(&count), "/controls", || {
            format!("has {count} members: name 1 to {MOST_CONTROLS} control materials")
        });
        let materials: Vec<ControlMaterialId> = self
            .controls
            .iter()
            .map(|one| one.control_material)
            .collect();
        entries::distinct(&mut faults, "/controls", &materials);
        faults.into_result()
    }
}

/// Review screening validation
///
/// Control runs that an earlier review joined in, or that belong to the study itself, are not
/// joined again.
#[utoipa::path(tag = "screening-validations",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = ScreeningValidationId, Path, description = "Validation"),
        ("Idempotency-Key" = String, Header, description = "A random value of your own, the same when you repeat the request")),
    request_body(content = ReviewScreeningValidation, example = json!({"period": {"from": "2026-03-07", "to": "2027-02-28"}, "controls": [{"control_material": "019ca869-5003-7d46-b59c-6cf85cca57e4", "kind": "positive"}, {"control_material": "019ca869-5003-7d46-b59c-6cf85cca57e5", "kind": "negative"}]})),
    responses((status = 201, body = ScreeningReviewView), (status = "4XX", body = Problem)))]
#[post("/v1/laboratories/{lab}/screening-validations/{id}/reviews")]
pub(super) async fn review_screening_validation(
    actor: Actor,
    validation: InLab<ScreeningValidationId>,
    once: Once,
    body: Valid<ReviewScreeningValidation>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReviewScreeningValidation, validation.lab())?;
    let by = permit.account().ok_or_else(|| {
        ApiError::Forbidden("A validation is reviewed by a person, who answers for it.".into())
    })?;
    let id: Uuid = ids::fresh();
    app.db
        .create(&permit, &once, body.fingerprint(), async |tx| {
            tx.change_reference().await?;
            // Locked, so that of two reviews at once the later one sees the earlier.
            let reviewed = store::lock(tx, validation.id().0).await?;
            let earlier = store::reviews::of(tx, reviewed.id).await?;
            let today = laboratories::today(tx).await?;
            if body.period.to > today {
                let fault = format!("{} has not come: today is {today}.", body.period.to);
                return Err(ApiError::field("/period/to", fault));
            }
            let asked = gathering::Asked {
                period: body.period,
                controls: &body.controls,
                on: today,
                by,
            };
            let draft = gathering::gather(tx, &reviewed, &earlier, &asked).await?;
            let earlier: Vec<&ScreeningReview> = earlier.iter().map(|one| &one.content).collect();
            let review = ScreeningReview::of(draft, &reviewed.content, &earlier)?;
            let kept = Kept::first(tx, id, review);
            store::reviews::insert(tx, &kept).await?;
            Ok(Created {
                location: format!(
                    "/v1/laboratories/{}/screening-reviews/{id}",
                    validation.lab().slug()
                ),
                version: kept.version,
                view: ScreeningReviewView::from(kept),
            })
        })
        .await
}
