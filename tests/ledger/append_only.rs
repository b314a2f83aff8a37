//! The database itself keeps records from change and laboratories from each other.

use crate::harness::callers::serve;
use diesel::sql_types::BigInt;
use diesel_async::{
    AsyncConnection as _, AsyncPgConnection, RunQueryDsl as _, SimpleAsyncConnection as _,
};
use serde_json::json;

#[derive(diesel::QueryableByName)]
struct Count {
    #[diesel(sql_type = BigInt)]
    rows: i64,
}

#[actix_web::test]
async fn records_are_added_and_neither_changed_nor_taken_away() {
    let app = serve().await;
    for table in ["ledger_act", "ledger_version"] {
        let before = app.count(&format!("SELECT count(*) FROM {table}")).await;
        assert!(before > 0);
        for statement in [
            format!("UPDATE {table} SET act_id = act_id"),
            format!("DELETE FROM {table}"),
            format!("TRUNCATE {table} CASCADE"),
            format!("ALTER TABLE {table} DISABLE TRIGGER ALL"),
        ] {
            // As whoever logs in past row-level security, and as the service: the first is only
            // kept from it by triggers, which the owner of the tables alone can switch off.
            for role in ["", "SET ROLE assize_service; "] {
                if role.is_empty() && statement.starts_with("ALTER") {
                    continue;
                }
                let mut connection = AsyncPgConnection::establish(&app.database.owner_url)
                    .await
                    .unwrap();
                let tried = connection
                    .batch_execute(&format!(
                        "{role}SELECT set_config('assize.laboratory', '1', false); {statement}"
                    ))
                    .await;
                assert!(tried.is_err(), "{role}{statement}");
            }
        }
        let after = app.count(&format!("SELECT count(*) FROM {table}")).await;
        assert_eq!(after, before, "{table}");
    }
}

#[actix_web::test]
async fn a_laboratory_sees_no_row_of_another() {
    let app = serve().await;
    let analyst = app.analyst().await;
    analyst
        .post("/customers", json!({"code": "MILL", "name": "Hollow Mill"}))
        .await
        .expect(201);
    let mut connection = AsyncPgConnection::establish(&app.database.service_url)
        .await
        .unwrap();
    connection
        .batch_execute("SET ROLE assize_service")
        .await
        .unwrap();
    for (laboratory, expected) in [("1", 1), ("2", 0)] {
        let set = format!("SELECT set_config('assize.laboratory', '{laboratory}', false)");
        connection.batch_execute(&set).await.unwrap();
        // A query that forgot to name its laboratory.
        let found: Count = diesel::sql_query("SELECT count(*) AS rows FROM customers_customer")
            .get_result(&mut connection)
            .await
            .unwrap();
        assert_eq!(found.rows, expected, "laboratory {laboratory}");
    }
}
