//! Shows one review.

use super::{store, wire::ReviewView};
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, InLab},
    request::{Data, shown},
};
use actix_web::{HttpRequest, HttpResponse, get};
use domain::id::ReviewId;

/// Show review
#[utoipa::path(tag = "reviews",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = ReviewId, Path, description = "Review")),
    responses((status = 200, body = ReviewView), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/reviews/{id}")]
pub(super) async fn show_review(
    actor: Actor,
    review: InLab<ReviewId>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadReviews, review.lab())?;
    let kept = app
        .db
        .read(&permit, async |tx| store::find(tx, review.id().0).await)
        .await?;
    Ok(shown(&request, kept.version, &ReviewView::from(kept)))
}
