//! The parts of an authority's answer, by RFC 3161 2.4.2 and RFC 5652 5. Reads what is there, and
//! judges nothing but its form.

use super::elements::{
    Elements, Read, algorithm, context, identifier, malformed, octets, plain_context, small,
    whole_elements,
};
use super::{TimeStampError, digest};
use chrono::{DateTime, NaiveDateTime, Utc};
use der::{AnyRef, Encode as _, Tag, asn1::ObjectIdentifier};

const SIGNED_DATA: ObjectIdentifier = ObjectIdentifier::new_unwrap("1.2.840.113549.1.7.2");
const TST_INFO: ObjectIdentifier = ObjectIdentifier::new_unwrap("1.2.840.113549.1.9.16.1.4");
const CONTENT_TYPE: ObjectIdentifier = ObjectIdentifier::new_unwrap("1.2.840.113549.1.9.3");
const MESSAGE_DIGEST: ObjectIdentifier = ObjectIdentifier::new_unwrap("1.2.840.113549.1.9.4");
const SIGNING_CERTIFICATE_V2: ObjectIdentifier =
    ObjectIdentifier::new_unwrap("1.2.840.113549.1.9.16.2.47");
const SHA_256: ObjectIdentifier = ObjectIdentifier::new_unwrap("2.16.840.1.101.3.4.2.1");
const RSA: ObjectIdentifier = ObjectIdentifier::new_unwrap("1.2.840.113549.1.1.1");

/// The longest answer that is read, in bytes: a token with a chain has some thousands.
const LONGEST: usize = 65_536;

/// What an authority answered.
pub(super) enum Answer<'a> {
    /// No stamp.
    Refused(TimeStampError),
    /// A stamp.
    Granted(Box<SignedToken<'a>>),
}

/// What the authority states.
pub(super) struct Stated<'a> {
    pub(super) policy: ObjectIdentifier,
    pub(super) imprint_algorithm: ObjectIdentifier,
    pub(super) imprint: &'a [u8],
    pub(super) serial: String,
    pub(super) time: DateTime<Utc>,
    pub(super) accuracy_us: Option<u64>,
    pub(super) nonce: Option<&'a [u8]>,
}

/// What was signed, by whom, and how.
pub(super) struct SignedToken<'a> {
    pub(super) stated: Stated<'a>,
    pub(super) content: &'a [u8],
    pub(super) certificates: Vec<&'a [u8]>,
    pub(super) digest_algorithm: ObjectIdentifier,
    pub(super) message_digest: Vec<u8>,
    pub(super) signed_attributes: Vec<u8>,
    pub(super) signature: &'a [u8],
    signature_algorithm: &'a [u8],
    is_plain_rsa: bool,
    certificate_digest: (ObjectIdentifier, Vec<u8>),
}

impl<'a> SignedToken<'a> {
    /// The certificate that the signed attributes bind (ESSCertIDv2, RFC 5816).
    pub(super) fn signer(&self) -> Read<&'a [u8]> {
        let (algorithm, wanted) = &self.certificate_digest;
        self.certificates
            .iter()
            .find(|one| digest(*algorithm, one).as_ref() == Some(wanted))
            .copied()
            .ok_or(TimeStampError::Signer(
                "the one that the stamp binds is not in it",
            ))
    }

    /// Whether the signature may be of this algorithm: the one that it names, or, where it names
    /// only the kind of key, any.
    pub(super) fn may_be_signed_with(&self, algorithm: &[u8]) -> bool {
        self.is_plain_rsa || self.signature_algorithm == algorithm
    }
}

/// Reads an answer whole.
pub(super) fn answer(bytes: &[u8]) -> Read<Answer<'_>> {
    if bytes.len() > LONGEST {
        return malformed("it is too long");
    }
    let mut outer = Elements::of(bytes)?;
    let mut parts = Elements::within(outer.next()?, Tag::Sequence)?;
    if !outer.is_at_end() {
        return malformed("something follows it");
    }
    let mut status = Elements::within(parts.next()?, Tag::Sequence)?;
    let number = status.next()?;
    if number.header().tag() != Tag::Integer {
        return malformed("its status is no number");
    }
    let number = small(number.value())?;
    if number > 1 {
        return Ok(Answer::Refused(refusal(number, status)?));
    }
    Ok(Answer::Granted(Box::new(token(parts.next()?)?)))
}

fn refusal(status: u64, mut rest: Elements<'_>) -> Read<TimeStampError> {
    let mut text = None;
    if let Some(said) = rest.next_if(Tag::Sequence)? {
        let mut said = Elements::within(said, Tag::Sequence)?;
        let first = said.next()?;
        text = std::str::from_utf8(first.value()).ok().map(|text| {
            text.chars()
                .filter(|one| !one.is_control())
                .take(200)
                .collect()
        });
    }
    let mut failures = Vec::new();
    if let Some(bits) = rest.next_if(Tag::BitString)? {
        let bytes = bits.value().get(1..).unwrap_or_default();
        for (place, byte) in bytes.iter().enumerate() {
            failures.extend(
                (0..8)
                    .filter(|bit| byte & (0x80 >> bit) != 0)
                    .map(|bit| place * 8 + bit),
            );
        }
    }
    Ok(TimeStampError::Refused {
        status,
        text,
        failures,
    })
}

fn token(part: AnyRef<'_>) -> Read<SignedToken<'_>> {
    let mut info = Elements::within(part, Tag::Sequence)?;
    if identifier(info.next()?)? != SIGNED_DATA {
        return malformed("it is no signed data");
    }
    let mut explicit = Elements::within(info.next()?, context(0))?;
    let mut data = Elements::within(explicit.next()?, Tag::Sequence)?;
    data.next()?; // version
    data.next()?; // digest algorithms, named again by the signer
    let mut content = Elements::within(data.next()?, Tag::Sequence)?;
    if identifier(content.next()?)? != TST_INFO {
        return malformed("it stamps no time");
    }
    let content = octets(Elements::within(content.next()?, context(0))?.next()?)?;
    let mut certificates = Vec::new();
    if let Some(all) = data.next_if(context(0))? {
        certificates = whole_elements(all.value())?;
    }
    data.next_if(context(1))?; // revocation lists
    let mut signers = Elements::within(data.next()?, Tag::Set)?;
    let signer = signers.next()?;
    if !signers.is_at_end() {
        return malformed("it has more than one signer");
    }
    signed(content, certificates, signer)
}

fn signed<'a>(
    content: &'a [u8],
    certificates: Vec<&'a [u8]>,
    signer: AnyRef<'a>,
) -> Read<SignedToken<'a>> {
    let mut parts = Elements::within(signer, Tag::Sequence)?;
    parts.next()?; // version
    parts.next()?; // who signed: the signed attributes bind the certificate itself
    let digest_algorithm = algorithm(parts.next()?)?;
    let attributes = match parts.next_if(context(0))? {
        Some(attributes) => attributes,
        None => return malformed("it has no signed attributes"),
    };
    let signature_algorithm = parts.next()?;
    let is_plain_rsa = algorithm(signature_algorithm)? == RSA;
    let signature = octets(parts.next()?)?;
    let named = attributes_of(attributes.value())?;
    if named.content_type != Some(TST_INFO) {
        return malformed("its signed attributes name another content");
    }
    let (Some(message_digest), Some(certificate_digest)) =
        (named.message_digest, named.certificate_digest)
    else {
        return malformed("its signed attributes bind neither content nor certificate");
    };
    let set = AnyRef::new(Tag::Set, attributes.value())
        .and_then(|set| set.to_der())
        .or_else(|_error| malformed("its signed attributes cannot be written again"))?;
    Ok(SignedToken {
        stated: stated(content)?,
        content,
        certificates,
        digest_algorithm,
        message_digest: message_digest.to_vec(),
        signed_attributes: set,
        signature,
        signature_algorithm: signature_algorithm.value(),
        is_plain_rsa,
        certificate_digest,
    })
}

#[derive(Default)]
struct Attributes<'a> {
    content_type: Option<ObjectIdentifier>,
    message_digest: Option<&'a [u8]>,
    certificate_digest: Option<(ObjectIdentifier, Vec<u8>)>,
}

fn attributes_of(bytes: &[u8]) -> Read<Attributes<'_>> {
    let mut found = Attributes::default();
    let mut all = Elements::of(bytes)?;
    while !all.is_at_end() {
        let mut attribute = Elements::within(all.next()?, Tag::Sequence)?;
        let kind = identifier(attribute.next()?)?;
        let value = Elements::within(attribute.next()?, Tag::Set)?.next()?;
        if kind == CONTENT_TYPE {
            found.content_type = Some(identifier(value)?);
        } else if kind == MESSAGE_DIGEST {
            found.message_digest = Some(octets(value)?);
        } else if kind == SIGNING_CERTIFICATE_V2 {
            found.certificate_digest = Some(bound_certificate(value)?);
        }
    }
    Ok(found)
}

/// ESSCertIDv2 of the first certificate: digest algorithm (SHA-256 where it is left out), digest.
fn bound_certificate(value: AnyRef<'_>) -> Read<(ObjectIdentifier, Vec<u8>)> {
    let mut outer = Elements::within(value, Tag::Sequence)?;
    let mut list = Elements::within(outer.next()?, Tag::Sequence)?;
    let mut first = Elements::within(list.next()?, Tag::Sequence)?;
    let named = match first.next_if(Tag::Sequence)? {
        Some(part) => algorithm(part)?,
        None => SHA_256,
    };
    Ok((named, octets(first.next()?)?.to_vec()))
}

fn stated(content: &[u8]) -> Read<Stated<'_>> {
    let mut outer = Elements::of(content)?;
    let mut parts = Elements::within(outer.next()?, Tag::Sequence)?;
    if small(parts.next()?.value())? != 1 {
        return malformed("it is of another version");
    }
    let policy = identifier(parts.next()?)?;
    let mut imprint = Elements::within(parts.next()?, Tag::Sequence)?;
    let imprint_algorithm = algorithm(imprint.next()?)?;
    let imprint = octets(imprint.next()?)?;
    let serial = parts.next()?;
    if serial.header().tag() != Tag::Integer {
        return malformed("its serial number is no number");
    }
    let serial: String = serial
        .value()
        .iter()
        .map(|byte| format!("{byte:02x}"))
        .collect();
    let time = parts.next()?;
    if time.header().tag() != Tag::GeneralizedTime {
        return malformed("its time is of another form");
    }
    let time = generalized_time(time.value())?;
    let accuracy_us = match parts.next_if(Tag::Sequence)? {
        Some(accuracy) => Some(accuracy_of(accuracy.value())?),
        None => None,
    };
    parts.next_if(Tag::Boolean)?; // whether stamps of the authority are in order
    let nonce = parts.next_if(Tag::Integer)?.map(|nonce| nonce.value());
    Ok(Stated {
        policy,
        imprint_algorithm,
        imprint,
        serial,
        time,
        accuracy_us,
        nonce,
    })
}

/// UTC, with or without a fraction of a second.
fn generalized_time(bytes: &[u8]) -> Read<DateTime<Utc>> {
    let text = std::str::from_utf8(bytes)
        .ok()
        .and_then(|text| text.strip_suffix('Z'))
        .ok_or(TimeStampError::Malformed("its time is not in UTC"))?;
    let form = if text.contains('.') {
        "%Y%m%d%H%M%S%.f"
    } else {
        "%Y%m%d%H%M%S"
    };
    NaiveDateTime::parse_from_str(text, form)
        .map(|time| time.and_utc())
        .or_else(|_error| malformed("its time is none"))
}

fn accuracy_of(bytes: &[u8]) -> Read<u64> {
    if bytes.is_empty() {
        return Ok(0);
    }
    let mut parts = Elements::of(bytes)?;
    let seconds = match parts.next_if(Tag::Integer)? {
        Some(part) => small(part.value())?,
        None => 0,
    };
    let millis = match parts.next_if(plain_context(0))? {
        Some(part) => small(part.value())?,
        None => 0,
    };
    let micros = match parts.next_if(plain_context(1))? {
        Some(part) => small(part.value())?,
        None => 0,
    };
    seconds
        .checked_mul(1_000_000)
        .and_then(|us| us.checked_add(millis.checked_mul(1_000)?))
        .and_then(|us| us.checked_add(micros))
        .ok_or(TimeStampError::Malformed("its accuracy is out of range"))
}
