//! The list of validations, and one validation as a page that can be printed: the report.
//!
//! Promises every figure of the report with those it was found by, and every determination.

mod figures;
mod report;

use super::{
    list_screening_validations::ScreeningValidationFilter, standing::Standing, store,
    wire::ScreeningValidationItem,
};
use crate::{
    identity::{Action, InLab},
    pages::{Cell, Column, ListPage, Page, Tone, Visit, analyte, capital, count, older, word},
    procedures, request,
};
use actix_web::{get, http::StatusCode, web};
use domain::{id::ScreeningValidationId, screening_validations::ScreeningValidationState};

/// Pages of the slice.
pub(crate) fn routes(config: &mut web::ServiceConfig) {
    config.service(validations_page).service(validation_page);
}

#[get("/{lab}/screening-validations")]
async fn validations_page(visit: Visit, page: web::Query<request::Page>) -> Page {
    visit
        .show(
            Action::ReadScreeningValidations,
            "screening validations",
            StatusCode::OK,
            async |tx, frame| {
                let filter = ScreeningValidationFilter::default();
                let mut found = store::list(tx, &page, &filter).await?;
                let next = older(
                    &page,
                    &frame.at("screening-validations"),
                    &mut found,
                    |one| one.id,
                );
                let mut rows = Vec::new();
                for kept in found {
                    let procedure = kept.content.entry.procedure.0;
                    let procedure = procedures::store::find(tx, procedure).await?;
                    let item = ScreeningValidationItem::from(kept);
                    let href = frame.at(&format!("screening-validations/{}", item.id));
                    rows.push(row(item, href, procedure.content.entry.code));
                }
                let number = i64::try_from(rows.len()).unwrap_or(i64::MAX);
                Ok(ListPage {
                    frame,
                    title: "Validations of screening",
                    answer: format!(
                        "{}.",
                        count(
                            number,
                            "validation says where a cut-off comes from",
                            "validations say where cut-offs come from"
                        )
                    ),
                    columns: vec![
                        Column::words("Code"),
                        Column::words("State"),
                        Column::words("Procedure"),
                        Column::words("Analyte"),
                        Column::words("Study"),
                        Column::figures("Target, µg/kg"),
                        Column::figures("Cut-off"),
                    ],
                    rows,
                    empty: "Validations of screening methods would be here. One is recorded with \
                        its determinations, 20 blanks and 20 positives over 5 days, and adopted \
                        by the quality manager.",
                    next,
                })
            },
        )
        .await
}

fn row(item: ScreeningValidationItem, href: String, procedure: String) -> Vec<Cell> {
    vec![
        Cell::Lead(item.code, href),
        Cell::Made(state_word(item.state)),
        procedure.into(),
        analyte(item.analyte).into(),
        capital(item.study.name()).into(),
        item.screening_target.to_string().into(),
        item.cut_off
            .map_or_else(String::new, |one| one.to_string())
            .into(),
    ]
}

fn state_word(state: ScreeningValidationState) -> String {
    let tone = match state {
        ScreeningValidationState::Adopted => Tone::Good,
        ScreeningValidationState::Draft => Tone::Open,
        ScreeningValidationState::Withdrawn => Tone::Bad,
    };
    word(tone, state.word())
}

#[get("/{lab}/screening-validations/{id}")]
async fn validation_page(visit: Visit, validation: InLab<ScreeningValidationId>) -> Page {
    show(&visit, validation.id()).await
}

/// One validation, for whoever visits or asks for the report as a page.
pub(super) async fn show(visit: &Visit, validation: ScreeningValidationId) -> Page {
    visit
        .show(
            Action::ReadScreeningValidations,
            "screening validations",
            StatusCode::OK,
            async |tx, frame| {
                let kept = store::find(tx, validation.0).await?;
                let standing = Standing::of(tx, kept).await?;
                report::read(tx, frame, standing).await
            },
        )
        .await
}
