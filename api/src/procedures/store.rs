//! All SQL of procedures.

use crate::{kept::Subject, request::Page};
use domain::procedures::{DISCLOSED, Procedure};

impl Subject for Procedure {
    const KIND: &'static str = "procedure";
    const DISCLOSED: &'static [&'static str] = DISCLOSED;

    fn state(&self) -> &'static str {
        self.state.word()
    }
}

crate::keep_rows! {
    table: procedures_procedure,
    key: procedure_id,
    content: Procedure,
    called: "procedure",
    columns: {
        code: String = |procedure| procedure.entry.code.clone(),
    }
}

/// A page of procedures, newest first; only those that the filter asks for.
pub(super) async fn list(
    tx: &mut Tx,
    page: &Page,
    filter: &super::list_procedures::ProcedureFilter,
) -> Answer<Vec<Kept<Procedure>>> {
    let mut query = dsl::procedures_procedure
        .filter(dsl::laboratory_id.eq(tx.laboratory_id()))
        .filter(dsl::procedure_id.lt(page.after.unwrap_or(uuid::Uuid::max())))
        .order(dsl::procedure_id.desc())
        .limit(page.rows())
        .select(Row::as_select())
        .into_boxed();
    if let Some(state) = &filter.state {
        query = query.filter(dsl::state.eq(state.word()));
    }
    if let Some(code) = &filter.code {
        query = query.filter(dsl::code.eq(code.clone()));
    }
    let rows: Vec<Row> = query.load(tx.connection()).await?;
    rows.into_iter().map(Row::kept).collect()
}
