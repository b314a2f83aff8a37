//! The read model says what the records say: over stories, over random histories; and every way
//! in which it may not is found, with the subject.

mod drifts;
mod histories;

use crate::harness::callers::TestApp;
use crate::tidy::sources;
use api::rebuild::{Checked, Part, TABLES, check, kinds};
use diesel::sql_types::Text;
use diesel_async::{AsyncConnection as _, AsyncPgConnection, RunQueryDsl as _};
use std::collections::BTreeSet;

/// What a check of the only laboratory finds.
pub(crate) async fn checked(app: &TestApp) -> Checked {
    let mut all = check(&app.database.owner_url, None).await.unwrap();
    assert_eq!(all.len(), 1);
    all.remove(0)
}

/// The read model of the laboratory says what its records say.
pub(crate) async fn is_told_by_records(app: &TestApp) {
    let checked = checked(app).await;
    assert!(checked.is_equal() && checked.notes.is_empty(), "{checked}");
    assert!(checked.records > 3 && checked.rows > 3, "{checked}");
}

#[derive(diesel::QueryableByName)]
struct Column {
    #[diesel(sql_type = Text)]
    table_name: String,
    #[diesel(sql_type = Text)]
    column_name: String,
}

#[actix_web::test]
async fn every_table_is_rebuilt_or_left_out_for_a_reason() {
    let app = crate::harness::callers::serve().await;
    let mut owner = AsyncPgConnection::establish(&app.database.owner_url)
        .await
        .unwrap();
    let columns: Vec<Column> = diesel::sql_query(
        "SELECT table_name::text, column_name::text FROM information_schema.columns \
         JOIN information_schema.tables USING (table_schema, table_name) \
         WHERE table_schema = 'public' AND table_type = 'BASE TABLE'",
    )
    .load(&mut owner)
    .await
    .unwrap();
    let there: BTreeSet<&str> = columns.iter().map(|one| one.table_name.as_str()).collect();
    let listed: BTreeSet<&str> = TABLES.iter().map(|table| table.name).collect();
    assert_eq!(listed.len(), TABLES.len(), "a table stands twice");
    assert_eq!(
        there, listed,
        "say in api/src/rebuild/tables.rs whether the records tell the table, or why not"
    );
    for table in TABLES {
        let reasons: Vec<(&str, &str)> = match table.part {
            Part::NotReadModel(why) => vec![("laboratory_id", why)],
            Part::ReadModel(but) => but.to_vec(),
        };
        for (column, why) in reasons {
            assert!(why.len() > 10, "{}: {why}", table.name);
            let is_there = columns
                .iter()
                .any(|one| one.table_name == table.name && one.column_name == column);
            assert!(
                is_there || column == "laboratory_id",
                "{} has no column {column}",
                table.name
            );
        }
    }
}

/// The words that stand in quotes after a sign.
fn words_after(text: &str, sign: &str) -> Vec<String> {
    text.match_indices(sign)
        .filter_map(|(at, _)| {
            let rest = text.get(at + sign.len()..)?;
            Some(rest.split('"').next()?.to_owned())
        })
        .collect()
}

#[test]
fn every_kind_that_is_appended_has_its_replay() {
    let mut appended = BTreeSet::new();
    for (file, text) in sources(&["api/src"]) {
        appended.extend(words_after(&text, "const KIND: &'static str = \""));
        let parts: Vec<&str> = text.split("NewRecord {").collect();
        for pair in parts.windows(2) {
            let (before, after) = (pair[0], pair[1]);
            if before.ends_with("struct ") {
                continue;
            }
            let (record, _) = after.split_once("disclosed").unwrap_or_default();
            assert!(
                record.contains("kind: \"") || record.contains("kind: T::KIND"),
                "{file}: name the kind of the record in quotes, so that it is found"
            );
            appended.extend(words_after(record, "kind: \""));
        }
    }
    assert!(appended.len() > 20, "{appended:?}");
    let replayed: BTreeSet<String> = kinds().map(ToOwned::to_owned).collect();
    assert_eq!(
        appended, replayed,
        "say in api/src/rebuild/kinds.rs how records of the kind become rows"
    );
}

#[actix_web::test]
async fn a_laboratory_that_is_not_there_is_not_found() {
    let app = crate::harness::callers::serve().await;
    let owner = &app.database.owner_url;
    assert!(check(owner, Some("elsewhere")).await.is_err());
    let checked = check(owner, Some("quay")).await.unwrap();
    assert!(checked[0].is_equal(), "{}", checked[0]);
    assert_eq!(
        app.count("SELECT count(*) FROM pg_namespace WHERE nspname LIKE 'rebuild%'")
            .await,
        0,
        "nothing stays"
    );
}
