//! The list of kit lots as a page: those in use and those that wait first, with the tests that are
//! left and what a new lot was accepted on.

use super::store;
use crate::{
    identity::Action,
    kept::Kept,
    pages::{
        Cell, Column, ListPage, Page, Tone, Visit, analyte, count, escape, older, plain, word,
    },
    request,
    results::Reference,
};
use actix_web::{get, http::StatusCode, web};
use chrono::NaiveDate;
use domain::{
    kit_lots::{AnalyteComparison, KitLot, KitLotState, KitLotVerdict},
    quantity::Number,
};

/// Pages of the slice.
pub(crate) fn routes(config: &mut web::ServiceConfig) {
    config.service(kit_lots_page);
}

#[get("/{lab}/kit-lots")]
async fn kit_lots_page(visit: Visit, page: web::Query<request::Page>) -> Page {
    visit
        .show(
            Action::ReadKitLots,
            "kit lots",
            StatusCode::OK,
            async |tx, frame| {
                let filter = super::list_kit_lots::KitLotFilter::default();
                let mut lots = store::list(tx, &page, &filter).await?;
                let next = older(&page, &frame.at("kit-lots"), &mut lots, |lot| lot.id);
                let ids: Vec<_> = lots.iter().map(|lot| lot.id).collect();
                let used = store::tests_used(tx, &ids).await?;
                let reference = tx.reference().await?;
                let today = tx.now().utc().with_timezone(&frame.zone).date_naive();
                lots.sort_by_key(|lot| order(lot.content.state));
                Ok(ListPage {
                    answer: answer(&lots),
                    rows: lots
                        .iter()
                        .map(|lot| {
                            let used = used.get(&lot.id).copied().unwrap_or(0);
                            row(&reference, lot, used, today)
                        })
                        .collect(),
                    frame,
                    title: "Kit lots",
                    columns: vec![
                        Column::words("Lot"),
                        Column::words("State"),
                        Column::words("Kit"),
                        Column::words("Procedure"),
                        Column::words("Last day"),
                        Column::figures("Tests left"),
                        Column::words("Accepted on"),
                    ],
                    empty: "Kit lots would be here. One is registered when its first box arrives, \
                        and waits in quarantine until the quality manager accepts it.",
                    next,
                })
            },
        )
        .await
}

const fn order(state: KitLotState) -> u8 {
    match state {
        KitLotState::Quarantined => 0,
        KitLotState::Accepted => 1,
        KitLotState::Exhausted => 2,
        KitLotState::Rejected => 3,
        KitLotState::Recalled => 4,
    }
}

fn answer(lots: &[Kept<KitLot>]) -> String {
    if lots.is_empty() {
        return "No kit lot is registered yet.".to_owned();
    }
    let number = |state: KitLotState| {
        let those = lots.iter().filter(|lot| lot.content.state == state).count();
        i64::try_from(those).unwrap_or(i64::MAX)
    };
    let in_use = count(
        number(KitLotState::Accepted),
        "kit lot is in use",
        "kit lots are in use",
    );
    match number(KitLotState::Quarantined) {
        0 => format!("{in_use}; none waits in quarantine."),
        some => format!(
            "{in_use}; {} in quarantine.",
            count(some, "waits", "wait").to_lowercase()
        ),
    }
}

fn row(reference: &Reference, lot: &Kept<KitLot>, used: u64, today: NaiveDate) -> Vec<Cell> {
    let entry = &lot.content.entry;
    let tone = match lot.content.state {
        KitLotState::Accepted => Tone::Good,
        KitLotState::Quarantined | KitLotState::Exhausted => Tone::Open,
        KitLotState::Rejected | KitLotState::Recalled => Tone::Bad,
    };
    let procedure = reference.procedures.get(&entry.procedure.0);
    let last_day = if entry.expires_on < today {
        let past = word(Tone::Bad, "past its date");
        Cell::Made(format!("{} {past}", entry.expires_on))
    } else {
        entry.expires_on.to_string().into()
    };
    let code = escape(&entry.code);
    vec![
        Cell::Made(format!("<span class=\"nowrap\">{code}</span>")),
        Cell::Made(word(tone, &plain(lot.content.state.word()))),
        entry.name.clone().into(),
        procedure
            .map_or_else(String::new, |one| one.content.entry.code.clone())
            .into(),
        last_day,
        lot.content.tests_left(used).to_string().into(),
        Cell::Made(accepted_on(reference, &lot.content)),
    ]
}

/// What a lot was accepted on, as HTML.
fn accepted_on(reference: &Reference, lot: &KitLot) -> String {
    let Some(comparison) = &lot.comparison else {
        let runs = i64::try_from(lot.acceptance_runs.len()).unwrap_or(i64::MAX);
        return match runs {
            0 => String::new(),
            some => count(some, "run", "runs").to_lowercase(),
        };
    };
    let used = reference.kit_lots.get(&comparison.compared_with.subject);
    let used = used.map_or("", |lot| lot.content.entry.code.as_str());
    let said = comparison.analytes.iter().map(figures);
    let said: Vec<String> = said.collect();
    format!("beside {}: {}", escape(used), said.join("; "))
}

fn figures(one: &AnalyteComparison) -> String {
    let tone = match one.verdict {
        KitLotVerdict::Agrees => Tone::Good,
        KitLotVerdict::Differs => Tone::Bad,
        KitLotVerdict::CannotTell | KitLotVerdict::NoCriterion => Tone::Open,
    };
    let verdict = word(tone, &plain(one.verdict.word()));
    let pairs = i64::try_from(one.pairs.len()).unwrap_or(i64::MAX);
    let pairs = count(pairs, "pair", "pairs").to_lowercase();
    let what = analyte(one.analyte);
    let Some(found) = &one.difference else {
        return format!("{what} from {pairs}, {verdict}");
    };
    let [low, high] = found.interval;
    let allowed = one.allowed.map_or_else(String::new, |allowed| {
        format!(", {} is allowed", short(allowed))
    });
    format!(
        "{what} {} µg/kg on average (95 % interval {} to {}, {pairs}){allowed}, {verdict}",
        signed(found.mean_difference),
        signed(low),
        signed(high)
    )
}

/// Three significant figures: more than a strip can tell of a difference.
fn short(number: Number) -> String {
    let short = number.0.round_sf(3).unwrap_or(number.0);
    short.normalize().to_string()
}

fn signed(number: Number) -> String {
    let text = short(number);
    match text.strip_prefix('-') {
        Some(size) => format!("\u{2212}{size}"),
        None if number.0.is_zero() => text,
        None => format!("+{text}"),
    }
}
