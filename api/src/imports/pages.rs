//! The list of imports as a page.

mod store;

use crate::{
    identity::Action,
    pages::{Cell, Column, ListPage, Page, Visit, count, older},
    request,
};
use actix_web::{get, http::StatusCode, web};

/// Pages of the slice.
pub(crate) fn routes(config: &mut web::ServiceConfig) {
    config.service(imports_page);
}

#[get("/{lab}/imports")]
async fn imports_page(visit: Visit, page: web::Query<request::Page>) -> Page {
    visit
        .show(
            Action::ReadImports,
            "imports",
            StatusCode::OK,
            async |tx, frame| {
                let mut imports = super::store::list(tx, &page, None, None).await?;
                let counts = store::counts(tx).await?;
                let next = older(&page, &frame.at("imports"), &mut imports, |one| one.id);
                let maps = store::column_map_codes(tx).await?;
                let rows = imports
                    .iter()
                    .map(|import| {
                        let content = &import.content;
                        let figure = |number: u64| Cell::Text(number.to_string());
                        vec![
                            Cell::Made(frame.moment(import.created_at)),
                            maps.get(&content.column_map.0)
                                .cloned()
                                .unwrap_or_default()
                                .into(),
                            figure(content.counts.rows),
                            figure(content.counts.runs),
                            figure(content.counts.same),
                            figure(content.counts.refused),
                        ]
                    })
                    .collect();
                Ok(ListPage {
                    frame,
                    title: "Imports",
                    answer: answer(counts.imports, counts.to_mend),
                    columns: vec![
                        Column::words("Imported"),
                        Column::words("Column map"),
                        Column::figures("Rows"),
                        Column::figures("Runs recorded"),
                        Column::figures("Known before"),
                        Column::figures("Refused"),
                    ],
                    rows,
                    empty: "Imports would be here. A reader's export is posted to the API, read by \
                        a column map that the laboratory keeps; the same export posted twice makes \
                        nothing twice.",
                    next,
                })
            },
        )
        .await
}

fn answer(imports: i64, to_mend: i64) -> String {
    if imports == 0 {
        return "No export was imported yet.".into();
    }
    let all = count(imports, "export was imported", "exports were imported");
    match to_mend {
        0 => format!("{all}; no row waits to be mended."),
        some => format!(
            "{all}; {}.",
            count(some, "row waits to be mended", "rows wait to be mended").to_lowercase()
        ),
    }
}
