//! How a certificate is shown, and what is asked for where one is issued or changed.

use crate::{corrections::Reason, identity::LaboratoryKey, kept::Kept, request::Entered};
use domain::{
    certificates::{CertificateState, Issued, StatedResult},
    faults::Faults,
    id::LotId,
    time::Moment,
};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

/// Most results on one certificate: its record and those of its results fit in one act.
const MOST_RESULTS: usize = 100;

/// A certificate, as it is shown; what it says is in its bundle.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct CertificateView {
    /// The certificate.
    pub id: Uuid,
    /// Version of its record; the signed certificate itself never changes.
    pub version: i32,
    /// Its number.
    #[schema(example = "Q-2026-000001")]
    pub number: String,
    /// Whether it still stands.
    pub state: CertificateState,
    /// The lot.
    pub lot: LotId,
    /// What it states.
    pub results: Vec<StatedResult>,
    /// Why it no longer stands, or is looked into.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<Reason>,
    /// When it was issued.
    pub issued_at: Moment,
    /// When its state last changed.
    pub changed_at: Moment,
    /// Where to go from here.
    pub links: CertificateLinks,
}

/// Where to go from a certificate.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct CertificateLinks {
    /// The bundle: what can be verified offline.
    pub bundle: String,
    /// The PDF, with the bundle attached.
    pub pdf: String,
    /// The public page that says whether it still stands.
    pub check: String,
    /// The lot.
    pub lot: String,
    /// The certificate that it replaces.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub replaces: Option<String>,
    /// The certificate that stands in its place.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub replaced_by: Option<String>,
}

impl CertificateView {
    /// The view of a certificate.
    pub(super) fn of(kept: Kept<Issued>, laboratory: &LaboratoryKey) -> Self {
        let base = format!("/v1/laboratories/{}", laboratory.slug);
        let certificate = |id: &dyn std::fmt::Display| format!("{base}/certificates/{id}");
        let own = certificate(&kept.id);
        let issued = kept.content;
        Self {
            id: kept.id,
            version: kept.version,
            links: CertificateLinks {
                bundle: format!("{own}/bundle"),
                pdf: format!("{own}/pdf"),
                check: format!("/c/{}", issued.code),
                lot: format!("{base}/lots/{}", issued.lot),
                replaces: issued.replaces.map(|id| certificate(&id)),
                replaced_by: issued.by.map(|id| certificate(&id)),
            },
            number: issued.number,
            state: issued.state,
            lot: issued.lot,
            results: issued.results,
            reason: issued.reason,
            issued_at: kept.created_at,
            changed_at: kept.changed_at,
        }
    }
}

/// What a certificate is to state.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct IssueCertificate {
    /// The lot.
    pub lot: LotId,
    /// Its results, exactly in the versions that were shown: all released.
    pub results: Vec<StatedResult>,
}

impl Entered for IssueCertificate {
    fn check(&self) -> Result<(), Faults> {
        check_results(&self.results)
    }
}

/// What a replacing certificate is to state, and why it replaces the other.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct AmendCertificate {
    /// The results, exactly in the versions that were shown: all released.
    pub results: Vec<StatedResult>,
    /// Why the certificate is replaced; printed on the new one.
    pub reason: Reason,
}

impl Entered for AmendCertificate {
    fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        faults.nest("", check_results(&self.results));
        faults.nest("/reason", self.reason.check());
        faults.into_result()
    }
}

/// Why a certificate no longer stands.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct WithdrawCertificate {
    /// Why.
    pub reason: Reason,
}

impl Entered for WithdrawCertificate {
    fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        faults.nest("/reason", self.reason.check());
        faults.into_result()
    }
}

/// Whether something that a certificate rests on is being looked into.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct InvestigateCertificate {
    /// True where it begins, false where it is over and the certificate stands.
    pub open: bool,
    /// What is looked into, or what was found.
    pub reason: Reason,
}

impl Entered for InvestigateCertificate {
    fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        faults.nest("/reason", self.reason.check());
        faults.into_result()
    }
}

fn check_results(results: &[StatedResult]) -> Result<(), Faults> {
    let mut faults = Faults::default();
    faults.require(!results.is_empty(), "/results", || {
        "Name the results that the certificate is to state.".into()
    });
    faults.require(results.len() <= MOST_RESULTS, "/results", || {
        format!(
            "{} results: one certificate states at most {MOST_RESULTS}.",
            results.len()
        )
    });
    let mut seen = std::collections::BTreeSet::new();
    for (index, one) in results.iter().enumerate() {
        faults.require(
            seen.insert(one.result),
            format!("/results/{index}/result"),
            || "The result is named twice.".into(),
        );
    }
    faults.into_result()
}
