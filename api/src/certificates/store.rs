//! All SQL of certificates, but for what is read of other slices to write one (`evidence`).

pub(crate) mod replayed;

use super::list_certificates::CertificateFilter;
use crate::{
    kept::Subject,
    request::Page,
    schema::{
        certificates_document as documents, certificates_result as stated, lots_lot, lots_party,
    },
};
use diesel::{
    BoolExpressionMethods as _, NullableExpressionMethods as _, QueryableByName,
    sql_types::{Array, Binary, Integer, Jsonb, Nullable, SmallInt, Text, Timestamptz},
};
use diesel_async::AsyncPgConnection;
use domain::{
    certificates::Issued,
    id::{CertificateId, CustomerId},
    ledger::disclosure::digest_of,
};
use uuid::Uuid;

impl Subject for Issued {
    const KIND: &'static str = "certificate";
    const DISCLOSED: &'static [&'static str] = Issued::DISCLOSED;

    fn state(&self) -> &'static str {
        self.state.word()
    }
}

crate::keep_rows! {
    table: certificates_certificate,
    key: certificate_id,
    content: Issued,
    called: "certificate",
    columns: {
        number: String = |issued| issued.number.clone(),
        code: String = |issued| issued.code.clone(),
        lot_id: Uuid = |issued| issued.lot.0,
    }
}

#[derive(QueryableByName)]
struct Counted {
    #[diesel(sql_type = Integer)]
    issued: i32,
}

/// The next number of the year, kept by this transaction until it ends: none is left out.
pub(super) async fn next_number(tx: &mut Tx, year: i16) -> Answer<i32> {
    let laboratory = tx.laboratory_id();
    let counted: Counted = diesel::sql_query(
        "INSERT INTO certificates_counter AS counter (laboratory_id, year, issued) \
         VALUES ($1, $2, 1) ON CONFLICT (laboratory_id, year) \
         DO UPDATE SET issued = counter.issued + 1 RETURNING issued",
    )
    .bind::<Integer, _>(laboratory)
    .bind::<SmallInt, _>(year)
    .get_result(tx.connection())
    .await?;
    Ok(counted.issued)
}

/// Stores what is handed out, and which results it states.
pub(super) async fn insert_document(
    tx: &mut Tx,
    issued: &Kept<Issued>,
    certificate: &str,
) -> Answer<()> {
    let laboratory = tx.laboratory_id();
    diesel::insert_into(documents::table)
        .values((
            documents::laboratory_id.eq(laboratory),
            documents::certificate_id.eq(issued.id),
            documents::certificate.eq(certificate),
        ))
        .execute(tx.connection())
        .await?;
    insert_stated(tx, issued).await
}

async fn insert_stated(tx: &mut Tx, issued: &Kept<Issued>) -> Answer<()> {
    let laboratory = tx.laboratory_id();
    let mut rows = Vec::with_capacity(issued.content.results.len());
    for one in &issued.content.results {
        rows.push((
            stated::laboratory_id.eq(laboratory),
            stated::certificate_id.eq(issued.id),
            stated::result_id.eq(one.result.0),
            stated::result_version.eq(i32::try_from(one.version).map_err(ApiError::internal)?),
        ));
    }
    diesel::insert_into(stated::table)
        .values(rows)
        .execute(tx.connection())
        .await?;
    Ok(())
}

/// What is handed out of a certificate.
pub(super) struct Document {
    /// The SD-JWT with the disclosures that are left.
    pub(super) certificate: String,
    /// What made the kept PDF.
    pub(super) renderer: Option<String>,
    /// The kept PDF.
    pub(super) pdf: Option<Vec<u8>>,
    /// The proof, once it was made.
    pub(super) proof: Option<String>,
}

/// What is handed out of a certificate.
pub(super) async fn document(tx: &mut Tx, certificate: Uuid) -> Answer<Document> {
    let laboratory = tx.laboratory_id();
    let (certificate, renderer, pdf, proof) = documents::table
        .filter(documents::laboratory_id.eq(laboratory))
        .filter(documents::certificate_id.eq(certificate))
        .select((
            documents::certificate,
            documents::renderer,
            documents::pdf,
            documents::proof,
        ))
        .first(tx.connection())
        .await?;
    Ok(Document {
        certificate,
        renderer,
        pdf,
        proof,
    })
}

/// Keeps the proof of a certificate, where none is kept.
pub(super) async fn keep_proof(tx: &mut Tx, certificate: Uuid, proof: &str) -> Answer<()> {
    let laboratory = tx.laboratory_id();
    diesel::update(
        documents::table
            .filter(documents::laboratory_id.eq(laboratory))
            .filter(documents::certificate_id.eq(certificate))
            .filter(documents::proof.is_null()),
    )
    .set(documents::proof.eq(proof))
    .execute(tx.connection())
    .await?;
    Ok(())
}

/// Keeps a PDF that was made of a certificate, unless a disclosure of it was erased meanwhile.
pub(super) async fn keep_pdf(
    tx: &mut Tx,
    certificate: Uuid,
    made_of: &str,
    renderer: &str,
    pdf: &[u8],
) -> Answer<()> {
    let laboratory = tx.laboratory_id();
    diesel::update(
        documents::table
            .filter(documents::laboratory_id.eq(laboratory))
            .filter(documents::certificate_id.eq(certificate))
            .filter(documents::certificate.eq(made_of)),
    )
    .set((documents::renderer.eq(renderer), documents::pdf.eq(pdf)))
    .execute(tx.connection())
    .await?;
    Ok(())
}

/// The signed certificate with the disclosures that are left, where there is one of this id.
pub(crate) async fn signed_text(tx: &mut Tx, certificate: Uuid) -> Answer<Option<String>> {
    let laboratory = tx.laboratory_id();
    Ok(documents::table
        .filter(documents::laboratory_id.eq(laboratory))
        .filter(documents::certificate_id.eq(certificate))
        .select(documents::certificate)
        .first(tx.connection())
        .await
        .optional()?)
}

/// Takes disclosures out of what is handed out; the kept PDF goes, and is made again without them.
pub(crate) async fn take_out(tx: &mut Tx, certificate: Uuid, digests: &[String]) -> Answer<()> {
    let Some(text) = signed_text(tx, certificate).await? else {
        return Ok(());
    };
    let mut parts = text.split('~');
    let mut left = parts.next().unwrap_or_default().to_owned();
    left.push('~');
    for part in parts.filter(|part| !part.is_empty()) {
        if !digests.contains(&digest_of(part)) {
            left.push_str(part);
            left.push('~');
        }
    }
    let laboratory = tx.laboratory_id();
    diesel::update(
        documents::table
            .filter(documents::laboratory_id.eq(laboratory))
            .filter(documents::certificate_id.eq(certificate)),
    )
    .set((
        documents::certificate.eq(left),
        documents::renderer.eq(None::<String>),
        documents::pdf.eq(None::<Vec<u8>>),
    ))
    .execute(tx.connection())
    .await?;
    Ok(())
}

#[derive(QueryableByName)]
struct Standing {
    #[diesel(sql_type = Text)]
    number: String,
}

/// Numbers of the certificates that stand and state one of the results, but for one.
pub(super) async fn standing_on(
    tx: &mut Tx,
    results: &[Uuid],
    but: Option<CertificateId>,
) -> Answer<Vec<String>> {
    let laboratory = tx.laboratory_id();
    let rows: Vec<Standing> = diesel::sql_query(
        "SELECT DISTINCT certificate.number FROM certificates_result AS stated \
         JOIN certificates_certificate AS certificate USING (laboratory_id, certificate_id) \
         WHERE stated.laboratory_id = $1 AND stated.result_id = ANY($2) \
           AND certificate.state IN ('issued', 'under-investigation') \
           AND certificate.certificate_id IS DISTINCT FROM $3 ORDER BY 1",
    )
    .bind::<Integer, _>(laboratory)
    .bind::<Array<diesel::sql_types::Uuid>, _>(results)
    .bind::<Nullable<diesel::sql_types::Uuid>, _>(but.map(|id| id.0))
    .load(tx.connection())
    .await?;
    Ok(rows.into_iter().map(|row| row.number).collect())
}

/// The lots whose certificates a customer may see.
fn lots_seen_by(
    laboratory: i32,
    customer: CustomerId,
) -> lots_lot::BoxedQuery<'static, diesel::pg::Pg, diesel::sql_types::Uuid> {
    let party = lots_party::table
        .filter(lots_party::laboratory_id.eq(laboratory))
        .filter(lots_party::customer_id.eq(customer.0))
        .filter(lots_party::sees.eq_any(["certificates", "results"]))
        .select(lots_party::lot_id);
    lots_lot::table
        .filter(lots_lot::laboratory_id.eq(laboratory))
        .filter(
            lots_lot::customer_id
                .eq(Some(customer.0))
                .assume_not_null()
                .or(lots_lot::lot_id.eq_any(party)),
        )
        .select(lots_lot::lot_id)
        .into_boxed()
}

/// A page of certificates, newest first; of a customer only those that it may see.
pub(super) async fn list(
    tx: &mut Tx,
    page: &Page,
    filter: &CertificateFilter,
    customer: Option<CustomerId>,
) -> Answer<Vec<Kept<Issued>>> {
    let laboratory = tx.laboratory_id();
    let mut query = dsl::certificates_certificate
        .filter(dsl::laboratory_id.eq(laboratory))
        .filter(dsl::certificate_id.lt(page.after.unwrap_or(Uuid::max())))
        .order(dsl::certificate_id.desc())
        .limit(page.rows())
        .select(Row::as_select())
        .into_boxed();
    if let Some(customer) = customer {
        query = query.filter(dsl::lot_id.eq_any(lots_seen_by(laboratory, customer)));
    }
    if let Some(lot) = filter.lot {
        query = query.filter(dsl::lot_id.eq(lot));
    }
    if let Some(state) = filter.state {
        query = query.filter(dsl::state.eq(state.word()));
    }
    if let Some(number) = filter.number.clone() {
        query = query.filter(dsl::number.eq(number));
    }
    if let Some(of) = filter.customer {
        let lots = lots_lot::table
            .filter(lots_lot::laboratory_id.eq(laboratory))
            .filter(lots_lot::customer_id.eq(of))
            .select(lots_lot::lot_id);
        query = query.filter(dsl::lot_id.eq_any(lots));
    }
    if let Some(result) = filter.result {
        let certificates = stated::table
            .filter(stated::laboratory_id.eq(laboratory))
            .filter(stated::result_id.eq(result))
            .select(stated::certificate_id);
        query = query.filter(dsl::certificate_id.eq_any(certificates));
    }
    let rows: Vec<Row> = query.load(tx.connection()).await?;
    rows.into_iter().map(Row::kept).collect()
}

/// A certificate, where the customer (if it is one who asks) may see it.
///
/// # Errors
/// [`ApiError::NotFound`].
pub(super) async fn find_for(
    tx: &mut Tx,
    id: Uuid,
    customer: Option<CustomerId>,
) -> Answer<Kept<Issued>> {
    let kept = find(tx, id).await?;
    let Some(customer) = customer else {
        return Ok(kept);
    };
    let laboratory = tx.laboratory_id();
    let seen: Option<Uuid> = lots_seen_by(laboratory, customer)
        .filter(lots_lot::lot_id.eq(kept.content.lot.0))
        .first(tx.connection())
        .await
        .optional()?;
    seen.map(|_lot| kept)
        .ok_or_else(|| ApiError::missing("certificate", id))
}

/// What the check page is told of the certificate with a code.
#[derive(QueryableByName)]
pub(super) struct Shown {
    #[diesel(sql_type = Integer)]
    pub(super) laboratory_number: i32,
    #[diesel(sql_type = diesel::sql_types::Uuid)]
    pub(super) laboratory: Uuid,
    #[diesel(sql_type = Text)]
    pub(super) laboratory_slug: String,
    #[diesel(sql_type = diesel::sql_types::Uuid)]
    pub(super) certificate_id: Uuid,
    #[diesel(sql_type = Nullable<Text>)]
    pub(super) laboratory_name: Option<String>,
    #[diesel(sql_type = Jsonb)]
    pub(super) content: serde_json::Value,
    #[diesel(sql_type = Timestamptz)]
    pub(super) changed_at: chrono::DateTime<chrono::Utc>,
    #[diesel(sql_type = Text)]
    pub(super) certificate: String,
    #[diesel(sql_type = Nullable<Text>)]
    pub(super) renderer: Option<String>,
    #[diesel(sql_type = Nullable<Binary>)]
    pub(super) pdf: Option<Vec<u8>>,
    #[diesel(sql_type = Nullable<Text>)]
    pub(super) proof: Option<String>,
    #[diesel(sql_type = Text)]
    pub(super) entry: String,
    #[diesel(sql_type = Binary)]
    pub(super) records: Vec<u8>,
    #[diesel(sql_type = SmallInt)]
    pub(super) record_position: i16,
    #[diesel(sql_type = Nullable<Text>)]
    pub(super) successor_number: Option<String>,
    #[diesel(sql_type = Nullable<Text>)]
    pub(super) successor_code: Option<String>,
}

/// The certificate with a code, as anybody may see it who has the code.
pub(super) async fn shown(connection: &mut AsyncPgConnection, code: &str) -> Answer<Option<Shown>> {
    Ok(diesel::sql_query("SELECT * FROM certificates_shown($1)")
        .bind::<Text, _>(code)
        .get_result(connection)
        .await
        .optional()?)
}
