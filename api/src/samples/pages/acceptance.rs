//! Accepting a hold on the sample's page: a reviewer's reason and signature.
//!
//! Promises to accept exactly the version of the hold that the page showed, through the same
//! function as the API. A refusal shows the page again, with what was typed.

use super::{Typed, show};
use crate::{
    error::{Answer, ApiError},
    holds::{self, AcceptHold},
    identity::InLab,
    pages::{Form, Page, Visit, capital},
    request::{Once, Seen, read_json},
};
use actix_web::{HttpResponse, http::header, post};
use domain::id::{HoldId, SampleId};
use serde_json::json;
use uuid::Uuid;

#[post("/{lab}/samples/{id}")]
pub(super) async fn accept_page(visit: Visit, sample: InLab<SampleId>, form: Form) -> Page {
    let id = sample.id().0;
    match accept(&visit, &form).await {
        Ok(()) => Ok(HttpResponse::SeeOther()
            .insert_header((
                header::LOCATION,
                format!("/{}/samples/{id}?accepted=1", visit.lab.slug()),
            ))
            .insert_header((header::CACHE_CONTROL, "no-store"))
            .finish()),
        Err(error) if error.kind().0.is_server_error() => Err(error.into()),
        Err(error) => {
            tracing::info!(slug = error.kind().1, "acceptance refused");
            let typed = Typed {
                hold: form.text("hold").unwrap_or_default().to_owned(),
                reason: form.text("reason").unwrap_or_default().to_owned(),
                fault: fault(&error),
                ..Typed::default()
            };
            show(&visit, error.kind().0, id, typed).await
        }
    }
}

async fn accept(visit: &Visit, form: &Form) -> Answer<()> {
    let shown = form.text("hold").and_then(|shown| shown.split_once(':'));
    let named = shown.and_then(|(hold, version)| {
        Some((HoldId(Uuid::parse_str(hold).ok()?), version.parse().ok()?))
    });
    let (hold, version) = named.ok_or_else(|| {
        ApiError::Malformed("The form names no hold. Load the page again and send it anew.".into())
    })?;
    let body = json!({
        "reason": form.text("reason").unwrap_or_default(),
        "password": form.exact("password").unwrap_or_default(),
    });
    let bytes = serde_json::to_vec(&body).map_err(ApiError::internal)?;
    let body: AcceptHold = read_json(&bytes)?;
    let once = Once {
        key: form.text("key").ok_or(ApiError::KeyMissing)?.to_owned(),
        method: "POST".to_owned(),
        path: format!(
            "/v1/laboratories/{}/holds/{hold}/acceptance",
            visit.lab.slug()
        ),
    };
    let hold = InLab::of(&visit.lab, hold);
    let seen = Seen(version);
    let answered = holds::accept(&visit.actor, &hold, &once, seen, &body, &visit.app).await?;
    if answered.status().is_success() {
        return Ok(());
    }
    Err(ApiError::refused(
        "not-in-this-state",
        "This form was refused before. Look at the hold again, then sign.",
    ))
}

fn fault(error: &ApiError) -> String {
    let problem = error.problem();
    let details: Vec<String> = problem
        .errors
        .iter()
        .map(|fault| capital(&fault.detail))
        .collect();
    if details.is_empty() {
        return problem.detail;
    }
    details.join(" ")
}
