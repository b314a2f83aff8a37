//! Adopts a limit: from now on it decides.
//!
//! Copies a shipped limit, with its scope, into a record. Refuses an adoption without a reading of
//! the source, on a day to come, and of a limit that was adopted or retired before.

use super::{Named, Standing, find, refusal, store, wire::LimitView};
use crate::{
    error::{Answer, ApiError, Problem},
    identity::{Action, Actor, Lab},
    ids,
    kept::Kept,
    laboratories,
    request::{Data, Entered, Once, Seen, Valid},
    results::{self, Again},
};
use actix_web::{
    FromRequest as _, HttpRequest, HttpResponse, dev::Payload, http::header, post, web,
};
use chrono::NaiveDate;
use domain::{
    entries,
    faults::Faults,
    limits::{Adoption, Limit},
};
use serde::Deserialize;
use uuid::Uuid;

/// The day of the adoption, and what was read.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct AdoptLimit {
    /// The day; today or before.
    pub date: NaiveDate,
    /// What you read, in which edition of the source, and what stands there.
    pub reading: String,
}

impl Entered for AdoptLimit {
    fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        entries::text(&mut faults, "/reading", &self.reading, entries::TEXT_LENGTH);
        faults.into_result()
    }
}

/// Adopt limit
///
/// The limit decides from now on, and results that it concerns are computed again. If-Match names
/// the version that was read; it is due for a limit proposed by hand, and may be left out for one
/// that is only shipped.
#[utoipa::path(tag = "limits",
    params(Named,
        ("If-Match" = Option<String>, Header, description = "ETag of the version that you read"),
        ("Idempotency-Key" = String, Header, description = "A random value of your own, the same when you repeat the request")),
    request_body(content = AdoptLimit, example = json!({"date": "2026-03-01",
        "reading": "Consolidated text of 1 January 2025, Annex I, 1.1.13: 5,0 µg/kg, as listed."})),
    responses((status = 200, body = LimitView), (status = "4XX", body = Problem)))]
#[post("/v1/laboratories/{lab}/limits/{limit}/adoption")]
pub(super) async fn adopt_limit(
    actor: Actor,
    lab: Lab,
    named: web::Path<Named>,
    once: Once,
    body: Valid<AdoptLimit>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::AdoptLimit, &lab)?;
    let by = permit.account().ok_or_else(|| {
        ApiError::Forbidden("A limit is adopted by a person, on their own reading.".into())
    })?;
    let seen = if request.headers().contains_key(header::IF_MATCH) {
        Some(Seen::from_request(&request, &mut Payload::None).into_inner()?)
    } else {
        None
    };
    let fresh: Uuid = ids::fresh();
    let adoption = Adoption {
        on: body.date,
        by,
        reading: body.reading.clone(),
    };
    app.db
        .act(&permit, &once, body.fingerprint(), async |tx| {
            tx.change_reference().await?;
            let today = laboratories::today(tx).await?;
            let adopt = |limit: Limit| {
                limit
                    .adopt(adoption.clone(), today)
                    .map_err(|error| refusal(&error))
            };
            let adopted = match find(tx, &named.limit).await? {
                Standing::Kept(kept) => {
                    let before = store::lock(tx, kept.id).await?;
                    seen.ok_or(ApiError::PreconditionRequired)?
                        .must_be(before.version)?;
                    let after = before.next(tx, adopt(before.content.clone())?);
                    store::save(tx, &after).await?;
                    after
                }
                Standing::Shipped(limit) => {
                    if let Some(seen) = seen {
                        seen.must_be(0)?;
                    }
                    let kept = Kept::first(tx, fresh, adopt(limit.clone())?);
                    store::insert(tx, &kept).await?;
                    kept
                }
            };
            results::ask_again(tx, adopted.id, adopted.version, Again::Limits).await?;
            let standing = Standing::kept(adopted);
            Ok((standing.version(), LimitView::from(&standing)))
        })
        .await
}
