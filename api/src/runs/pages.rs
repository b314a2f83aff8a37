//! The list of runs as a page.

mod store;

use crate::{
    identity::Action,
    kept::Kept,
    pages::{Cell, Column, Frame, ListPage, Page, Visit, analyte, count, older, plain},
    request,
    results::{Reference, pages::read_out},
};
use actix_web::{get, http::StatusCode, web};
use domain::runs::Run;

/// Pages of the slice.
pub(crate) fn routes(config: &mut web::ServiceConfig) {
    config.service(runs_page);
}

#[get("/{lab}/runs")]
async fn runs_page(visit: Visit, page: web::Query<request::Page>) -> Page {
    visit
        .show(Action::ReadRuns, "runs", StatusCode::OK, async |tx, frame| {
            let filter = super::RunFilter::default();
            let mut runs = super::store::list(tx, &page, &filter).await?;
            let counts = store::counts(tx).await?;
            let next = older(&page, &frame.at("runs"), &mut runs, |run| run.id);
            let samples = store::sample_codes(tx, &runs).await?;
            let reference = tx.reference().await?;
            let cells = runs
                .iter()
                .map(|run| row(&frame, &reference, &samples, run))
                .collect();
            Ok(ListPage {
                frame,
                title: "Runs",
                answer: answer(&counts),
                columns: vec![
                    Column::words("Read"),
                    Column::words("Sample"),
                    Column::words("Reader"),
                    Column::words("Kit lot"),
                    Column::words("Dilution"),
                    Column::words("Readings"),
                    Column::words("State"),
                ],
                rows: cells,
                empty: "Runs would be here. One is recorded for each strip, at the bench or from \
                    a reader's export.",
                next,
            })
        })
        .await
}

fn answer(counts: &store::Counts) -> String {
    if counts.runs == 0 {
        return "No run is recorded yet.".into();
    }
    let all = count(counts.runs, "run", "runs");
    match counts.unassigned {
        0 => format!("{all}, each of a sample."),
        some => format!(
            "{all}; {} yet.",
            count(some, "belongs to no sample", "belong to no sample").to_lowercase()
        ),
    }
}

fn row(
    frame: &Frame,
    reference: &Reference,
    samples: &store::Codes,
    kept: &Kept<Run>,
) -> Vec<Cell> {
    let run = &kept.content;
    let read_at = run.entry.read_at.map(|at| frame.moment(at));
    let sample = run.entry.sample.and_then(|id| {
        let code = samples.get(&id.0)?;
        let href = frame.at(&format!("samples/{id}"));
        Some(Cell::Lead(code.clone(), href))
    });
    let readings: Vec<String> = run
        .entry
        .readings
        .iter()
        .map(|reading| format!("{} {}", read_out(reading), analyte(reading.analyte)))
        .collect();
    vec![
        Cell::Made(read_at.unwrap_or_else(|| "not read yet".to_owned())),
        sample.unwrap_or_else(|| "of no sample yet".into()),
        crate::results::pages::port(reference, run).into(),
        crate::results::pages::kit_lot(reference, run).into(),
        crate::results::pages::dilution(run.factor).into(),
        readings.join("; ").into(),
        plain(run.state.word()).into(),
    ]
}
