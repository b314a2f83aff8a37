//! From what is recorded to what a certificate says.
//!
//! Promises to add nothing: each member is a recorded fact, or a sentence written from recorded
//! facts. What is not recorded stays absent; whether it may is for the certificate's own check.

mod goods;
mod results;
mod runs;
mod sentences;

use super::evidence::Evidence;
use crate::{error::Answer, kept::Kept};
use domain::{
    certificates::{
        Certificate, Meaning, OrderReference, Person, Procedure, SamplingBy, Signature, statements,
    },
    id::{AccountId, CertificateId, LaboratoryId, OrderId, ProcedureId},
    results::ResultVersion,
    time::Moment,
};
use std::collections::BTreeMap;

/// What is new with the certificate itself.
pub(super) struct Heading {
    pub(super) iss: String,
    pub(super) id: CertificateId,
    pub(super) number: String,
    pub(super) laboratory: LaboratoryId,
    pub(super) check_address: String,
    pub(super) issuer: AccountId,
    pub(super) at: Moment,
}

/// The whole certificate, not yet checked.
pub(super) fn certificate(
    heading: Heading,
    evidence: &Evidence,
    results: &[Kept<ResultVersion>],
) -> Answer<Certificate> {
    let labels = goods::labels(evidence);
    let sampling = goods::sampling(evidence);
    let taken_by: SamplingBy = sampling.taken_by;
    Ok(Certificate {
        iss: heading.iss,
        jti: heading.id,
        iat: heading.at.utc().timestamp(),
        number: heading.number,
        laboratory: heading.laboratory,
        replaces: None,
        amendment: None,
        title: "Certificate of analysis".to_owned(),
        language: "en".to_owned(),
        time_zone: evidence.laboratory.time_zone.clone(),
        issuer: goods::issuer(evidence),
        customer: goods::customer(evidence),
        order: OrderReference {
            id: OrderId(evidence.order.0),
            code: evidence.order.1.code.clone(),
            customer_reference: None,
            agreed_on: evidence
                .order
                .1
                .agreed_on
                .unwrap_or(evidence.order.1.received_on),
        },
        lot: goods::lot(evidence)?,
        items: goods::items(evidence)?,
        sampling,
        procedures: procedures(evidence),
        preparation: goods::preparation(evidence, &labels),
        results: results
            .iter()
            .map(|result| results::result(evidence, &labels, result))
            .collect::<Answer<_>>()?,
        controls: runs::controls(evidence, results)?,
        holds: results::lifted_holds(evidence),
        signatures: signatures(evidence, results, heading.issuer, heading.at),
        statements: statements(taken_by),
        check_address: heading.check_address,
    })
}

/// An account with its printed name.
fn person(evidence: &Evidence, account: AccountId) -> Person {
    Person {
        account,
        name: evidence.name(account),
    }
}

fn procedures(evidence: &Evidence) -> Vec<Procedure> {
    evidence
        .procedures
        .iter()
        .map(|((id, version), entry)| Procedure {
            id: ProcedureId(*id),
            code: entry.code.clone(),
            version: u64::from(*version),
            name: entry.title.clone(),
            principle: "Lateral-flow immunoassay (strip test) on an extract, read by a reader."
                .to_owned(),
            instructions_revision: Some(entry.kit_instructions_revision.clone())
                .filter(|revision| !revision.is_empty()),
        })
        .collect()
}

/// Who recorded the runs, who released the results, who issues: in this order.
fn signatures(
    evidence: &Evidence,
    results: &[Kept<ResultVersion>],
    issuer: AccountId,
    at: Moment,
) -> Vec<Signature> {
    let mut recorded: BTreeMap<AccountId, Moment> = BTreeMap::new();
    for run in results
        .iter()
        .flat_map(|result| &result.content.computed.runs)
        .filter(|run| run.standing)
        .filter_map(|run| evidence.runs.get(&run.run.0))
    {
        if let Some(analyst) = run.content.entry.analyst {
            let last = recorded.entry(analyst).or_insert(run.created_at);
            *last = (*last).max(run.created_at);
        }
    }
    let mut signatures: Vec<Signature> = recorded
        .into_iter()
        .map(|(analyst, signed_at)| Signature {
            by: person(evidence, analyst),
            signed_at,
            meaning: Meaning::Recorded,
            comment: None,
        })
        .collect();
    for result in results {
        if let Some(release) = results::release(evidence, result.id)
            && !signatures.contains(&release)
        {
            signatures.push(release);
        }
    }
    signatures.push(Signature {
        by: person(evidence, issuer),
        signed_at: at,
        meaning: Meaning::Issued,
        comment: None,
    });
    signatures
}
