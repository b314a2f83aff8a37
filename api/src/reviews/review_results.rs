//! Releases results with a signature, or returns them to the analyst: one, or a list as shown.
//!
//! The password is checked before anything else, and is no part of what is kept for a repeat.

use super::{refusal, store, wire::ReviewView};
use crate::{
    db::{Created, Tx},
    error::{Answer, ApiError, Problem},
    identity::{self, Action, Actor, Lab},
    ids,
    kept::Kept,
    request::{Data, Entered, Once, Valid},
    results,
};
use actix_web::{HttpResponse, post};
use domain::{
    faults::Faults,
    holds::{Hold, standing_in_the_way},
    id::{AccountId, ResultId, RunId},
    results::ResultVersion,
    reviews::{Meaning, Review, ReviewedResult, StandingRun, UnderReview},
};
use serde::Deserialize;
use sha2::{Digest as _, Sha256};
use std::collections::HashMap;
use uuid::Uuid;

/// What a reviewer signs.
#[derive(Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ReviewResults {
    /// What the signature means.
    pub meaning: Meaning,
    /// Exactly the versions that were shown.
    pub results: Vec<ReviewedResult>,
    /// The reviewer's password, given again.
    pub password: String,
    /// What the reviewer says to it; a return needs one.
    #[serde(default)]
    pub comment: Option<String>,
}

impl Entered for ReviewResults {
    fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        faults.require(!self.password.is_empty(), "/password", || {
            "Give your password again: it is your signature.".into()
        });
        faults.into_result()
    }
}

impl ReviewResults {
    /// Fingerprint of the request without the password: a plain digest of one would let whoever
    /// has the database try passwords at leisure.
    fn without_password(&self) -> Answer<[u8; 32]> {
        let told = serde_json::to_vec(&(self.meaning, &self.results, &self.comment))
            .map_err(ApiError::internal)?;
        Ok(Sha256::digest(told).into())
    }
}

/// Review results
///
/// A signature: give the versions that you were shown, and your password again. Everything is
/// signed, or nothing.
#[utoipa::path(tag = "reviews",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("Idempotency-Key" = String, Header, description = "A random value of your own, the same when you repeat the request")),
    request_body(content = ReviewResults, example = json!({"meaning": "release", "results": [{"result": "019ca869-5003-7d46-b59c-6cf85cca57e5", "version": 2}], "password": "a long sentence of my own"})),
    responses((status = 201, body = ReviewView), (status = "4XX", body = Problem)))]
#[post("/v1/laboratories/{lab}/reviews")]
pub(super) async fn review_results(
    actor: Actor,
    lab: Lab,
    once: Once,
    body: Valid<ReviewResults>,
    app: Data,
) -> Answer<HttpResponse> {
    review(&actor, &lab, &once, &body, &app).await
}

/// Reviews results for whoever asks, by the API or on the page.
pub(super) async fn review(
    actor: &Actor,
    lab: &Lab,
    once: &Once,
    body: &ReviewResults,
    app: &Data,
) -> Answer<HttpResponse> {
    let action = match body.meaning {
        Meaning::Release => Action::ReleaseResults,
        Meaning::Return => Action::ReturnResults,
    };
    let permit = actor.permit(action, lab)?;
    let reviewer = identity::confirm_password(app, &permit, &body.password).await?;
    let id: Uuid = ids::fresh();
    app.db
        .create(&permit, once, body.without_password()?, async |tx| {
            let review = sign(tx, reviewer, body).await?;
            let kept = Kept::first(tx, id, review);
            store::insert(tx, &kept).await?;
            store::insert_results(tx, &kept).await?;
            Ok(Created {
                location: format!("/v1/laboratories/{}/reviews/{id}", lab.slug()),
                version: kept.version,
                view: ReviewView::from(kept),
            })
        })
        .await
}

/// Signs what the body names, and moves the results to their next state.
async fn sign(tx: &mut Tx, reviewer: AccountId, body: &ReviewResults) -> Answer<Review> {
    let wanted: Vec<Uuid> = body.results.iter().map(|one| one.result.0).collect();
    // Nothing that results are computed from may change while they are signed.
    tx.share_reference().await?;
    let samples = store::lock_samples_of(tx, &wanted).await?;
    let waiting = results::store::waiting(tx, &samples).await?;
    if !waiting.is_empty() {
        return Err(refusal::computation_due(&waiting));
    }
    let results = store::results(tx, &wanted).await?;
    let facts = store::facts(tx, &samples, &results).await?;
    let known: Vec<UnderReview<'_>> = results
        .iter()
        .map(|result| under_review(result, &facts))
        .collect::<Answer<_>>()?;
    let review = Review::sign(
        body.meaning,
        body.results.clone(),
        &known,
        reviewer,
        tx.now(),
        body.comment.clone(),
    )
    .map_err(refusal::of_review)?;
    let mut later = Vec::with_capacity(results.len());
    for result in &results {
        let next = match body.meaning {
            Meaning::Release => result.content.release(false),
            Meaning::Return => result.content.give_back(),
        };
        let next = next.map_err(|refused| refusal::of_result(result.id, &refused))?;
        later.push(result.next(tx, next));
    }
    results::store::write_many(tx, &later).await?;
    Ok(review)
}

/// What stands behind the results that are to be signed.
pub(super) struct Facts {
    /// Analyst of each run.
    pub(super) analysts: HashMap<Uuid, Option<AccountId>>,
    /// Who entered, assigned or corrected each run.
    pub(super) entered_by: HashMap<Uuid, Vec<AccountId>>,
    /// Every hold on the samples, their runs and their results.
    pub(super) holds: Vec<Hold>,
}

fn under_review<'a>(result: &Kept<ResultVersion>, facts: &'a Facts) -> Answer<UnderReview<'a>> {
    let computed = &result.content.computed;
    let standing: Vec<RunId> = computed
        .runs
        .iter()
        .filter(|run| run.standing)
        .map(|run| run.run)
        .collect();
    let id = ResultId(result.id);
    Ok(UnderReview {
        result: id,
        version: u32::try_from(result.version).map_err(ApiError::internal)?,
        holds: standing_in_the_way(
            &facts.holds,
            id,
            computed.sample,
            computed.analyte,
            &standing,
        ),
        standing: standing
            .into_iter()
            .map(|run| StandingRun {
                run,
                analyst: facts.analysts.get(&run.0).copied().flatten(),
                entered_by: facts.entered_by.get(&run.0).cloned().unwrap_or_default(),
            })
            .collect(),
    })
}
