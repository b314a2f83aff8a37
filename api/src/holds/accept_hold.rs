//! Lifts a hold by a reviewer's reasoned acceptance, where its kind allows one.
//!
//! Refuses an acceptance by who ran, entered or corrected the work.

use super::{place_hold::sample_of, store, wire::HoldView};
use crate::{
    db::Tx,
    error::{Answer, ApiError, Problem},
    identity::{self, Action, Actor, InLab},
    ledger,
    request::{Data, Entered, Once, Seen, Valid},
    results, runs, samples, samplings,
};
use actix_web::{HttpResponse, post};
use domain::{
    faults::Faults,
    holds::{AcceptanceError, Held, Hold, HoldKind, LiftedBy},
    id::{AccountId, HoldId},
};
use serde::Deserialize;
use sha2::{Digest as _, Sha256};

/// Why a hold is accepted.
#[derive(Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct AcceptHold {
    /// Why, in words.
    #[schema(example = "The control of the same box was inside its window an hour later.")]
    pub reason: String,
    /// The reviewer's password, given again.
    pub password: String,
}

impl Entered for AcceptHold {
    fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        domain::entries::text(
            &mut faults,
            "/reason",
            &self.reason,
            domain::entries::TEXT_LENGTH,
        );
        faults.require(!self.password.is_empty(), "/password", || {
            "Give your password again: it is your signature.".into()
        });
        faults.into_result()
    }
}

/// Accept hold
///
/// A signature: give your reason, and your password again.
#[utoipa::path(tag = "holds",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = HoldId, Path, description = "Hold"),
        ("If-Match" = String, Header, description = "ETag of the version that you saw"),
        ("Idempotency-Key" = String, Header, description = "A random value of your own, the same when you repeat the request")),
    request_body(content = AcceptHold, example = json!({"reason": "The control of the same box was inside its window an hour later.", "password": "a long sentence of my own"})),
    responses((status = 200, body = HoldView), (status = "4XX", body = Problem)))]
#[post("/v1/laboratories/{lab}/holds/{id}/acceptance")]
pub(super) async fn accept_hold(
    actor: Actor,
    hold: InLab<HoldId>,
    once: Once,
    seen: Seen,
    body: Valid<AcceptHold>,
    app: Data,
) -> Answer<HttpResponse> {
    accept(&actor, &hold, &once, seen, &body, &app).await
}

/// Accepts a hold for whoever asks, by the API or on the page.
///
/// # Errors
/// Why it is not accepted; then nothing changed.
pub(crate) async fn accept(
    actor: &Actor,
    hold: &InLab<HoldId>,
    once: &Once,
    seen: Seen,
    body: &AcceptHold,
    app: &Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::AcceptHold, hold.lab())?;
    let by = identity::confirm_password(app, &permit, &body.password).await?;
    let id = hold.id().0;
    // Without the password: a plain digest of one could be tried at leisure.
    let told = serde_json::to_vec(&(seen.0, &body.reason)).map_err(ApiError::internal)?;
    app.db
        .act(&permit, once, Sha256::digest(told).into(), async |tx| {
            let found = store::find(tx, id).await?;
            let sample = sample_of(tx, found.content.of).await?;
            if let Some(sample) = sample {
                results::lock_sample(tx, sample).await?;
            }
            let before = store::lock(tx, id).await?;
            seen.must_be(before.version)?;
            let involved = involved(tx, &before.content).await?;
            let content = before
                .content
                .accept(by, &involved, &body.reason, tx.now())
                .map_err(refusal)?;
            let after = before.next(tx, content);
            store::save(tx, &after).await?;
            if let Some(sample) = sample {
                results::assess(tx, &[sample], LiftedBy::LaterFact).await?;
            }
            Ok((after.version, HoldView::from(after)))
        })
        .await
}

fn refusal(error: AcceptanceError) -> ApiError {
    if let AcceptanceError::Reason(faults) = error {
        return ApiError::Invalid(faults);
    }
    ApiError::refused("hold-not-acceptable", format!("Refused: {error}."))
}

/// Who ran, took, entered or corrected what is held: none of them accepts a hold on it.
///
/// # Errors
/// Where the database fails.
pub(crate) async fn involved(tx: &mut Tx, hold: &Hold) -> Answer<Vec<AccountId>> {
    let runs = match hold.of {
        Held::Run(run) => vec![runs::store::find(tx, run.0).await?],
        Held::Result(result) => {
            let result = results::store::find(tx, result.0).await?;
            runs::store::of_sample(tx, result.content.computed.sample.0).await?
        }
        Held::Sample(sample) => runs::store::of_sample(tx, sample.0).await?,
    };
    let mut people: Vec<AccountId> = runs
        .iter()
        .filter_map(|run| run.content.entry.analyst)
        .collect();
    for run in &runs {
        people.extend(ledger::accounts_behind(tx, run.id).await?);
    }
    if let (Held::Sample(sample), HoldKind::SamplingDeparture) = (hold.of, hold.kind) {
        let sample = samples::store::find(tx, sample.0).await?.content;
        if let Some(sampling) = sample.sampling {
            let taken_by = samplings::store::find(tx, sampling.0)
                .await?
                .content
                .account;
            people.extend(taken_by);
            people.extend(ledger::accounts_behind(tx, sampling.0).await?);
        }
    }
    people.sort_unstable();
    people.dedup();
    Ok(people)
}
