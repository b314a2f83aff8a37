//! The list of lots, and one lot as a page.
//!
//! Promises that a customer sees of a lot what its part in it lets it see, and nothing of others.

mod store;

use crate::{
    db::Tx,
    error::{Answer, ApiError},
    identity::{Action, InLab},
    pages::{
        Cell, Column, Frame, ListPage, Page, Visit, aligned, analyte, count, escape, older, plain,
    },
    request,
    results::{
        self, Dossier,
        pages::{answer_for_lot, limits, state_word, worst_word},
    },
    vocabulary,
};
use actix_web::{get, http::StatusCode, web};
use askama::Template;
use domain::{
    id::{CustomerId, LotId},
    lots::{Lot, Sees},
    results::{ResultState, ResultVersion},
};
use uuid::Uuid;

/// Pages of the slice.
pub(crate) fn routes(config: &mut web::ServiceConfig) {
    config.service(lots_page).service(lot_page);
}

/// A result of the lot, as a row.
struct ResultRow {
    sample: String,
    sample_href: String,
    analyte: &'static str,
    value: String,
    limits: String,
    decision: String,
    state: String,
}

/// A certificate of the lot.
struct CertificateItem {
    number: String,
    href: String,
    state: String,
    issued: String,
}

#[derive(Template)]
#[template(path = "lots/lot.html")]
struct LotPage {
    frame: Frame,
    code: String,
    answer: String,
    samples: Vec<(String, String)>,
    shows_results: bool,
    shows_samples: bool,
    results: Vec<ResultRow>,
    facts: Vec<(&'static str, String)>,
    certificates: Vec<CertificateItem>,
}

#[get("/{lab}/lots/{id}")]
async fn lot_page(visit: Visit, lot: InLab<LotId>) -> Page {
    let customer = visit.permit(Action::ReadLots)?.only_customer();
    let shows_samples = visit.may(Action::ReadSamples);
    visit
        .show(
            Action::ReadLots,
            "lots",
            StatusCode::OK,
            async |tx, frame| read(tx, frame, lot.id().0, customer, shows_samples).await,
        )
        .await
}

async fn read(
    tx: &mut Tx,
    frame: Frame,
    id: Uuid,
    customer: Option<CustomerId>,
    shows_samples: bool,
) -> Answer<LotPage> {
    let lot = super::store::find(tx, id).await?.content;
    let sees = customer.map_or(Sees::Results, |customer| lot.seen_by(customer));
    if sees == Sees::Nothing {
        return Err(ApiError::missing("lot", id));
    }
    let reference = tx.reference().await?;
    let samples = store::samples_of(tx, id).await?;
    let dossiers = results::read_dossiers(tx, &reference, &samples).await?;
    let shows_results = sees == Sees::Results;
    let dossiers: Vec<&Dossier> = dossiers.samples.values().collect();
    let certificates = store::certificates_of(tx, id).await?;
    Ok(LotPage {
        code: lot.code.clone(),
        answer: first_line(
            &dossiers,
            customer.is_some(),
            shows_results,
            certificates.len(),
        ),
        samples: dossiers
            .iter()
            .map(|dossier| {
                let href = frame.at(&format!("samples/{}", dossier.id));
                (dossier.sample.content.code.clone(), href)
            })
            .collect(),
        shows_results,
        shows_samples,
        results: if shows_results {
            result_rows(&frame, &dossiers, customer.is_some())
        } else {
            Vec::new()
        },
        facts: facts(tx, &frame, &lot, customer).await?,
        certificates: certificates
            .into_iter()
            .map(|one| CertificateItem {
                href: format!("/c/{}", one.code),
                number: one.number,
                state: plain(&one.state),
                issued: frame.moment(one.created_at.into()),
            })
            .collect(),
        frame,
    })
}

/// A customer is told only what was released.
fn shown_to(result: &ResultVersion, is_customer: bool) -> bool {
    !is_customer || result.state == ResultState::Released
}

fn first_line(
    dossiers: &[&Dossier],
    is_customer: bool,
    shows_results: bool,
    certificates: usize,
) -> String {
    let results: Vec<&ResultVersion> = dossiers
        .iter()
        .flat_map(|dossier| &dossier.results)
        .map(|kept| &kept.content)
        .filter(|result| shown_to(result, is_customer))
        .collect();
    if is_customer && (!shows_results || results.is_empty()) {
        let number = i64::try_from(certificates).unwrap_or(i64::MAX);
        let counted = count(
            number,
            "certificate was issued for this lot",
            "certificates were issued for this lot",
        );
        return format!("{counted}.");
    }
    if dossiers.is_empty() {
        return "This lot waits for its first sample.".into();
    }
    let holds: Vec<_> = dossiers
        .iter()
        .flat_map(|dossier| &dossier.holds)
        .map(|kept| &kept.content)
        .collect();
    answer_for_lot(&results, &holds)
}

fn result_rows(frame: &Frame, dossiers: &[&Dossier], is_customer: bool) -> Vec<ResultRow> {
    let all: Vec<(&Dossier, &ResultVersion)> = dossiers
        .iter()
        .flat_map(|dossier| {
            dossier
                .results
                .iter()
                .map(move |kept| (*dossier, &kept.content))
        })
        .filter(|(_, result)| shown_to(result, is_customer))
        .collect();
    let values: Vec<String> = all
        .iter()
        .map(|(_, result)| result.computed.reported.clone().unwrap_or_default())
        .collect();
    all.into_iter()
        .zip(aligned(&values))
        .map(|((dossier, result), value)| ResultRow {
            sample: dossier.sample.content.code.clone(),
            sample_href: frame.at(&format!("samples/{}", dossier.id)),
            analyte: analyte(result.computed.analyte),
            value,
            limits: limits(result).replace("limits ", "").replace("limit ", ""),
            decision: worst_word(result),
            state: state_word(result.state),
        })
        .collect()
}

async fn facts(
    tx: &mut Tx,
    frame: &Frame,
    lot: &Lot,
    customer: Option<CustomerId>,
) -> Answer<Vec<(&'static str, String)>> {
    let words = vocabulary::shipped()?;
    let good = words.commodities.entry(&lot.commodity);
    let mut facts = vec![(
        "Commodity",
        escape(good.map_or(lot.commodity.as_str(), |entry| entry.name.as_str())),
    )];
    facts.extend(lot.mass_kg.map(|mass| ("Mass", format!("{mass} kg"))));
    facts.push(("Arrived on", lot.arrived_on.to_string()));
    if let Some(origin) = &lot.origin {
        facts.push(("Origin", escape(origin)));
    }
    if let Some(registration) = lot
        .carrier
        .as_ref()
        .and_then(|carrier| carrier.registration.as_ref())
    {
        facts.push(("Carrier", escape(registration)));
    }
    let uses: Vec<&str> = lot
        .intended_uses
        .iter()
        .map(|one| {
            let entry = words.uses.entry(one);
            entry.map_or(one.as_str(), |entry| entry.name.as_str())
        })
        .collect();
    if !uses.is_empty() {
        facts.push(("Intended uses", escape(&uses.join(", "))));
    }
    if !lot.jurisdictions.is_empty() {
        facts.push(("Law of", escape(&lot.jurisdictions.join(", "))));
    }
    if customer.is_some() {
        return Ok(facts);
    }
    if let Some(parent) = lot.parent {
        let code = super::store::find(tx, parent.0).await?.content.code;
        let href = frame.at(&format!("lots/{parent}"));
        facts.push((
            "Sublot of",
            format!("<a href=\"{href}\">{}</a>", escape(&code)),
        ));
    }
    let viewers: Vec<Uuid> = lot.viewers().iter().map(|(id, _)| id.0).collect();
    let names = store::customer_names(tx, viewers).await?;
    let who: Vec<String> = lot
        .viewers()
        .iter()
        .map(|(id, sees)| {
            let sees = match sees {
                Sees::Nothing => "nothing",
                Sees::Certificates => "certificates",
                Sees::Results => "certificates and results",
            };
            let name = names.get(&id.0).map_or("a customer", String::as_str);
            format!("{} ({sees})", escape(name))
        })
        .collect();
    if !who.is_empty() {
        facts.push(("Seen by", who.join(", ")));
    }
    if let Some(comment) = &lot.comment {
        facts.push(("Comment", escape(comment)));
    }
    Ok(facts)
}

#[get("/{lab}/lots")]
async fn lots_page(visit: Visit, page: web::Query<request::Page>) -> Page {
    let customer = visit.permit(Action::ReadLots)?.only_customer();
    let customer = customer.map(|customer| customer.0);
    visit
        .show(Action::ReadLots, "lots", StatusCode::OK, async |tx, frame| {
            let mut rows = store::list(tx, &page, customer).await?;
            let counts = store::counts(tx, customer).await?;
            let next = older(&page, &frame.at("lots"), &mut rows, |row| row.lot_id);
            let words = vocabulary::shipped()?;
            let masses: Vec<String> = rows
                .iter()
                .map(|row| row.mass_kg.clone().unwrap_or_default())
                .collect();
            let cells = rows
                .into_iter()
                .zip(aligned(&masses))
                .map(|(row, mass)| {
                    let good = words.commodities.entry(&row.commodity);
                    let good = good.map_or(row.commodity.clone(), |entry| entry.name.clone());
                    vec![
                        Cell::Lead(row.code, frame.at(&format!("lots/{}", row.lot_id))),
                        good.into(),
                        mass.into(),
                        row.arrived_on.to_string().into(),
                        row.customer.unwrap_or_default().into(),
                        released(row.released, row.results, row.samples).into(),
                    ]
                })
                .collect();
            Ok(ListPage {
                frame,
                title: "Lots",
                answer: lots_answer(counts.lots, counts.waiting),
                columns: vec![
                    Column::words("Lot"),
                    Column::words("Commodity"),
                    Column::figures("kg"),
                    Column::words("Arrived on"),
                    Column::words("Customer"),
                    Column::words("Results"),
                ],
                rows: cells,
                empty: "Lots would be here. One is registered when goods arrive: at the bench, by \
                    a weighbridge, or by a reader's export that names it.",
                next,
            })
        })
        .await
}

fn released(released: i64, results: i64, samples: i64) -> String {
    match (samples, results) {
        (0, _) => "no sample yet".to_owned(),
        (_, 0) => "no run yet".to_owned(),
        (_, results) if released == results => "all released".to_owned(),
        (_, results) => format!("{released} of {results} released"),
    }
}

fn lots_answer(lots: i64, waiting: i64) -> String {
    if lots == 0 {
        return "No lot is registered yet.".into();
    }
    let all = count(lots, "lot", "lots");
    if waiting == 0 {
        return format!("{all}; none has a result that waits.");
    }
    let waits = count(
        waiting,
        "has a result that is not released yet",
        "have results that are not released yet",
    );
    format!("{all}; {}.", waits.to_lowercase())
}
