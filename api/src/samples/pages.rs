//! One sample as a page, and the list of samples.
//!
//! Promises the answer first, then what it came from in the order in which one would ask for it,
//! and the history of everything that concerns the sample.

mod acceptance;
mod history;
mod holds;
mod preparation;
mod runs;
mod signals;
mod store;

use crate::{
    db::Tx,
    error::{Answer, ApiError},
    identity::{Action, InLab},
    ids,
    pages::{Cell, Column, Frame, ListPage, Page, Visit, capital, count, escape, older, plain},
    request,
    results::{
        self, Dossier, Reference,
        pages::{ResultView, answer},
    },
};
use actix_web::{get, http::StatusCode, web};
use askama::Template;
use domain::{
    assessment::SampleBackground,
    id::{AccountId, SampleId},
    samples::Purpose,
    samplings::Sampling,
};
use history::ActView;
use holds::{Asked, HoldView};
use preparation::StepView;
use runs::RunView;
use serde::Deserialize;
use signals::SignalView;
use uuid::Uuid;

/// Pages of the slice.
pub(crate) fn routes(config: &mut web::ServiceConfig) {
    config
        .service(samples_page)
        .service(sample_page)
        .service(acceptance::accept_page);
}

/// A result with its runs.
struct Finding {
    result: ResultView,
    runs: Vec<RunView>,
    signals: Vec<SignalView>,
}

/// What is known of the sample itself, as names and HTML.
type Facts = Vec<(&'static str, String)>;

#[derive(Template)]
#[template(path = "samples/sample.html")]
struct SamplePage {
    frame: Frame,
    code: String,
    answer: String,
    findings: Vec<Finding>,
    standing: Vec<HoldView>,
    lifted: Vec<HoldView>,
    preparation: Vec<StepView>,
    facts: Facts,
    history: Vec<ActView>,
    is_cut: bool,
    typed: Typed,
    own_href: String,
    key: String,
}

/// What was typed in the form that accepts a hold, and what came of it.
#[derive(Default)]
struct Typed {
    /// `hold:version`, where one was to be accepted.
    hold: String,
    reason: String,
    /// Why it was not accepted; empty where nothing was refused.
    fault: String,
    /// Whether a hold was accepted just now.
    accepted: bool,
}

/// What was done last, said on the page after it.
#[derive(Deserialize)]
struct Done {
    #[serde(default)]
    accepted: u8,
}

#[get("/{lab}/samples/{id}")]
async fn sample_page(visit: Visit, sample: InLab<SampleId>, done: web::Query<Done>) -> Page {
    let typed = Typed {
        accepted: done.accepted > 0,
        ..Typed::default()
    };
    show(&visit, StatusCode::OK, sample.id().0, typed).await
}

async fn show(visit: &Visit, status: StatusCode, id: Uuid, typed: Typed) -> Page {
    let may_accept = visit.may(Action::AcceptHold);
    let reviewer = visit.actor.account().filter(|_| may_accept);
    let action = Action::ReadSamples;
    visit
        .show(action, "samples", status, async |tx, frame| {
            read(tx, frame, id, typed, reviewer).await
        })
        .await
}

async fn read(
    tx: &mut Tx,
    frame: Frame,
    id: Uuid,
    typed: Typed,
    reviewer: Option<AccountId>,
) -> Answer<SamplePage> {
    let reference = tx.reference().await?;
    let mut dossiers = results::read_dossiers(tx, &reference, &[id]).await?;
    let dossier = dossiers
        .samples
        .remove(&id)
        .ok_or_else(|| ApiError::missing("sample", id))?;
    let names = store::names(tx).await?;
    let mut findings = Vec::with_capacity(dossier.results.len());
    for (place, result) in dossier.results.iter().enumerate() {
        let key = format!("result-{place}");
        findings.push(Finding {
            result: results::pages::view(tx, &reference, &dossier, result, &key).await?,
            runs: runs::of_result(&frame, &reference, &names, &dossier, &result.content),
            signals: signals::of_result(&frame, &reference, &dossier, &result.content),
        });
    }
    let contents: Vec<_> = dossier.results.iter().map(|kept| &kept.content).collect();
    let all_holds: Vec<_> = dossier.holds.iter().map(|kept| &kept.content).collect();
    let mut standing = holds::of(&frame, &names, &dossier, false);
    holds::ask(tx, &mut standing, &dossier, reviewer).await?;
    let (history, is_cut) = history::of(tx, &frame, &names, &dossier).await?;
    Ok(SamplePage {
        code: dossier.sample.content.code.clone(),
        answer: answer(
            dossier.sample.content.purpose == Purpose::Customer,
            &contents,
            &all_holds,
        ),
        findings,
        standing,
        lifted: holds::of(&frame, &names, &dossier, true),
        preparation: preparation::of(&frame, &reference, &names, &dossier),
        facts: facts(&frame, &reference, &dossier),
        history,
        is_cut,
        typed,
        own_href: frame.at(&format!("samples/{id}")),
        key: ids::fresh::<Uuid>().to_string(),
        frame,
    })
}

fn facts(frame: &Frame, reference: &Reference, dossier: &Dossier) -> Facts {
    let sample = &dossier.sample.content;
    let mut facts: Facts = Vec::new();
    if let Some((id, lot)) = &dossier.lot {
        let lot = &lot.content;
        let mass = lot
            .mass_kg
            .map(|mass| format!(", {mass} kg"))
            .unwrap_or_default();
        facts.push((
            "Lot",
            format!(
                "<a href=\"{}\">{}</a>{mass}, arrived on {}",
                frame.at(&format!("lots/{id}")),
                escape(&lot.code),
                lot.arrived_on
            ),
        ));
    }
    let good = reference
        .vocabulary
        .commodities
        .entry(&sample.commodity)
        .map_or(sample.commodity.as_str(), |entry| entry.name.as_str());
    facts.push(("Commodity", escape(good)));
    if sample.purpose != Purpose::Customer {
        let purpose = serde_json::to_value(sample.purpose)
            .ok()
            .and_then(|word| word.as_str().map(plain))
            .unwrap_or_default();
        facts.push(("Purpose", purpose));
    }
    if let Some((_, order)) = &dossier.order {
        facts.push(("Order", escape(&order.content.code)));
    }
    if let Some((_, sampling)) = &dossier.sampling {
        facts.push(("Taken", taken(frame, &sampling.content)));
    }
    if let Some(check) = SampleBackground::of(&dossier.facts()).plan_check() {
        facts.push(("Sampling plan", escape(&capital(&check.detail))));
    }
    facts.push(("Received", frame.moment(sample.received_at)));
    if let Some(mass) = sample.mass_g {
        facts.push(("Mass", format!("{mass} g")));
    }
    if let Some(condition) = &sample.condition {
        facts.push(("Condition", escape(condition)));
    }
    if let Some(moisture) = &sample.moisture {
        facts.push((
            "Moisture",
            format!("{} %, by {}", moisture.percent, escape(&moisture.method)),
        ));
    }
    if let Some(retained) = &sample.retained {
        facts.push((
            "Retained portion",
            format!(
                "{} g at {}, until {}",
                retained.mass_g,
                escape(&retained.place),
                retained.until
            ),
        ));
    }
    if !sample.barcodes.is_empty() {
        facts.push(("Barcodes", escape(&sample.barcodes.join(", "))));
    }
    facts
}

/// When and how much was taken from the lot.
fn taken(frame: &Frame, sampling: &Sampling) -> String {
    let count = sampling.increments.map(|it| format!("{it} increments"));
    let each = sampling.increment_mass_g.map(|mass| format!("of {mass} g"));
    let all = sampling
        .aggregate_mass_kg
        .map(|mass| format!("together {mass} kg"));
    let amounts: Vec<String> = [count, each, all].into_iter().flatten().collect();
    let when = frame.moment(sampling.taken_at);
    if amounts.is_empty() {
        return when;
    }
    format!("{when}: {}", amounts.join(" "))
}

#[get("/{lab}/samples")]
async fn samples_page(visit: Visit, page: web::Query<request::Page>) -> Page {
    visit
        .show(
            Action::ReadSamples,
            "samples",
            StatusCode::OK,
            async |tx, frame| {
                let mut rows = store::list(tx, &page).await?;
                let counts = store::counts(tx).await?;
                let next = older(&page, &frame.at("samples"), &mut rows, |row| row.sample_id);
                let reference = tx.reference().await?;
                let cells = rows
                    .into_iter()
                    .map(|row| sample_row(&frame, &reference, row))
                    .collect();
                Ok(ListPage {
                    frame,
                    title: "Samples",
                    answer: samples_answer(&counts),
                    columns: vec![
                        Column::words("Sample"),
                        Column::words("Lot"),
                        Column::words("Commodity"),
                        Column::words("Received"),
                        Column::words("Results"),
                    ],
                    rows: cells,
                    empty: "Samples would be here. One is registered when it is taken or received, \
                    with its lot, at the bench or by a reader's export that names the lot.",
                    next,
                })
            },
        )
        .await
}

fn samples_answer(counts: &store::Counts) -> String {
    let part = |number: i64, one: &str, several: &str| {
        (number > 0).then(|| count(number, one, several).to_lowercase())
    };
    let parts: Vec<String> = [
        part(counts.needs_a_run, "needs a run", "need a run"),
        part(counts.held, "is held", "are held"),
        part(
            counts.ready,
            "waits for a second person",
            "wait for a second person",
        ),
        part(counts.returned, "was returned", "were returned"),
    ]
    .into_iter()
    .flatten()
    .collect();
    if counts.samples == 0 {
        return "No sample is registered yet.".into();
    }
    let all = count(counts.samples, "sample", "samples");
    if parts.is_empty() {
        return format!("{all}, and nothing is left to do with any of their results.");
    }
    capital(&format!("{all}: of their results {}.", parts.join(", ")))
}

fn sample_row(frame: &Frame, reference: &Reference, row: store::SampleRow) -> Vec<Cell> {
    let good = reference
        .vocabulary
        .commodities
        .entry(&row.commodity)
        .map_or(row.commodity.clone(), |entry| entry.name.clone());
    let lot = match (row.lot_id, row.lot_code) {
        (Some(id), Some(code)) => Cell::Lead(code, frame.at(&format!("lots/{id}"))),
        _ => Cell::Text(plain(&row.purpose)),
    };
    let results = if row.results.is_empty() {
        "no run yet".to_owned()
    } else {
        row.results
    };
    vec![
        Cell::Lead(row.code, frame.at(&format!("samples/{}", row.sample_id))),
        lot,
        good.into(),
        Cell::Made(frame.moment(row.received_at.into())),
        plain(&results).into(),
    ]
}
