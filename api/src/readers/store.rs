//! All SQL of readers.

use crate::{kept::Subject, request::Page};
use chrono::NaiveDate;
use domain::readers::{DISCLOSED, Reader};
use uuid::Uuid;

impl Subject for Reader {
    const KIND: &'static str = "reader";
    const DISCLOSED: &'static [&'static str] = DISCLOSED;
}

crate::keep_rows! {
    table: readers_reader,
    key: reader_id,
    content: Reader,
    called: "reader",
    columns: {
        serial: String = |reader| reader.serial.clone(),
        site_id: Option<Uuid> = |reader| reader.site.map(Uuid::from),
        due_on: Option<NaiveDate> = Reader::due_on,
    }
}

/// A page of readers, newest first; only those that the filter asks for.
pub(super) async fn list(
    tx: &mut Tx,
    page: &Page,
    filter: &super::list_readers::ReaderFilter,
) -> Answer<Vec<Kept<Reader>>> {
    let mut query = dsl::readers_reader
        .filter(dsl::laboratory_id.eq(tx.laboratory_id()))
        .filter(dsl::reader_id.lt(page.after.unwrap_or(uuid::Uuid::max())))
        .order(dsl::reader_id.desc())
        .limit(page.rows())
        .select(Row::as_select())
        .into_boxed();
    if let Some(site) = &filter.site {
        query = query.filter(dsl::site_id.eq(site.0));
    }
    if let Some(serial) = &filter.serial {
        query = query.filter(dsl::serial.eq(serial.clone()));
    }
    if let Some(day) = filter.due_before {
        query = query.filter(dsl::due_on.lt(day));
    }
    let rows: Vec<Row> = query.load(tx.connection()).await?;
    rows.into_iter().map(Row::kept).collect()
}
