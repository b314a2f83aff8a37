//! What a certificate must say, not how it looks: the payload of its SD-JWT, for one lot and
//! the 1 to n results of it.
//!
//! Promises that a certificate which passes [`Certificate::check`] says what ISO/IEC 17025:2017
//! 7.8.2, 7.8.3, 7.8.5, 7.8.6 and 7.8.8 ask for, and that every number in it follows from the
//! readings beside it. Refuses what is missing, results that nobody released, results of several
//! lots, and arithmetic that does not come out.
//!
//! Names, addresses and free text ([`disclosed_members`]) become disclosures that can be erased;
//! results, decisions, units, dates and numbers never do.

mod amendment;
mod check;
mod evidence;
mod issued;
mod item;
mod result;
mod signature;
#[cfg(test)]
mod tests;

pub use amendment::{Amendment, Change, changes_between};
pub use check::CertificateError;
pub use evidence::{
    CertifiedRun, ControlReading, DilutionStep, Factor, KitLotUsed, LiftedHold, ReaderUsed,
    RunReading, RunUse,
};
pub use issued::{CertificateState, Issued, IssuedError, StatedResult};
pub use item::{
    Equipment, Item, Lot, Mass, PreparationStep, Procedure, Sampling, SamplingBy, Term,
};
pub use result::{
    AccreditationStatus, CertifiedDecision, CertifiedLimit, CertifiedResult, CertifiedUncertainty,
    DecisionRuleUsed, DecisionTerm, MeasuringRange,
};
pub use signature::{Customer, Issuer, Meaning, Person, Signature, Site};

use crate::id::{CertificateId, LaboratoryId, OrderId};
use serde::{Deserialize, Serialize};

/// The payload of a certificate, before its [`disclosed_members`] are replaced by digests, or
/// after those that are left have been put back.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Certificate {
    /// Public address of the laboratory's service.
    pub iss: String,
    /// The certificate's id: the subject of its record.
    pub jti: CertificateId,
    /// Seconds since 1970-01-01T00:00:00Z at which it was issued (RFC 7519 NumericDate).
    pub iat: i64,
    /// The number given when it was issued.
    pub number: String,
    /// The laboratory's id.
    pub laboratory: LaboratoryId,
    /// The number of the certificate that this one replaces.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub replaces: Option<String>,
    /// What changed against it, and why.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub amendment: Option<Amendment>,
    /// The title (7.8.2.1 a).
    pub title: String,
    /// The language that it is written in (BCP 47).
    pub language: String,
    /// The zone in which its times are shown (IANA name).
    pub time_zone: String,
    /// Who issues it, and where the work was done (7.8.2.1 b, c).
    pub issuer: Issuer,
    /// For whom (7.8.2.1 e).
    pub customer: Customer,
    /// The order that was agreed.
    pub order: OrderReference,
    /// The goods.
    pub lot: Lot,
    /// The samples tested, with their condition (7.8.2.1 g, h).
    pub items: Vec<Item>,
    /// How the samples were taken (7.8.2.1 h, k; 7.8.5).
    pub sampling: Sampling,
    /// The methods that were used (7.8.2.1 f).
    pub procedures: Vec<Procedure>,
    /// How sample became extract, step by step.
    pub preparation: Vec<PreparationStep>,
    /// The results (7.8.2.1 m).
    pub results: Vec<CertifiedResult>,
    /// The control runs of the series that the results' runs belong to.
    pub controls: Vec<ControlReading>,
    /// Holds that were lifted by a reasoned acceptance (7.8.2.1 n).
    pub holds: Vec<LiftedHold>,
    /// Who authorised it (7.8.2.1 o), and every other signature.
    pub signatures: Vec<Signature>,
    /// Statements and cautions that the reader must have ([`statements`]).
    pub statements: Vec<String>,
    /// Address of the page that says whether it still stands.
    pub check_address: String,
}

/// The order that the work was done under.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct OrderReference {
    /// The order's id.
    pub id: OrderId,
    /// The laboratory's code of it.
    pub code: String,
    /// The customer's own reference.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub customer_reference: Option<String>,
    /// The date of the agreement, decision rule included (7.1.3).
    pub agreed_on: chrono::NaiveDate,
}

/// The members that are disclosed, as JSON pointers in which `*` stands for any element.
///
/// Names, addresses and free text only: the rule that keeps a result, a decision, a unit, a date
/// or a number from ever being withheld is this list.
///
/// ```
/// use domain::certificates::disclosed_members;
/// assert!(disclosed_members().contains(&"/customer/name"));
/// assert!(!disclosed_members().iter().any(|path| path.ends_with("/value")));
/// ```
#[must_use]
pub fn disclosed_members() -> &'static [&'static str] {
    &[
        "/amendment/changes/*/text_after",
        "/amendment/changes/*/text_before",
        "/amendment/reason",
        "/customer/address",
        "/customer/contact",
        "/customer/name",
        "/holds/*/accepted_by/name",
        "/holds/*/reason",
        "/issuer/address",
        "/issuer/contact",
        "/issuer/name",
        "/issuer/site/address",
        "/issuer/site/name",
        "/items/*/condition",
        "/items/*/description",
        "/lot/carrier",
        "/lot/remark",
        "/preparation/*/by/name",
        "/preparation/*/remark",
        "/results/*/runs/*/analyst/name",
        "/sampling/by/name",
        "/sampling/deviations",
        "/sampling/place",
        "/signatures/*/by/name",
        "/signatures/*/comment",
    ]
}

/// The statements that a certificate of this kind carries, in order: what the results relate to,
/// reproduction, who decides, and the caution of safety.
///
/// ```
/// use domain::certificates::{statements, SamplingBy};
/// let received = statements(SamplingBy::Customer);
/// assert!(received.iter().any(|text| text.contains("as received")));
/// let taken = statements(SamplingBy::Laboratory);
/// assert!(!taken.iter().any(|text| text.contains("as received")));
/// ```
#[must_use]
pub fn statements(by: SamplingBy) -> Vec<String> {
    let relates = match by {
        SamplingBy::Laboratory => {
            "The results relate only to the samples tested, as the laboratory took them from the \
             lot described; what was not sampled was not tested."
        }
        SamplingBy::Customer | SamplingBy::ThirdParty => {
            "The laboratory did not take the samples. The results relate only to the samples \
             tested, as received, and data about the lot and its sampling are those of whoever \
             supplied them."
        }
    };
    [
        relates,
        "Mycotoxins are spread unevenly through a lot: another sample of the same lot can give \
         another result.",
        "This certificate may be reproduced only as a whole, unless the laboratory has agreed in \
         writing to an extract.",
        "A decision printed here is the laboratory's statement under the rule named beside it. \
         Whether goods may be placed on the market, fed or moved is for the competent authority \
         of the place to decide.",
        "A result below a limit does not make every use of the goods safe: other mycotoxins, \
         other uses and later storage are not covered. Goods suspected of mycotoxins give off \
         harmful dust and are to be handled with protection.",
    ]
    .map(str::to_owned)
    .to_vec()
}
