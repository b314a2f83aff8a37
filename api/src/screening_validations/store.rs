//! All SQL of validations of screening methods.

pub(crate) mod control_runs;
pub(crate) mod reviews;

use super::list_screening_validations::ScreeningValidationFilter;
use crate::{kept::Subject, request::Page};
use diesel::{
    QueryableByName,
    sql_types::{Array, Integer, Jsonb, Text, Uuid as SqlUuid},
};
use domain::screening_validations::{DISCLOSED, ScreeningValidation};
use uuid::Uuid;

impl Subject for ScreeningValidation {
    const KIND: &'static str = "screening-validation";
    const DISCLOSED: &'static [&'static str] = DISCLOSED;

    fn state(&self) -> &'static str {
        self.state.word()
    }
}

crate::keep_rows! {
    table: screening_validations_validation,
    key: validation_id,
    content: ScreeningValidation,
    called: "validation",
    columns: {
        code: String = |validation| validation.entry.code.clone(),
        procedure_id: Uuid = |validation| validation.entry.procedure.0,
        analyte: String = |validation| validation.entry.analyte.slug().to_owned(),
    }
}

/// A page of validations, newest first; only those that the filter asks for.
pub(super) async fn list(
    tx: &mut Tx,
    page: &Page,
    filter: &ScreeningValidationFilter,
) -> Answer<Vec<Kept<ScreeningValidation>>> {
    let mut query = dsl::screening_validations_validation
        .filter(dsl::laboratory_id.eq(tx.laboratory_id()))
        .filter(dsl::validation_id.lt(page.after.unwrap_or(Uuid::max())))
        .order(dsl::validation_id.desc())
        .limit(page.rows())
        .select(Row::as_select())
        .into_boxed();
    if let Some(procedure) = filter.procedure {
        query = query.filter(dsl::procedure_id.eq(procedure.0));
    }
    if let Some(analyte) = filter.analyte {
        query = query.filter(dsl::analyte.eq(analyte.slug()));
    }
    if let Some(state) = filter.state {
        query = query.filter(dsl::state.eq(state.word()));
    }
    let rows: Vec<Row> = query.load(tx.connection()).await?;
    rows.into_iter().map(Row::kept).collect()
}

/// The validation, where there is one.
pub(super) async fn maybe(tx: &mut Tx, id: Uuid) -> Answer<Option<Kept<ScreeningValidation>>> {
    dsl::screening_validations_validation
        .filter(dsl::laboratory_id.eq(tx.laboratory_id()))
        .filter(dsl::validation_id.eq(id))
        .select(Row::as_select())
        .first(tx.connection())
        .await
        .optional()?
        .map(Row::kept)
        .transpose()
}

/// A run that a determination names.
#[derive(QueryableByName)]
pub(super) struct NamedRun {
    #[diesel(sql_type = SqlUuid)]
    pub(super) run_id: Uuid,
    #[diesel(sql_type = Integer)]
    pub(super) version: i32,
    #[diesel(sql_type = Jsonb)]
    pub(super) content: serde_json::Value,
}

/// The runs of these ids.
pub(super) async fn runs(tx: &mut Tx, ids: &[Uuid]) -> Answer<Vec<NamedRun>> {
    let laboratory = tx.laboratory_id();
    Ok(diesel::sql_query(
        "SELECT run_id, version, content FROM runs_run \
         WHERE laboratory_id = $1 AND run_id = ANY($2)",
    )
    .bind::<Integer, _>(laboratory)
    .bind::<Array<SqlUuid>, _>(ids)
    .load(tx.connection())
    .await?)
}

/// A sample that a determination names.
#[derive(QueryableByName)]
pub(super) struct NamedSample {
    #[diesel(sql_type = SqlUuid)]
    pub(super) sample_id: Uuid,
    #[diesel(sql_type = Text)]
    pub(super) purpose: String,
}

/// What the samples of these ids are for.
pub(super) async fn samples(tx: &mut Tx, ids: &[Uuid]) -> Answer<Vec<NamedSample>> {
    let laboratory = tx.laboratory_id();
    Ok(diesel::sql_query(
        "SELECT sample_id, purpose FROM samples_sample \
         WHERE laboratory_id = $1 AND sample_id = ANY($2)",
    )
    .bind::<Integer, _>(laboratory)
    .bind::<Array<SqlUuid>, _>(ids)
    .load(tx.connection())
    .await?)
}

/// A text of a row.
#[derive(QueryableByName)]
struct Code {
    #[diesel(sql_type = Text)]
    code: String,
}

/// The codes of procedures in use that decide by a validation.
pub(super) async fn deciding_procedures(tx: &mut Tx, id: Uuid) -> Answer<Vec<String>> {
    let laboratory = tx.laboratory_id();
    let named = serde_json::json!([{"validation": id}]);
    let found: Vec<Code> = diesel::sql_query(
        "SELECT code FROM procedures_procedure \
         WHERE laboratory_id = $1 AND state = 'adopted' AND content->'screening' @> $2 \
         ORDER BY code",
    )
    .bind::<Integer, _>(laboratory)
    .bind::<Jsonb, _>(named)
    .load(tx.connection())
    .await?;
    Ok(found.into_iter().map(|one| one.code).collect())
}
