//! The list of certificates as a page.

mod store;

use crate::{
    identity::Action,
    pages::{Cell, Column, ListPage, Page, Visit, count, older},
    request,
};
use actix_web::{get, http::StatusCode, web};

/// Pages of the slice.
pub(crate) fn routes(config: &mut web::ServiceConfig) {
    config.service(certificates_page);
}

#[get("/{lab}/certificates")]
async fn certificates_page(visit: Visit, page: web::Query<request::Page>) -> Page {
    let customer = visit
        .permit(Action::ReadCertificates)?
        .only_customer()
        .map(|customer| customer.0);
    visit
        .show(
            Action::ReadCertificates,
            "certificates",
            StatusCode::OK,
            async |tx, frame| {
                let mut rows = store::list(tx, &page, customer).await?;
                let issued = store::issued(tx, customer).await?;
                let address = frame.at("certificates");
                let next = older(&page, &address, &mut rows, |row| row.certificate_id);
                let cells = rows
                    .into_iter()
                    .map(|row| {
                        vec![
                            Cell::Lead(row.number, format!("/c/{}", row.code)),
                            Cell::Lead(row.lot_code, frame.at(&format!("lots/{}", row.lot_id))),
                            Cell::Made(frame.moment(row.created_at.into())),
                            row.state.replace('-', " ").into(),
                        ]
                    })
                    .collect();
                Ok(ListPage {
                    frame,
                    title: "Certificates",
                    answer: format!(
                        "{}.",
                        count(
                            issued,
                            "certificate is in force",
                            "certificates are in force"
                        )
                    ),
                    columns: vec![
                        Column::words("Number"),
                        Column::words("Lot"),
                        Column::words("Issued"),
                        Column::words("State"),
                    ],
                    rows: cells,
                    empty: "Certificates of your lots would be here. One is issued for a lot once \
                        its results are released; it gets its number then.",
                    next,
                })
            },
        )
        .await
}
