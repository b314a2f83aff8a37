//! Equipment and readers as a page: what is past its date first.

use crate::{
    identity::Action,
    pages::{Cell, Column, Frame, ListPage, Page, Tone, Visit, count, word},
    results::Reference,
};
use actix_web::{get, http::StatusCode, web};
use chrono::NaiveDate;
use domain::time::Moment;

/// Pages of the slice.
pub(crate) fn routes(config: &mut web::ServiceConfig) {
    config.service(equipment_page);
}

/// What the page shows of one piece.
struct Piece {
    code: String,
    kind: &'static str,
    name: String,
    calibration_due_on: Option<NaiveDate>,
    check_due_on: Option<NaiveDate>,
    failed_since: Option<Moment>,
}

impl Piece {
    fn is_overdue(&self, today: NaiveDate) -> bool {
        [self.calibration_due_on, self.check_due_on]
            .into_iter()
            .flatten()
            .any(|due| due < today)
    }

    fn next_due(&self) -> NaiveDate {
        [self.calibration_due_on, self.check_due_on]
            .into_iter()
            .flatten()
            .min()
            .unwrap_or(NaiveDate::MAX)
    }
}

#[get("/{lab}/equipment")]
async fn equipment_page(visit: Visit) -> Page {
    visit
        .show(
            Action::ReadEquipment,
            "equipment",
            StatusCode::OK,
            async |tx, frame| {
                let today = tx.now().utc().with_timezone(&frame.zone).date_naive();
                let reference = tx.reference().await?;
                let mut pieces = pieces(&reference);
                pieces.sort_by_key(|piece| {
                    (
                        piece.failed_since.is_none(),
                        piece.next_due(),
                        piece.code.clone(),
                    )
                });
                Ok(ListPage {
                    answer: answer(&pieces, today),
                    rows: pieces
                        .iter()
                        .map(|piece| row(&frame, piece, today))
                        .collect(),
                    frame,
                    title: "Equipment",
                    columns: vec![
                        Column::words("Code"),
                        Column::words("Kind"),
                        Column::words("Name"),
                        Column::words("Calibration due"),
                        Column::words("Check due"),
                        Column::words("State"),
                    ],
                    empty: "Balances, pipettes, grinders, readers and the like would be here. The \
                        quality manager registers each, with the dates by which it is due.",
                    next: None,
                })
            },
        )
        .await
}

fn pieces(reference: &Reference) -> Vec<Piece> {
    let equipment = reference.equipment.values().map(|item| Piece {
        code: item.content.code.clone(),
        kind: item.content.kind.name(),
        name: item.content.name.clone(),
        calibration_due_on: item.content.calibration_due_on,
        check_due_on: item.content.check_due_on,
        failed_since: item.content.failed_since,
    });
    let readers = reference.readers.values().map(|reader| Piece {
        code: reader.content.serial.clone(),
        kind: "reader",
        name: reader.content.name.clone(),
        calibration_due_on: reader.content.calibration_due_on,
        check_due_on: reader.content.check_due_on,
        failed_since: reader.content.failed_since,
    });
    equipment.chain(readers).collect()
}

fn answer(pieces: &[Piece], today: NaiveDate) -> String {
    if pieces.is_empty() {
        return "No equipment is registered yet.".into();
    }
    let number = |holds: &dyn Fn(&Piece) -> bool| {
        let those = pieces.iter().filter(|piece| holds(piece)).count();
        i64::try_from(those).unwrap_or(i64::MAX)
    };
    let failed = number(&|piece| piece.failed_since.is_some());
    let overdue = number(&|piece| piece.failed_since.is_none() && piece.is_overdue(today));
    let past = count(
        overdue,
        "piece of equipment is past its date",
        "pieces of equipment are past their date",
    );
    match (failed, overdue) {
        (0, 0) => "All equipment is in date.".into(),
        (0, _) => format!("{past}: runs on it are held."),
        (failed, 0) => format!("{}.", out(failed)),
        (failed, _) => format!("{}; {}.", out(failed), past.to_lowercase()),
    }
}

fn out(failed: i64) -> String {
    count(
        failed,
        "piece of equipment failed its last check",
        "pieces of equipment failed their last check",
    )
}

fn row(frame: &Frame, piece: &Piece, today: NaiveDate) -> Vec<Cell> {
    let date = |date: Option<NaiveDate>| date.map_or_else(String::new, |date| date.to_string());
    let state = match piece.failed_since {
        Some(since) => format!(
            "{} since {}",
            word(Tone::Bad, "failed"),
            frame.moment(since)
        ),
        None if piece.is_overdue(today) => word(Tone::Bad, "past its date"),
        None if piece.next_due() == NaiveDate::MAX => word(Tone::Open, "no date is set"),
        None => word(Tone::Good, "in date"),
    };
    vec![
        piece.code.clone().into(),
        piece.kind.into(),
        piece.name.clone().into(),
        date(piece.calibration_due_on).into(),
        date(piece.check_due_on).into(),
        Cell::Made(state),
    ]
}
