//! Time stamps from outside (RFC 3161): what is asked of an authority about a checkpoint, and
//! whether its answer holds.
//!
//! Promises that a stamp which is accepted was made over these bytes, for this query, by a signer
//! whose certificate allows nothing but time stamping and leads to a trusted root at the time that
//! it states. Refuses everything else, saying which of these does not hold. The set of certificates
//! may stand in any order: embedded chains often do not stand in the order of DER.

mod elements;
mod reading;

use crate::time::Moment;
use chrono::{DateTime, Utc};
use der::{Decode as _, Encode as _, Sequence, asn1::ObjectIdentifier};
use reading::{Answer, SignedToken};
use rustls_pki_types::{CertificateDer, UnixTime};
use sha2::{Digest as _, Sha256, Sha384, Sha512};
use std::time::Duration;
use webpki::{ALL_VERIFICATION_ALGS, EndEntityCert, KeyUsage, anchor_from_trusted_cert};
use x509_cert::{Certificate, ext::pkix::ExtendedKeyUsage};

/// id-kp-timeStamping.
const TIME_STAMPING: ObjectIdentifier = ObjectIdentifier::new_unwrap("1.3.6.1.5.5.7.3.8");

/// id-ce-extKeyUsage.
const EXTENDED_KEY_USAGE: ObjectIdentifier = ObjectIdentifier::new_unwrap("2.5.29.37");

/// The content of [`TIME_STAMPING`], as a certificate holds it.
const TIME_STAMPING_BYTES: &[u8] = &[0x2b, 0x06, 0x01, 0x05, 0x05, 0x07, 0x03, 0x08];

/// SHA-256 as an algorithm identifier, without parameters.
const SHA_256: ObjectIdentifier = ObjectIdentifier::new_unwrap("2.16.840.1.101.3.4.2.1");
const SHA_384: ObjectIdentifier = ObjectIdentifier::new_unwrap("2.16.840.1.101.3.4.2.2");
const SHA_512: ObjectIdentifier = ObjectIdentifier::new_unwrap("2.16.840.1.101.3.4.2.3");

/// Why a time stamp is not accepted.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum TimeStampError {
    /// The authority gave none.
    #[error("the authority refused: status {status}{}", .text.as_ref().map(|text| format!(", {text}")).unwrap_or_default())]
    Refused {
        /// Its status, 2 to 5 (RFC 3161 2.4.2).
        status: u64,
        /// What it said.
        text: Option<String>,
        /// The numbers of the failure bits that are set.
        failures: Vec<usize>,
    },
    /// The bytes are none of the forms of RFC 3161 and RFC 5652.
    #[error("the time stamp cannot be read: {0}")]
    Malformed(&'static str),
    /// It is over other bytes.
    #[error("the time stamp is over other bytes")]
    OtherData,
    /// It answers another query.
    #[error("the time stamp answers another query: {0}")]
    OtherQuery(&'static str),
    /// Its signer may not make time stamps, or also something else.
    #[error("the signer's certificate: {0}")]
    Signer(&'static str),
    /// The signer's certificate does not lead to a trusted root at that time.
    #[error("the signer's certificate does not lead to a trusted root: {0}")]
    Chain(String),
    /// Its signature does not hold.
    #[error("the signature of the time stamp does not hold")]
    Signature,
}

/// A time stamp that holds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TimeStamp {
    /// The time that the authority states, UTC.
    pub time: Moment,
    /// How far the true time may be from it, in µs, where the authority says so.
    pub accuracy_us: Option<u64>,
    /// Its serial number, in hexadecimal.
    pub serial: String,
    /// The policy under which it was made, as a dotted identifier.
    pub policy: String,
}

#[derive(Sequence)]
struct AlgorithmIdentifier {
    algorithm: ObjectIdentifier,
    #[asn1(optional = "true")]
    parameters: Option<der::Any>,
}

#[derive(Sequence)]
struct MessageImprint {
    algorithm: AlgorithmIdentifier,
    digest: der::asn1::OctetString,
}

#[derive(Sequence)]
struct TimeStampQuery {
    version: u8,
    imprint: MessageImprint,
    #[asn1(optional = "true")]
    policy: Option<ObjectIdentifier>,
    #[asn1(optional = "true")]
    nonce: Option<der::asn1::Int>,
    #[asn1(default = "Default::default")]
    wants_certificates: bool,
}

/// The query for a time stamp over these bytes (a checkpoint as it was signed), with 64 random bits
/// against the replay of an older answer; it asks for the signer's certificates.
///
/// # Errors
/// [`TimeStampError::Malformed`] where it has no DER form.
///
/// ```
/// use domain::ledger::timestamp;
/// let query = timestamp::query(b"a checkpoint", [0x80, 0, 0, 0, 0, 0, 0, 1])?;
/// assert_eq!((query[0], query.len()), (0x30, 70));
/// # Ok::<(), timestamp::TimeStampError>(())
/// ```
pub fn query(data: &[u8], nonce: [u8; 8]) -> Result<Vec<u8>, TimeStampError> {
    let made = || -> der::Result<Vec<u8>> {
        let mut positive = vec![0];
        positive.extend_from_slice(&nonce);
        let leading = positive
            .iter()
            .zip(positive.iter().skip(1))
            .take_while(|(zero, next)| **zero == 0 && **next < 0x80)
            .count();
        TimeStampQuery {
            version: 1,
            imprint: MessageImprint {
                algorithm: AlgorithmIdentifier {
                    algorithm: SHA_256,
                    parameters: Some(der::Any::null()),
                },
                digest: der::asn1::OctetString::new(Sha256::digest(data).to_vec())?,
            },
            policy: None,
            nonce: Some(der::asn1::Int::new(
                positive.get(leading..).unwrap_or(&[0]),
            )?),
            wants_certificates: true,
        }
        .to_der()
    };
    made().map_err(|_error| TimeStampError::Malformed("the query has no DER form"))
}

/// Checks an authority's answer to a query about these bytes. Roots are certificates in DER.
///
/// # Errors
/// [`TimeStampError`].
pub fn verify(
    query: &[u8],
    data: &[u8],
    answer: &[u8],
    roots: &[Vec<u8>],
) -> Result<TimeStamp, TimeStampError> {
    let asked = TimeStampQuery::from_der(query)
        .map_err(|_error| TimeStampError::Malformed("the query is none"))?;
    let token = match reading::answer(answer)? {
        Answer::Refused(refusal) => return Err(refusal),
        Answer::Granted(token) => token,
    };
    check_what_is_stamped(&asked, data, &token)?;
    check_signed_attributes(&token)?;
    let signer = token.signer()?;
    check_usage(signer)?;
    check_chain(signer, &token, roots)?;
    let accuracy_us = token.stated.accuracy_us;
    Ok(TimeStamp {
        time: Moment::from(token.stated.time),
        accuracy_us,
        serial: token.stated.serial.clone(),
        policy: token.stated.policy.to_string(),
    })
}

fn check_what_is_stamped(
    asked: &TimeStampQuery,
    data: &[u8],
    token: &SignedToken<'_>,
) -> Result<(), TimeStampError> {
    let stated = &token.stated;
    if stated.imprint_algorithm != asked.imprint.algorithm.algorithm
        || stated.imprint != asked.imprint.digest.as_bytes()
    {
        return Err(TimeStampError::OtherQuery("the digest is not the query's"));
    }
    if digest(stated.imprint_algorithm, data).as_deref() != Some(stated.imprint) {
        return Err(TimeStampError::OtherData);
    }
    if asked.nonce.as_ref().map(der::asn1::Int::as_bytes) != stated.nonce {
        return Err(TimeStampError::OtherQuery("the nonce is not the query's"));
    }
    if asked.policy.is_some_and(|policy| policy != stated.policy) {
        return Err(TimeStampError::OtherQuery("the policy is not the query's"));
    }
    Ok(())
}

/// The signed attributes name the content's form, its digest and the signer's certificate.
fn check_signed_attributes(token: &SignedToken<'_>) -> Result<(), TimeStampError> {
    let expected = digest(token.digest_algorithm, token.content).ok_or(
        TimeStampError::Malformed("its digest algorithm is none of SHA-256, SHA-384, SHA-512"),
    )?;
    if token.message_digest != expected {
        return Err(TimeStampError::Signature);
    }
    Ok(())
}

fn check_usage(signer: &[u8]) -> Result<(), TimeStampError> {
    let certificate = Certificate::from_der(signer)
        .map_err(|_error| TimeStampError::Signer("it cannot be read"))?;
    let extensions = certificate.tbs_certificate().extensions();
    let extension = extensions
        .into_iter()
        .flatten()
        .find(|one| one.extn_id == EXTENDED_KEY_USAGE)
        .ok_or(TimeStampError::Signer(
            "it does not say what it may be used for",
        ))?;
    if !extension.critical {
        return Err(TimeStampError::Signer(
            "its use for time stamps is not marked critical",
        ));
    }
    let usage = ExtendedKeyUsage::from_der(extension.extn_value.as_bytes())
        .map_err(|_error| TimeStampError::Signer("its use cannot be read"))?;
    if usage.0 == [TIME_STAMPING] {
        Ok(())
    } else {
        Err(TimeStampError::Signer(
            "it may be used for something else than time stamps",
        ))
    }
}

fn check_chain(
    signer: &[u8],
    token: &SignedToken<'_>,
    roots: &[Vec<u8>],
) -> Result<(), TimeStampError> {
    let refuse = |error: webpki::Error| TimeStampError::Chain(error.to_string());
    let roots: Vec<CertificateDer<'_>> = roots
        .iter()
        .map(|root| CertificateDer::from(root.as_slice()))
        .collect();
    let anchors: Result<Vec<_>, webpki::Error> =
        roots.iter().map(anchor_from_trusted_cert).collect();
    let anchors = anchors.map_err(refuse)?;
    let others: Vec<CertificateDer<'_>> = token
        .certificates
        .iter()
        .filter(|one| **one != signer)
        .map(|one| CertificateDer::from(*one))
        .collect();
    let certificate = CertificateDer::from(signer);
    let end = EndEntityCert::try_from(&certificate).map_err(refuse)?;
    end.verify_for_usage(
        ALL_VERIFICATION_ALGS,
        &anchors,
        &others,
        at(token.stated.time)?,
        KeyUsage::required(TIME_STAMPING_BYTES),
        None,
        None,
    )
    .map_err(refuse)?;
    // The signature's algorithm stands beside it; a key fits few of those that are tried.
    let holds = ALL_VERIFICATION_ALGS.iter().any(|algorithm| {
        let named = algorithm.signature_alg_id();
        token.may_be_signed_with(named.as_ref())
            && end
                .verify_signature(*algorithm, &token.signed_attributes, token.signature)
                .is_ok()
    });
    if holds {
        Ok(())
    } else {
        Err(TimeStampError::Signature)
    }
}

fn at(time: DateTime<Utc>) -> Result<UnixTime, TimeStampError> {
    let seconds = u64::try_from(time.timestamp())
        .map_err(|_before| TimeStampError::Malformed("its time is before 1970"))?;
    Ok(UnixTime::since_unix_epoch(Duration::from_secs(seconds)))
}

fn digest(algorithm: ObjectIdentifier, data: &[u8]) -> Option<Vec<u8>> {
    Some(match algorithm {
        SHA_256 => Sha256::digest(data).to_vec(),
        SHA_384 => Sha384::digest(data).to_vec(),
        SHA_512 => Sha512::digest(data).to_vec(),
        _other => return None,
    })
}
