//! Issuing: the steps from released results to a signed certificate, in one transaction.
//!
//! Promises that what is signed is what is recorded: the samples are locked, the results are the
//! versions that were shown, and the number leaves no gap. Refuses what the domain's check of the
//! whole certificate refuses.

use super::{assemble, evidence, refusal, store};
use crate::{
    app::App,
    corrections::Reason,
    db::Tx,
    error::{Answer, ApiError},
    identity::Permit,
    ids,
    kept::Kept,
    ledger::conceal_in,
    results, reviews,
};
use base64::{Engine as _, engine::general_purpose::URL_SAFE_NO_PAD};
use chrono::Datelike as _;
use domain::{
    certificates::{
        Amendment, Certificate, CertificateState, Issued, StatedResult, changes_between,
        disclosed_members,
    },
    id::{AccountId, CertificateId, LotId},
    ledger::{Hash, certificate},
    results::{ResultState, ResultVersion},
};
use uuid::Uuid;

/// What is to be issued; its id and code are made once, however often the transaction is tried.
pub(super) struct Order {
    pub(super) id: CertificateId,
    pub(super) lot: LotId,
    code: String,
    results: Vec<StatedResult>,
    issuer: AccountId,
}

/// The certificate that is replaced, and why.
pub(super) struct Replaced {
    pub(super) id: CertificateId,
    pub(super) certificate: Certificate,
    pub(super) reason: Reason,
}

impl Order {
    /// A certificate to be issued by a person.
    pub(super) fn new(permit: &Permit, lot: LotId, results: Vec<StatedResult>) -> Answer<Self> {
        let issuer = permit.account().ok_or_else(|| {
            ApiError::Forbidden(
                "A person authorises a certificate: sign in with an account of your own.".into(),
            )
        })?;
        let code = ids::random_bytes::<16>().map_err(ApiError::internal)?;
        Ok(Self {
            id: ids::fresh(),
            lot,
            code: URL_SAFE_NO_PAD.encode(code),
            results,
            issuer,
        })
    }
}

/// Assembles, checks, signs and stores a certificate, and clears what was due on its results.
pub(super) async fn issue(
    tx: &mut Tx,
    app: &App,
    order: &Order,
    replaces: Option<&Replaced>,
) -> Answer<Kept<Issued>> {
    let results = shown_results(tx, order, replaces).await?;
    let evidence = evidence::read(tx, order.lot, order.issuer, &results).await?;
    let public_url = &app.config.public_url;
    let heading = assemble::Heading {
        iss: public_url.clone(),
        id: order.id,
        number: number(tx, &evidence.laboratory).await?,
        laboratory: tx.laboratory().id,
        check_address: format!("{public_url}/c/{}", order.code),
        issuer: order.issuer,
        at: tx.now(),
    };
    let mut certificate = assemble::certificate(heading, &evidence, &results)?;
    if let Some(replaced) = replaces {
        let changes =
            changes_between(&replaced.certificate, &certificate).map_err(ApiError::internal)?;
        certificate.replaces = Some(replaced.certificate.number.clone());
        certificate.amendment = Some(Amendment {
            reason_code: replaced.reason.code.name().to_owned(),
            reason: Some(replaced.reason.text.clone()),
            changes,
        });
    }
    certificate
        .check()
        .map_err(|refused| refusal::of_check(&refused))?;
    let issued = sign(tx, app, order, &certificate, replaces).await?;
    let due: Vec<Kept<ResultVersion>> = results
        .iter()
        .filter(|result| result.content.amendment_due)
        .map(|result| {
            let amended = result.content.amended().map_err(ApiError::internal)?;
            Ok(result.next(tx, amended))
        })
        .collect::<Answer<_>>()?;
    results::store::write_many(tx, &due).await?;
    Ok(issued)
}

/// The results, locked by their samples, exactly as they were shown and released.
async fn shown_results(
    tx: &mut Tx,
    order: &Order,
    replaces: Option<&Replaced>,
) -> Answer<Vec<Kept<ResultVersion>>> {
    let wanted: Vec<Uuid> = order.results.iter().map(|one| one.result.0).collect();
    tx.share_reference().await?;
    let samples = reviews::lock_samples_of(tx, &wanted).await?;
    let waiting = results::store::waiting(tx, &samples).await?;
    if !waiting.is_empty() {
        return Err(reviews::computation_due(&waiting));
    }
    let found = reviews::newest_results(tx, &wanted).await?;
    for (index, one) in order.results.iter().enumerate() {
        let pointer = format!("/results/{index}/result");
        let Some(result) = found.iter().find(|result| result.id == one.result.0) else {
            return Err(ApiError::field(
                pointer,
                "There is no such result in this laboratory. Look it up in the list.",
            ));
        };
        if u32::try_from(result.version) != Ok(one.version) {
            return Err(ApiError::Stale(format!(
                "Result {}: you saw version {}, the newest is {}. Look at it again, then issue.",
                result.id, one.version, result.version
            )));
        }
        if result.content.state != ResultState::Released {
            return Err(ApiError::refused(
                "not-released",
                format!(
                    "Result {} is {}. A second person releases it first.",
                    result.id,
                    result.content.state.words()
                ),
            ));
        }
    }
    refuse_beside_a_wrong_one(tx, &found, replaces).await?;
    Ok(found)
}

/// A result that changed after it was certified is amended, not certified once more: the old
/// certificate would go on standing with the old number.
async fn refuse_beside_a_wrong_one(
    tx: &mut Tx,
    results: &[Kept<ResultVersion>],
    replaces: Option<&Replaced>,
) -> Answer<()> {
    let due: Vec<Uuid> = results
        .iter()
        .filter(|result| result.content.amendment_due)
        .map(|result| result.id)
        .collect();
    let standing = store::standing_on(tx, &due, replaces.map(|replaced| replaced.id)).await?;
    if standing.is_empty() {
        return Ok(());
    }
    Err(ApiError::refused(
        "amendment-due",
        format!(
            "A result changed after certificate {} stated it. Amend that one, or withdraw it.",
            standing.join(", ")
        ),
    ))
}

/// `<prefix>-<year>-<six digits>`, the year in the laboratory's zone.
async fn number(tx: &mut Tx, laboratory: &domain::laboratories::Laboratory) -> Answer<String> {
    let zone: chrono_tz::Tz = laboratory.time_zone.parse().unwrap_or(chrono_tz::Tz::UTC);
    let year = tx.now().utc().with_timezone(&zone).year();
    let counted = store::next_number(tx, i16::try_from(year).map_err(ApiError::internal)?).await?;
    Ok(format!(
        "{}-{year}-{counted:06}",
        laboratory.certificate_prefix
    ))
}

async fn sign(
    tx: &mut Tx,
    app: &App,
    order: &Order,
    certificate: &Certificate,
    replaces: Option<&Replaced>,
) -> Answer<Kept<Issued>> {
    let mut payload = serde_json::to_value(certificate).map_err(ApiError::internal)?;
    let disclosures = conceal_in(&mut payload, disclosed_members())?;
    let key = app.db.keyring().record_key(tx).await?;
    let jws = certificate::sign(&payload, &key).map_err(ApiError::internal)?;
    let handed_out = certificate::assemble(&jws, &disclosures);
    tx.draft.keep_disclosures(disclosures);
    let mut stated = order.results.clone();
    stated.sort_unstable();
    let issued = Issued {
        state: CertificateState::Issued,
        number: certificate.number.clone(),
        code: order.code.clone(),
        jws: Hash::of(jws.as_bytes()).to_string(),
        lot: order.lot,
        results: stated,
        replaces: replaces.map(|replaced| replaced.id),
        by: None,
        reason: None,
    };
    let kept = Kept::first(tx, order.id.0, issued);
    store::insert(tx, &kept).await?;
    store::insert_document(tx, &kept, &handed_out).await?;
    Ok(kept)
}
