//! The reviewer's queue: what waits for a second person, and the form that signs it.
//!
//! Promises to sign exactly the versions that the page showed, through the same function as the
//! API. A refusal keeps what was typed and selected, save what changed meanwhile.

mod store;

use super::review_results::{ReviewResults, review};
use crate::{
    db::Tx,
    error::{Answer, ApiError},
    identity::Action,
    ids,
    pages::{Form, Frame, Page, Visit, aligned, analyte, capital, count, plain},
    request::{Once, read_json},
    results::pages::{limits, worst_word},
};
use actix_web::{
    HttpResponse, get,
    http::{StatusCode, header},
    post, web,
};
use askama::Template;
use domain::{
    holds::{Hold, standing_in_the_way},
    id::{AccountId, ResultId, RunId, SampleId},
    results::ResultState,
};
use serde::Deserialize;
use serde_json::{Value, json};
use store::Waiting;
use uuid::Uuid;

/// Pages of the slice.
pub(crate) fn routes(config: &mut web::ServiceConfig) {
    config.service(review_page).service(sign_page);
}

/// A result that waits, as a row.
struct WaitingView {
    /// `result:version`, as the form sends it.
    shown: String,
    selected: bool,
    own: bool,
    sample: String,
    sample_href: String,
    lot: String,
    lot_href: String,
    analyte: &'static str,
    value: String,
    limits: String,
    decision: String,
    holds: Vec<String>,
}

/// Something that the form was refused for.
struct FaultView {
    anchor: &'static str,
    detail: String,
}

/// What was typed and selected.
#[derive(Default)]
struct Typed {
    selected: Vec<String>,
    comment: String,
    faults: Vec<FaultView>,
}

#[derive(Template)]
#[template(path = "reviews/queue.html")]
struct QueuePage {
    frame: Frame,
    answer: String,
    done: String,
    ready: Vec<WaitingView>,
    held: Vec<WaitingView>,
    may_sign: bool,
    may_select: bool,
    comment: String,
    faults: Vec<FaultView>,
    key: String,
    more: bool,
}

/// What was done last, said on the page after it.
#[derive(Deserialize)]
struct Done {
    #[serde(default)]
    released: i64,
    #[serde(default)]
    returned: i64,
}

#[get("/{lab}/review")]
async fn review_page(visit: Visit, done: web::Query<Done>) -> Page {
    let done = if done.released > 0 {
        format!(
            "{} released.",
            count(done.released, "result was", "results were")
        )
    } else if done.returned > 0 {
        let returned = count(done.returned, "result was", "results were");
        format!("{returned} returned to the analyst.")
    } else {
        String::new()
    };
    show(&visit, StatusCode::OK, Typed::default(), done).await
}

async fn show(visit: &Visit, status: StatusCode, typed: Typed, done: String) -> Page {
    let may_sign = visit.may(Action::ReleaseResults);
    let account = visit.actor.account();
    visit
        .show(Action::ReadReviews, "review", status, async |tx, frame| {
            read(tx, frame, typed, done, account.filter(|_| may_sign)).await
        })
        .await
}

async fn read(
    tx: &mut Tx,
    frame: Frame,
    typed: Typed,
    done: String,
    signer: Option<AccountId>,
) -> Answer<QueuePage> {
    let counts = store::counts(tx).await?;
    let waiting = store::waiting(tx).await?;
    let samples = waiting.iter().map(|one| one.sample_id).collect();
    let holds = store::standing_holds(tx, samples).await?;
    let (held, ready): (Vec<Waiting>, Vec<Waiting>) = waiting
        .into_iter()
        .partition(|one| one.result.content.state == ResultState::Held);
    let ready = views(&frame, ready, &holds, &typed, signer);
    let held = views(&frame, held, &holds, &typed, signer);
    let listed = i64::try_from(ready.len().saturating_add(held.len())).unwrap_or(i64::MAX);
    Ok(QueuePage {
        answer: answer(counts.ready, counts.held),
        done,
        may_sign: signer.is_some(),
        may_select: signer.is_some() && listed > 0,
        ready,
        held,
        comment: typed.comment,
        faults: typed.faults,
        key: ids::fresh::<Uuid>().to_string(),
        more: counts.ready.saturating_add(counts.held) > listed,
        frame,
    })
}

fn answer(ready: i64, held: i64) -> String {
    let waits = count(
        ready,
        "result waits for a second person",
        "results wait for a second person",
    );
    match held {
        0 => format!("{waits}."),
        1 => format!("{waits}; one is held."),
        several => format!(
            "{waits}; {}.",
            count(several, "is held", "are held").to_lowercase()
        ),
    }
}

fn views(
    frame: &Frame,
    waiting: Vec<Waiting>,
    holds: &[Hold],
    typed: &Typed,
    signer: Option<AccountId>,
) -> Vec<WaitingView> {
    let values: Vec<String> = waiting
        .iter()
        .map(|one| {
            one.result
                .content
                .computed
                .reported
                .clone()
                .unwrap_or_default()
        })
        .collect();
    waiting
        .into_iter()
        .zip(aligned(&values))
        .map(|(one, value)| {
            let shown = format!("{}:{}", one.result.id, one.result.version);
            let content = &one.result.content;
            WaitingView {
                selected: typed.selected.contains(&shown),
                shown,
                own: signer.is_some_and(|signer| one.analysts.contains(&signer.0)),
                sample_href: frame.at(&format!("samples/{}", one.sample_id)),
                sample: one.sample_code,
                lot_href: one
                    .lot_id
                    .map(|id| frame.at(&format!("lots/{id}")))
                    .unwrap_or_default(),
                lot: one.lot_code.unwrap_or_default(),
                analyte: analyte(content.computed.analyte),
                value,
                limits: limits(content).replace("limits ", "").replace("limit ", ""),
                decision: worst_word(content),
                holds: in_words(holds, one.result.id, one.sample_id, content),
            }
        })
        .collect()
}

/// The holds in the way of a result: what is amiss, with the facts.
fn in_words(
    holds: &[Hold],
    result: Uuid,
    sample: Uuid,
    content: &domain::results::ResultVersion,
) -> Vec<String> {
    let standing: Vec<RunId> = content
        .computed
        .runs
        .iter()
        .filter(|run| run.standing)
        .map(|run| run.run)
        .collect();
    let mut said: Vec<String> = Vec::new();
    for hold in standing_in_the_way(
        holds,
        ResultId(result),
        SampleId(sample),
        content.computed.analyte,
        &standing,
    ) {
        let words = format!("{}: {}", capital(&plain(hold.kind.word())), hold.detail);
        // Several runs may be held for the same: once is enough to know what is to be done.
        if !said.contains(&words) {
            said.push(words);
        }
    }
    said
}

/// Signs what was selected, and leads back to the queue; a refusal shows the queue again.
#[post("/{lab}/review")]
async fn sign_page(visit: Visit, form: Form) -> Page {
    let returning = form.text("meaning") == Some("return");
    match sign(&visit, &form).await {
        Ok(signed) => {
            let word = if returning { "returned" } else { "released" };
            Ok(HttpResponse::SeeOther()
                .insert_header((
                    header::LOCATION,
                    format!("/{}/review?{word}={signed}", visit.lab.slug()),
                ))
                .insert_header((header::CACHE_CONTROL, "no-store"))
                .finish())
        }
        Err(error) if error.kind().0.is_server_error() => Err(error.into()),
        Err(error) => {
            tracing::info!(slug = error.kind().1, "signature refused");
            let typed = Typed {
                selected: form.all("result").map(ToOwned::to_owned).collect(),
                comment: form.text("comment").unwrap_or_default().to_owned(),
                faults: faults(&error),
            };
            show(&visit, error.kind().0, typed, String::new()).await
        }
    }
}

/// Signs through the API's own function; gives the number of results signed.
async fn sign(visit: &Visit, form: &Form) -> Answer<usize> {
    let results: Vec<Value> = form
        .all("result")
        .filter_map(|shown| shown.split_once(':'))
        .map(|(result, version)| json!({"result": result, "version": version.parse::<u32>().ok()}))
        .collect();
    if results.is_empty() {
        return Err(ApiError::field(
            "/results",
            "Nothing is selected: select the results that you have looked at.",
        ));
    }
    let number = results.len();
    let mut body = json!({
        "meaning": form.text("meaning").unwrap_or("release"),
        "results": results,
        "password": form.exact("password").unwrap_or_default(),
    });
    if let (Some(comment), Some(members)) = (form.text("comment"), body.as_object_mut()) {
        members.insert("comment".to_owned(), json!(comment));
    }
    let bytes = serde_json::to_vec(&body).map_err(ApiError::internal)?;
    let body: ReviewResults = read_json(&bytes)?;
    let once = Once {
        key: form.text("key").ok_or(ApiError::KeyMissing)?.to_owned(),
        method: "POST".to_owned(),
        path: format!("/v1/laboratories/{}/reviews", visit.lab.slug()),
    };
    let answered = review(&visit.actor, &visit.lab, &once, &body, &visit.app).await?;
    if answered.status().is_success() {
        return Ok(number);
    }
    Err(ApiError::refused(
        "not-in-this-state",
        "This form was refused before. Look at the results again, then sign.",
    ))
}

fn faults(error: &ApiError) -> Vec<FaultView> {
    let anchor = |pointer: &str| {
        if pointer.starts_with("/password") {
            "password"
        } else if pointer.starts_with("/comment") {
            "comment"
        } else {
            "queue"
        }
    };
    let problem = error.problem();
    if problem.errors.is_empty() {
        return vec![FaultView {
            anchor: if matches!(error, ApiError::Forbidden(_)) {
                "password"
            } else {
                "queue"
            },
            detail: problem.detail,
        }];
    }
    problem
        .errors
        .into_iter()
        .map(|fault| FaultView {
            anchor: anchor(fault.pointer.trim_start_matches('#')),
            detail: capital(&fault.detail),
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_first_line_says_how_many_wait() {
        assert_eq!(answer(3, 0), "Three results wait for a second person.");
        assert_eq!(
            answer(1, 2),
            "One result waits for a second person; two are held."
        );
        assert_eq!(
            answer(0, 1),
            "No results wait for a second person; one is held."
        );
    }
}
