//! Elements of DER, one after the other. Refuses one of another kind than is due, or cut off.

use super::TimeStampError;
use der::{
    AnyRef, Decode as _, Header, Reader as _, SliceReader, Tag, TagNumber, asn1::ObjectIdentifier,
};

pub(super) type Read<T> = Result<T, TimeStampError>;

pub(super) fn malformed<T>(why: &'static str) -> Read<T> {
    Err(TimeStampError::Malformed(why))
}

/// Elements one after the other.
pub(super) struct Elements<'a>(SliceReader<'a>);

impl<'a> Elements<'a> {
    pub(super) fn of(bytes: &'a [u8]) -> Read<Self> {
        SliceReader::new(bytes)
            .map(Self)
            .or_else(|_error| malformed("a part is empty or too long"))
    }

    pub(super) fn within(part: AnyRef<'a>, tag: Tag) -> Read<Self> {
        if part.header().tag() != tag {
            return malformed("a part is of another kind than is due");
        }
        if part.value().is_empty() {
            return malformed("a part is empty");
        }
        Self::of(part.value())
    }

    pub(super) fn next(&mut self) -> Read<AnyRef<'a>> {
        AnyRef::decode(&mut self.0).or_else(|_error| malformed("a part is missing or cut off"))
    }

    pub(super) fn is_at_end(&self) -> bool {
        self.0.is_finished()
    }

    /// The next element, where it has this tag.
    pub(super) fn next_if(&mut self, tag: Tag) -> Read<Option<AnyRef<'a>>> {
        if self.is_at_end() {
            return Ok(None);
        }
        let mut ahead = self.0.clone();
        let header = Header::decode(&mut ahead)
            .or_else(|_error| malformed("a part is missing or cut off"))?;
        if header.tag() == tag {
            self.next().map(Some)
        } else {
            Ok(None)
        }
    }
}

pub(super) fn context(number: u32) -> Tag {
    Tag::ContextSpecific {
        constructed: true,
        number: TagNumber(number),
    }
}

pub(super) fn plain_context(number: u32) -> Tag {
    Tag::ContextSpecific {
        constructed: false,
        number: TagNumber(number),
    }
}

pub(super) fn identifier(part: AnyRef<'_>) -> Read<ObjectIdentifier> {
    part.decode_as()
        .or_else(|_error| malformed("an object identifier is due"))
}

/// Algorithm identifier: the algorithm, and the bytes of the whole.
pub(super) fn algorithm(part: AnyRef<'_>) -> Read<ObjectIdentifier> {
    identifier(Elements::within(part, Tag::Sequence)?.next()?)
}

pub(super) fn octets(part: AnyRef<'_>) -> Read<&[u8]> {
    if part.header().tag() == Tag::OctetString {
        Ok(part.value())
    } else {
        malformed("an octet string is due")
    }
}

pub(super) fn small(bytes: &[u8]) -> Read<u64> {
    if bytes.len() > 8 || bytes.first().is_some_and(|first| *first >= 0x80) {
        return malformed("a number is out of range");
    }
    Ok(bytes
        .iter()
        .fold(0, |number, byte| (number << 8) | u64::from(*byte)))
}

/// The bytes of each element, header and all.
pub(super) fn whole_elements(mut bytes: &[u8]) -> Read<Vec<&[u8]>> {
    let mut all = Vec::new();
    while !bytes.is_empty() {
        let mut elements = Elements::of(bytes)?;
        elements.next()?;
        let length = bytes.len().saturating_sub(remaining(&elements.0)?);
        let (one, rest) = bytes
            .split_at_checked(length)
            .ok_or(TimeStampError::Malformed("a certificate is cut off"))?;
        all.push(one);
        bytes = rest;
    }
    Ok(all)
}

fn remaining(reader: &SliceReader<'_>) -> Read<usize> {
    usize::try_from(u32::from(reader.remaining_len()))
        .or_else(|_error| malformed("a part is too long"))
}
