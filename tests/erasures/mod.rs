//! Erasure over HTTP: what goes, what stays, and that it does not come back.

mod erase_disclosures;
mod older_backup;

use crate::harness::callers::TestApp;
use base64::{Engine as _, engine::general_purpose::STANDARD_NO_PAD};
use diesel::sql_types::Text;
use diesel_async::{AsyncConnection as _, AsyncPgConnection, RunQueryDsl as _};

#[derive(diesel::QueryableByName)]
struct Line {
    #[diesel(sql_type = Text)]
    line: String,
}

/// A connection past row-level security.
async fn owner(app: &TestApp) -> AsyncPgConnection {
    AsyncPgConnection::establish(&app.database.owner_url)
        .await
        .unwrap()
}

async fn lines(owner: &mut AsyncPgConnection, query: &str) -> Vec<String> {
    let found: Vec<Line> = diesel::sql_query(query).load(owner).await.unwrap();
    found.into_iter().map(|row| row.line).collect()
}

/// Every table of the database.
async fn tables(owner: &mut AsyncPgConnection) -> Vec<String> {
    lines(
        owner,
        "SELECT relname::text AS line FROM pg_class WHERE relkind = 'r' \
           AND relnamespace = 'public'::regnamespace ORDER BY relname",
    )
    .await
}

/// A text as it may stand in a row: in clear, in bytes shown as hex, in base64 of either alphabet
/// and however it is aligned.
fn disguises(text: &str) -> Vec<String> {
    let hex: String = text.bytes().map(|byte| format!("{byte:02x}")).collect();
    let mut found = vec![text.to_owned(), hex];
    for (padding, skipped) in [(0, 0), (1, 2), (2, 3)] {
        let mut bytes = vec![0_u8; padding];
        bytes.extend_from_slice(text.as_bytes());
        let mut encoded = STANDARD_NO_PAD.encode(&bytes);
        if bytes.len() % 3 != 0 {
            encoded.pop(); // it depends on what follows
        }
        let middle = encoded.split_off(skipped);
        found.push(middle.replace('+', "-").replace('/', "_"));
        found.push(middle);
    }
    found
}

/// Where a text stands in the database: each table, once for each row that holds it.
async fn places(app: &TestApp, text: &str) -> Vec<String> {
    let mut owner = owner(app).await;
    let sought = disguises(text);
    let mut found = Vec::new();
    for table in tables(&mut owner).await {
        let rows = lines(
            &mut owner,
            &format!("SELECT it::text AS line FROM {table} AS it"),
        )
        .await;
        for row in rows {
            if sought.iter().any(|one| row.contains(one)) {
                found.push(table.clone());
            }
        }
    }
    found
}

/// What the file outside the database holds.
fn erased_file(app: &TestApp) -> String {
    let path = app.state.config.state_directory.join("erased.jsonl");
    std::fs::read_to_string(path).unwrap_or_default()
}
