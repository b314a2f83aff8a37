//! The list of limits as a page: those that decide first.

use super::{Standing, known, may_see};
use crate::{
    identity::Action,
    pages::{Cell, Column, ListPage, Page, Visit, aligned, analyte, count, shown},
    vocabulary,
};
use actix_web::{get, http::StatusCode, web};
use domain::{
    commodities::Vocabulary,
    limits::{Authority, Limit, LimitState},
};

/// Pages of the slice.
pub(crate) fn routes(config: &mut web::ServiceConfig) {
    config.service(limits_page);
}

#[get("/{lab}/limits")]
async fn limits_page(visit: Visit) -> Page {
    let customer = visit.permit(Action::ReadLimits)?.only_customer();
    visit
        .show(
            Action::ReadLimits,
            "limits",
            StatusCode::OK,
            async |tx, frame| {
                let mut all = known(tx).await?;
                all.retain(|standing| may_see(standing.limit(), customer));
                all.sort_by_key(|standing| order(standing.limit().state));
                let words = vocabulary::shipped()?;
                let values: Vec<String> = all
                    .iter()
                    .map(|standing| shown(standing.limit().value.ug_per_kg()))
                    .collect();
                let rows = all
                    .iter()
                    .zip(aligned(&values))
                    .map(|(standing, value)| row(words, standing.limit(), value))
                    .collect();
                Ok(ListPage {
                    frame,
                    title: "Limits",
                    answer: answer(&all),
                    columns: vec![
                        Column::words("State"),
                        Column::words("Whose"),
                        Column::words("Analyte"),
                        Column::words("Commodity"),
                        Column::words("Use"),
                        Column::figures("µg/kg"),
                        Column::words("Basis"),
                        Column::words("Source"),
                    ],
                    rows,
                    empty: "Limits of law, contract and intake would be here.",
                    next: None,
                })
            },
        )
        .await
}

const fn order(state: LimitState) -> u8 {
    match state {
        LimitState::Adopted => 0,
        LimitState::Proposed => 1,
        LimitState::Retired => 2,
    }
}

fn answer(all: &[Standing]) -> String {
    let number = |state: LimitState| {
        let those = all.iter().filter(|one| one.limit().state == state).count();
        i64::try_from(those).unwrap_or(i64::MAX)
    };
    format!(
        "{}; {} before the quality manager has read the source.",
        count(
            number(LimitState::Adopted),
            "limit is adopted and decides",
            "limits are adopted and decide"
        ),
        count(
            number(LimitState::Proposed),
            "is proposed and decides nothing",
            "are proposed and decide nothing"
        )
        .to_lowercase(),
    )
}

fn row(words: &Vocabulary, limit: &Limit, value: String) -> Vec<Cell> {
    let state = match limit.state {
        LimitState::Adopted => "adopted",
        LimitState::Proposed => "proposed",
        LimitState::Retired => "retired",
    };
    let whose = match &limit.authority {
        Authority::Law {
            jurisdiction,
            authority_kind,
        } => format!("{jurisdiction}, {}", authority_kind.name()),
        Authority::Contract { .. } => "a contract".to_owned(),
        Authority::Intake { .. } => "the intake".to_owned(),
    };
    let good = words.commodities.entry(&limit.commodity);
    let intended = words.uses.entry(&limit.intended_use);
    vec![
        state.into(),
        whose.into(),
        analyte(limit.analyte).into(),
        good.map_or(limit.commodity.clone(), |entry| entry.name.clone())
            .into(),
        intended
            .map_or(limit.intended_use.clone(), |entry| entry.name.clone())
            .into(),
        value.into(),
        limit.basis.to_string().into(),
        limit.source.clone().into(),
    ]
}
