//! From bytes to characters.
//!
//! Promises that nothing is replaced: every byte became the character it stands for. Refuses
//! bytes that are no text of the stated encoding, and says which encoding they look like.

use std::borrow::Cow;

use encoding_rs::{UTF_16BE, UTF_16LE, WINDOWS_1252};

use super::ExportRefusal;
use crate::column_maps::ExportEncoding;

/// The text without its byte order mark, and the name of the encoding that it was read in.
pub(super) fn decode(
    bytes: &[u8],
    encoding: ExportEncoding,
) -> Result<(Cow<'_, str>, &'static str), ExportRefusal> {
    let marked = Mark::of(bytes);
    match (encoding, marked) {
        (ExportEncoding::Auto | ExportEncoding::Utf8, Some(Mark::Utf8(rest))) => utf8(rest),
        (ExportEncoding::Auto | ExportEncoding::Utf16, Some(Mark::Utf16Little(rest))) => {
            utf16(rest, true)
        }
        (ExportEncoding::Auto | ExportEncoding::Utf16, Some(Mark::Utf16Big(rest))) => {
            utf16(rest, false)
        }
        (ExportEncoding::Auto | ExportEncoding::Utf8, None) => {
            if looks_like_utf16(bytes).is_some() {
                return Err(wrong(
                    "the export looks like UTF-16 without a byte order mark; set the map's \
                     encoding to utf-16",
                ));
            }
            utf8(bytes)
        }
        (ExportEncoding::Utf16, None) => utf16(bytes, looks_like_utf16(bytes).unwrap_or(true)),
        (ExportEncoding::Windows1252, None) => windows_1252(bytes),
        (_, Some(mark)) => Err(wrong(&format!(
            "the export begins with the byte order mark of {}, but the map says {}; set the \
             map's encoding to auto",
            mark.name(),
            name(encoding)
        ))),
    }
}

fn wrong(detail: &str) -> ExportRefusal {
    ExportRefusal::WrongEncoding {
        detail: detail.to_owned(),
    }
}

const fn name(encoding: ExportEncoding) -> &'static str {
    match encoding {
        ExportEncoding::Auto => "auto",
        ExportEncoding::Utf8 => "utf-8",
        ExportEncoding::Utf16 => "utf-16",
        ExportEncoding::Windows1252 => "windows-1252",
    }
}

#[derive(Clone, Copy)]
enum Mark<'a> {
    Utf8(&'a [u8]),
    Utf16Little(&'a [u8]),
    Utf16Big(&'a [u8]),
}

impl<'a> Mark<'a> {
    fn of(bytes: &'a [u8]) -> Option<Self> {
        None.or_else(|| bytes.strip_prefix(b"\xEF\xBB\xBF").map(Self::Utf8))
            .or_else(|| bytes.strip_prefix(b"\xFF\xFE").map(Self::Utf16Little))
            .or_else(|| bytes.strip_prefix(b"\xFE\xFF").map(Self::Utf16Big))
    }

    const fn name(self) -> &'static str {
        match self {
            Self::Utf8(_) => "UTF-8",
            Self::Utf16Little(_) | Self::Utf16Big(_) => "UTF-16",
        }
    }
}

/// Whether every second of the first bytes is zero: little-endian where the odd ones are.
fn looks_like_utf16(bytes: &[u8]) -> Option<bool> {
    const LOOKED_AT: usize = 256;
    let (mut pairs, mut little, mut big) = (0_u32, 0_u32, 0_u32);
    for pair in bytes.chunks_exact(2).take(LOOKED_AT) {
        pairs += 1;
        match pair {
            [0, 0] => {}
            [0, _] => big += 1,
            [_, 0] => little += 1,
            _ => {}
        }
    }
    let most = |count: u32| pairs > 0 && count * 10 >= pairs * 7;
    if most(little) {
        Some(true)
    } else if most(big) {
        Some(false)
    } else {
        None
    }
}

fn utf8(bytes: &[u8]) -> Result<(Cow<'_, str>, &'static str), ExportRefusal> {
    match std::str::from_utf8(bytes) {
        Ok(text) => Ok((Cow::Borrowed(text), "utf-8")),
        Err(error) if error.error_len().is_none() => Err(wrong(
            "the export ends in the middle of a character: it was cut off; upload it whole",
        )),
        Err(error) => Err(wrong(&format!(
            "byte {} is not UTF-8; save the export as UTF-8, or set the map's encoding to \
             windows-1252 where the reader writes that",
            error.valid_up_to().saturating_add(1)
        ))),
    }
}

fn utf16(bytes: &[u8], little: bool) -> Result<(Cow<'_, str>, &'static str), ExportRefusal> {
    if bytes.len() % 2 == 1 {
        return Err(wrong(
            "the export has an odd number of bytes, so it is not whole UTF-16; upload it again, \
             or correct the map's encoding",
        ));
    }
    let (encoding, name) = if little {
        (UTF_16LE, "utf-16le")
    } else {
        (UTF_16BE, "utf-16be")
    };
    encoding
        .decode_without_bom_handling_and_without_replacement(bytes)
        .map(|text| (text, name))
        .ok_or_else(|| wrong("the export is not UTF-16; correct the map's encoding"))
}

fn windows_1252(bytes: &[u8]) -> Result<(Cow<'_, str>, &'static str), ExportRefusal> {
    let unassigned = |byte: &u8| matches!(byte, 0x81 | 0x8D | 0x8F | 0x90 | 0x9D);
    if let Some(at) = bytes.iter().position(unassigned) {
        return Err(wrong(&format!(
            "byte {} stands for no character of windows-1252; correct the map's encoding",
            at.saturating_add(1)
        )));
    }
    let (text, _) = WINDOWS_1252.decode_without_bom_handling(bytes);
    Ok((text, "windows-1252"))
}
