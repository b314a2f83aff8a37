//! What a code, a slug, a name, free text and an amount must look like wherever a person or a
//! program enters one.
//!
//! Promises one rule for each, the same in every room. Refuses control characters, text that is
//! not in Unicode's composed form (NFC), blanks at either end and amounts that are not above zero;
//! what it refuses it notes among the [`Faults`], with the pointer of the member.
//!
//! Each room lists its personal data and free text in a constant `DISCLOSED`: JSON pointers into
//! its content, where `*` stands for every element of an array. The ledger keeps digests of them.

use unicode_normalization::is_nfc;

use crate::faults::Faults;
use crate::limits::Jurisdiction;
use crate::quantity::Number;

/// Longest code, in characters.
pub const CODE_LENGTH: usize = 64;
/// Longest name, title or place, in characters.
pub const NAME_LENGTH: usize = 200;
/// Longest free text, in characters.
pub const TEXT_LENGTH: usize = 4000;

/// Notes a fault unless `value` is text of 1 to `longest` characters.
///
/// ```
/// use domain::{entries, faults::Faults};
/// let mut faults = Faults::default();
/// entries::text(&mut faults, "/name", "Gate 2", entries::NAME_LENGTH);
/// assert!(faults.0.is_empty());
/// entries::text(&mut faults, "/name", "Gate\u{7}", entries::NAME_LENGTH);
/// assert_eq!(faults.0.len(), 1, "a control character is refused");
/// ```
pub fn text(faults: &mut Faults, pointer: &str, value: &str, longest: usize) {
    let length = value.chars().count();
    if value.trim().is_empty() {
        faults.add(pointer, "is empty: write it, or leave the member out");
    } else if value.trim() != value {
        faults.add(
            pointer,
            format!("\"{}\" begins or ends with a blank", start(value)),
        );
    } else if length > longest {
        faults.add(
            pointer,
            format!("has {length} characters; {longest} is the most"),
        );
    } else if value.chars().any(char::is_control) {
        faults.add(
            pointer,
            "has a control character (such as a line break or a tab): take it out",
        );
    } else if !is_nfc(value) {
        faults.add(pointer, "is not in Unicode's composed form (NFC)");
    }
}

/// Like [`text`], where the member is there at all.
///
/// ```
/// use domain::{entries, faults::Faults};
/// let mut faults = Faults::default();
/// entries::optional_text(&mut faults, "/seal", None, entries::NAME_LENGTH);
/// assert!(faults.0.is_empty());
/// entries::optional_text(&mut faults, "/seal", Some(" 7"), entries::NAME_LENGTH);
/// assert_eq!(faults.0.len(), 1);
/// ```
pub fn optional_text(faults: &mut Faults, pointer: &str, value: Option<&str>, longest: usize) {
    if let Some(value) = value {
        text(faults, pointer, value, longest);
    }
}

/// Notes a fault unless `value` is a code: text of 1 to 64 characters without blanks.
///
/// ```
/// use domain::{entries, faults::Faults};
/// let mut faults = Faults::default();
/// entries::code(&mut faults, "/code", "L-2026/0417");
/// assert!(faults.0.is_empty());
/// entries::code(&mut faults, "/code", "L 2026");
/// assert_eq!(faults.0.len(), 1);
/// ```
pub fn code(faults: &mut Faults, pointer: &str, value: &str) {
    let before = faults.0.len();
    text(faults, pointer, value, CODE_LENGTH);
    if faults.0.len() == before && value.chars().any(char::is_whitespace) {
        faults.add(
            pointer,
            format!("code \"{}\" has a blank in it", start(value)),
        );
    }
}

/// Notes a fault unless `value` is a slug: words of a-z and 0-9 joined by single hyphens.
///
/// ```
/// use domain::{entries, faults::Faults};
/// let mut faults = Faults::default();
/// entries::slug(&mut faults, "/commodity", "maize-grain");
/// assert!(faults.0.is_empty());
/// entries::slug(&mut faults, "/commodity", "Maize grain");
/// assert_eq!(faults.0.len(), 1);
/// ```
pub fn slug(faults: &mut Faults, pointer: &str, value: &str) {
    let word = |part: &str| {
        !part.is_empty()
            && part
                .bytes()
                .all(|byte| byte.is_ascii_lowercase() || byte.is_ascii_digit())
    };
    if value.len() > CODE_LENGTH || !value.split('-').all(word) {
        let shown = start(value);
        faults.add(
            pointer,
            format!("\"{shown}\" is no word of the vocabulary (as maize-grain)"),
        );
    }
}

/// Notes a fault for each element of `values` that is no slug, or stands there twice.
///
/// ```
/// use domain::{entries, faults::Faults};
/// let mut faults = Faults::default();
/// entries::slugs(&mut faults, "/uses", &["food".into(), "food".into()]);
/// assert_eq!(faults.0[0].pointer, "/uses/1");
/// ```
pub fn slugs(faults: &mut Faults, pointer: &str, values: &[String]) {
    for (position, value) in values.iter().enumerate() {
        slug(faults, &format!("{pointer}/{position}"), value);
    }
    distinct(faults, pointer, values);
}

/// Notes a fault for each that is no [`Jurisdiction`] (`EU`, `US`), and for each that is there
/// twice.
///
/// ```
/// use domain::{entries, faults::Faults};
/// let mut faults = Faults::default();
/// entries::jurisdictions(&mut faults, "/jurisdictions", &["EU".into(), "eu".into()]);
/// assert_eq!(faults.0[0].pointer, "/jurisdictions/1");
/// ```
pub fn jurisdictions(faults: &mut Faults, pointer: &str, values: &[String]) {
    for (position, value) in values.iter().enumerate() {
        let is_one = value.parse::<Jurisdiction>().is_ok();
        faults.require(is_one, format!("{pointer}/{position}"), || {
            format!("\"{}\" is no code of a jurisdiction (as EU)", start(value))
        });
    }
    distinct(faults, pointer, values);
}

/// Notes a fault for each element that equals an earlier one.
///
/// ```
/// use domain::{entries, faults::Faults};
/// let mut faults = Faults::default();
/// entries::distinct(&mut faults, "/barcodes", &["A1", "A2", "A1"]);
/// assert_eq!(faults.0[0].pointer, "/barcodes/2");
/// ```
pub fn distinct<T: PartialEq>(faults: &mut Faults, pointer: &str, values: &[T]) {
    for (position, value) in values.iter().enumerate() {
        if values.iter().take(position).any(|earlier| earlier == value) {
            faults.add(format!("{pointer}/{position}"), "stands in the list twice");
        }
    }
}

/// Notes a fault where an amount is there and is not above zero; `unit` as people write it.
///
/// ```
/// use domain::{entries, faults::Faults};
/// let mut faults = Faults::default();
/// entries::positive(&mut faults, "/mass_kg", "25000".parse().ok(), "kg");
/// assert!(faults.0.is_empty());
/// entries::positive(&mut faults, "/mass_kg", "0".parse().ok(), "kg");
/// assert_eq!(faults.0[0].detail, "0 kg is not above zero");
/// ```
pub fn positive(faults: &mut Faults, pointer: &str, value: Option<Number>, unit: &str) {
    if let Some(value) = value.filter(|value| value.0 <= rust_decimal::Decimal::ZERO) {
        faults.add(pointer, format!("{value} {unit} is not above zero"));
    }
}

/// Notes a fault where an amount is there and lies outside `lowest ..= highest`.
///
/// ```
/// use domain::{entries, faults::Faults};
/// let mut faults = Faults::default();
/// entries::between(&mut faults, "/percent", "101".parse().ok(), 0, 100, "%");
/// assert_eq!(faults.0[0].detail, "101 % lies outside 0 to 100 %");
/// ```
pub fn between(
    faults: &mut Faults,
    pointer: &str,
    value: Option<Number>,
    lowest: i64,
    highest: i64,
    unit: &str,
) {
    if let Some(value) = value.filter(|v| v.0 < lowest.into() || v.0 > highest.into()) {
        let detail = format!("{value} {unit} lies outside {lowest} to {highest} {unit}");
        faults.add(pointer, detail);
    }
}

fn start(value: &str) -> String {
    value.chars().take(60).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_that_is_not_composed_is_refused() {
        let mut faults = Faults::default();
        text(&mut faults, "/name", "Mu\u{308}hle", NAME_LENGTH);
        assert_eq!(faults.0.len(), 1);
        text(&mut faults, "/name", "M\u{fc}hle", NAME_LENGTH);
        assert_eq!(faults.0.len(), 1);
    }

    #[test]
    fn a_slug_has_no_empty_word() {
        for bad in ["", "-", "a--b", "a-", "ü", "a_b"] {
            let mut faults = Faults::default();
            slug(&mut faults, "", bad);
            assert_eq!(faults.0.len(), 1, "{bad}");
        }
    }
}
