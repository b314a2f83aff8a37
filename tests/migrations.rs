//! The migrations: up, down and up again to the same schema, every column explained, every foreign
//! key indexed, every tenant's table behind row-level security, and `schema.rs` as they make it.

use crate::harness::database::fresh_database;
use crate::permissions::project;
use diesel::sql_types::Text;
use diesel_async::{
    AsyncConnection as _, AsyncPgConnection, RunQueryDsl as _, SimpleAsyncConnection as _,
};
use std::{collections::BTreeMap, path::PathBuf};

#[derive(diesel::QueryableByName)]
struct Line {
    #[diesel(sql_type = Text)]
    line: String,
}

/// What makes up the schema, a line each: columns, constraints, indexes, policies, triggers,
/// functions, comments, grants.
const SNAPSHOT: &str = "\
SELECT line FROM ( \
  SELECT format('column %s.%s %s null=%s default=%s identity=%s', c.relname, a.attname, \
      format_type(a.atttypid, a.atttypmod), NOT a.attnotnull, \
      pg_get_expr(d.adbin, d.adrelid), a.attidentity) AS line \
  FROM pg_attribute a JOIN pg_class c ON c.oid = a.attrelid \
  LEFT JOIN pg_attrdef d ON d.adrelid = c.oid AND d.adnum = a.attnum \
  WHERE c.relnamespace = 'public'::regnamespace AND c.relkind IN ('r', 'v', 'p') \
    AND a.attnum > 0 AND NOT a.attisdropped \
  UNION ALL SELECT format('constraint %s %s %s', conrelid::regclass, conname, \
      pg_get_constraintdef(oid)) FROM pg_constraint \
    WHERE connamespace = 'public'::regnamespace \
  UNION ALL SELECT format('index %s', indexdef) FROM pg_indexes WHERE schemaname = 'public' \
  UNION ALL SELECT format('policy %s %s %s %s %s %s', tablename, policyname, cmd, roles, qual, \
      with_check) FROM pg_policies WHERE schemaname = 'public' \
  UNION ALL SELECT format('trigger %s %s', pg_get_triggerdef(t.oid), tgenabled) \
    FROM pg_trigger t WHERE NOT tgisinternal \
  UNION ALL SELECT format('function %s', pg_get_functiondef(oid)) FROM pg_proc \
    WHERE pronamespace = 'public'::regnamespace AND prokind = 'f' \
  UNION ALL SELECT format('table %s %s rls=%s force=%s grants=%s options=%s %s', relkind, relname, \
      relrowsecurity, relforcerowsecurity, relacl, reloptions, \
      obj_description(oid, 'pg_class')) \
    FROM pg_class WHERE relnamespace = 'public'::regnamespace AND relkind IN ('r', 'v', 'S', 'p') \
) AS lines WHERE line NOT LIKE '%__diesel_schema_migrations%' ORDER BY line";

async fn lines(connection: &mut AsyncPgConnection, query: &str) -> Vec<String> {
    let found: Vec<Line> = diesel::sql_query(query).load(connection).await.unwrap();
    found.into_iter().map(|row| row.line).collect()
}

async fn migrated() -> AsyncPgConnection {
    let database = fresh_database(async |url: String| {
        api::migrations::migrate(&url).await?;
        Ok(())
    })
    .await;
    AsyncPgConnection::establish(&database.owner_url)
        .await
        .unwrap()
}

fn directories() -> Vec<PathBuf> {
    let mut found: Vec<PathBuf> = std::fs::read_dir(project().join("migrations"))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .collect();
    found.sort();
    found
}

#[actix_web::test]
async fn migrations_go_up_and_down_and_up_to_the_same_schema() {
    let mut connection = migrated().await;
    let mut before = vec![lines(&mut connection, SNAPSHOT).await];
    let all = directories();
    for migration in all.iter().rev() {
        let down = std::fs::read_to_string(migration.join("down.sql")).unwrap();
        let name = migration.display();
        let done = connection.batch_execute(&down).await;
        assert!(done.is_ok(), "{name}/down.sql: {done:?}");
        before.push(lines(&mut connection, SNAPSHOT).await);
    }
    let left = before.pop().unwrap();
    assert_eq!(
        left,
        Vec::<String>::new(),
        "the last down.sql leaves this behind"
    );
    for migration in &all {
        let up = std::fs::read_to_string(migration.join("up.sql")).unwrap();
        let name = migration.display();
        let done = connection.batch_execute(&up).await;
        assert!(done.is_ok(), "{name}/up.sql, after its down.sql: {done:?}");
        let again = lines(&mut connection, SNAPSHOT).await;
        let once = before.pop().unwrap();
        let differs: Vec<&String> = once
            .iter()
            .filter(|line| !again.contains(line))
            .chain(again.iter().filter(|line| !once.contains(line)))
            .collect();
        assert!(
            differs.is_empty(),
            "{name}: up, down, up is not up. Let down.sql take back all that up.sql made, and the \
             migrations after it nothing else: {differs:#?}"
        );
    }
}

#[actix_web::test]
async fn migrations_index_foreign_keys_explain_columns_and_guard_tenants() {
    let mut connection = migrated().await;
    let bare = lines(
        &mut connection,
        "SELECT format('%s %s', conrelid::regclass, conname) AS line FROM pg_constraint k \
         WHERE contype = 'f' AND connamespace = 'public'::regnamespace AND NOT EXISTS ( \
           SELECT FROM pg_index i WHERE i.indrelid = k.conrelid AND i.indpred IS NULL \
             AND (i.indkey::int2[])[0:cardinality(k.conkey) - 1] @> k.conkey) \
         UNION ALL SELECT '' WHERE false ORDER BY line",
    )
    .await;
    assert!(
        bare.is_empty(),
        "no index begins with the columns of these foreign keys; without one, a change of the \
         other table reads this one whole. CREATE INDEX <table>_<column>_idx: {bare:#?}"
    );
    let silent = lines(
        &mut connection,
        "SELECT format('%s.%s', c.relname, a.attname) AS line \
         FROM pg_class c JOIN pg_attribute a ON a.attrelid = c.oid \
         WHERE c.relnamespace = 'public'::regnamespace AND c.relkind IN ('r', 'p') \
           AND c.relname <> '__diesel_schema_migrations' AND a.attnum > 0 AND NOT a.attisdropped \
           AND coalesce(col_description(c.oid, a.attnum), '') = '' \
         UNION ALL SELECT c.relname FROM pg_class c \
         WHERE c.relnamespace = 'public'::regnamespace AND c.relkind IN ('r', 'p') \
           AND c.relname <> '__diesel_schema_migrations' \
           AND coalesce(obj_description(c.oid, 'pg_class'), '') = '' ORDER BY line",
    )
    .await;
    assert!(silent.is_empty(), "COMMENT ON each of these: {silent:#?}");
    let open = lines(
        &mut connection,
        "SELECT c.relname::text AS line FROM pg_class c \
         WHERE c.relnamespace = 'public'::regnamespace AND c.relkind IN ('r', 'p') \
           AND EXISTS (SELECT FROM pg_attribute a WHERE a.attrelid = c.oid \
             AND a.attname = 'laboratory_id') \
           AND NOT (c.relrowsecurity \
             AND EXISTS (SELECT FROM pg_policy p WHERE p.polrelid = c.oid)) \
         ORDER BY line",
    )
    .await;
    assert!(
        open.is_empty(),
        "a laboratory's rows can be seen by another: ENABLE ROW LEVEL SECURITY and CREATE POLICY \
         on these: {open:#?}"
    );
    let tenantless = lines(
        &mut connection,
        "SELECT c.relname::text AS line FROM pg_class c \
         WHERE c.relnamespace = 'public'::regnamespace AND c.relkind IN ('r', 'p') \
           AND c.relname <> '__diesel_schema_migrations' \
           AND NOT EXISTS (SELECT FROM pg_index i JOIN pg_attribute a \
             ON a.attrelid = c.oid AND a.attnum = i.indkey[0] \
             WHERE i.indrelid = c.oid AND i.indisprimary AND a.attname = 'laboratory_id') \
         ORDER BY line",
    )
    .await;
    assert!(
        tenantless.is_empty(),
        "the primary key of these does not begin with laboratory_id: {tenantless:#?}"
    );
    let owner = lines(
        &mut connection,
        "SELECT rolname::text AS line FROM pg_roles WHERE rolname LIKE 'assize\\_%' \
           AND rolname IN ('assize_service', 'assize_sign_in', 'assize_public', 'assize_jobs') \
           AND (rolsuper OR rolbypassrls OR rolcanlogin) ORDER BY line",
    )
    .await;
    assert!(
        owner.is_empty(),
        "these roles may step around the policies: {owner:#?}"
    );
}

/// diesel's name for a type of PostgreSQL.
fn diesel_name(postgres: &str) -> String {
    match postgres {
        "int2" => "Int2",
        "int4" => "Int4",
        "int8" => "Int8",
        "bool" => "Bool",
        "text" => "Text",
        "uuid" => "Uuid",
        "date" => "Date",
        "jsonb" => "Jsonb",
        "bytea" => "Bytea",
        "numeric" => "Numeric",
        "timestamptz" => "Timestamptz",
        other => {
            return match other.strip_prefix('_') {
                Some(element) => format!("Array<Nullable<{}>>", diesel_name(element)),
                None => format!("({other}: name it in tests/migrations.rs)"),
            };
        }
    }
    .to_owned()
}

/// The columns that `schema.rs` names: table, column, type.
fn written() -> BTreeMap<String, String> {
    let text = std::fs::read_to_string(project().join("api/src/schema.rs")).unwrap();
    let mut table = String::new();
    let mut found = BTreeMap::new();
    for line in text.lines() {
        let line = line.trim();
        if let Some((name, _)) = line.split_once(" (").filter(|_| line.ends_with(") {")) {
            name.clone_into(&mut table);
        }
        if let Some((column, kind)) = line.split_once(" -> ") {
            let kind = kind.trim_end_matches(',').to_owned();
            if !kind.contains('(') {
                found.insert(format!("{table}.{column}"), kind);
            }
        }
    }
    found
}

#[actix_web::test]
async fn the_schema_in_the_source_is_the_one_that_the_migrations_make() {
    let mut connection = migrated().await;
    let columns = lines(
        &mut connection,
        "SELECT format('%s.%s %s %s', table_name, column_name, udt_name, is_nullable) AS line \
         FROM information_schema.columns WHERE table_schema = 'public' \
           AND table_name <> '__diesel_schema_migrations' ORDER BY line",
    )
    .await;
    let mut made = BTreeMap::new();
    for line in &columns {
        let mut words = line.split(' ');
        let column = words.next().unwrap().to_owned();
        let kind = diesel_name(words.next().unwrap());
        let kind = if words.next() == Some("YES") {
            format!("Nullable<{kind}>")
        } else {
            kind
        };
        made.insert(column, kind);
    }
    assert!(made.len() > 100);
    let written = written();
    let differs: Vec<_> = made
        .iter()
        .filter(|(column, kind)| written.get(*column) != Some(kind))
        .chain(
            written
                .iter()
                .filter(|(column, _)| !made.contains_key(*column)),
        )
        .collect();
    assert!(
        differs.is_empty(),
        "api/src/schema.rs is stale: DATABASE_URL=… diesel print-schema > api/src/schema.rs. It \
         differs in {differs:#?}"
    );
}
