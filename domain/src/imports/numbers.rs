//! Numbers and values as readers write them.
//!
//! Promises the decimal exactly as written, its places kept. Refuses exponents, signs, marks the
//! map does not name, groups that are not of three digits, and what the decimal type cannot hold.

use std::borrow::Cow;

use rust_decimal::Decimal;

use super::units::MassUnit;
use super::{FaultCode, fold};
use crate::column_maps::{ColumnMap, DecimalMark, ThousandsMark};
use crate::quantity::{Concentration, QuantityError, parse_decimal};
use crate::runs::InvalidReason;

/// The whole of the sample, in µg/kg: no mass fraction is more.
const WHOLE_SAMPLE_UG_PER_KG: i64 = 1_000_000_000;

/// What a value's text says, before its unit is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum ExportedValue {
    Number(Decimal),
    Below(Decimal),
    Above(Decimal),
    NotDetected,
    Invalid(InvalidReason),
}

/// What is wrong with a text, and what to do.
pub(super) type Wrong = (FaultCode, String);

/// Reads an unsigned decimal.
pub(super) fn decimal(text: &str, map: &ColumnMap) -> Result<Decimal, Wrong> {
    let text = text.trim();
    let (mark, mark_name) = match map.decimal_mark {
        DecimalMark::Point => ('.', "point"),
        DecimalMark::Comma => (',', "comma"),
    };
    let not_a_number = || {
        (
            FaultCode::NotANumber,
            format!(
                "is no number with a decimal {mark_name}; give digits such as 12{mark}5, or add \
                 the word to the map"
            ),
        )
    };
    if let Some(rest) = text.strip_prefix(['-', '\u{2212}']) {
        decimal(rest, map)?;
        return Err((
            FaultCode::Negative,
            "is negative; a quantity of this kind cannot be: look at the reader".into(),
        ));
    }
    let (whole, fraction) = match text.split_once(mark) {
        Some((whole, fraction)) => (whole, Some(fraction)),
        None => (text, None),
    };
    let whole = ungrouped(whole, map.thousands_mark).ok_or_else(not_a_number)?;
    let digits = |part: &str| part.bytes().all(|b| b.is_ascii_digit());
    if !digits(&whole)
        || fraction.is_some_and(|part| part.is_empty() || !digits(part))
        || (whole.is_empty() && fraction.is_none())
    {
        return Err(not_a_number());
    }
    let significant = match whole.trim_start_matches('0') {
        "" => "0",
        significant => significant,
    };
    let plain = match fraction {
        None => Cow::Borrowed(significant),
        Some(fraction) => Cow::Owned(format!("{significant}.{fraction}")),
    };
    parse_decimal(&plain).map_err(|error| match error {
        QuantityError::TooLarge(_) => (FaultCode::TooLarge, too_large()),
        QuantityError::NotADecimal(_)
        | QuantityError::Overflow
        | QuantityError::DivisionByZero
        | QuantityError::UnknownUnit(_)
        | QuantityError::AmbiguousUnit(_) => not_a_number(),
    })
}

fn too_large() -> String {
    "has more digits than can be kept exactly (28); look at what the reader wrote".into()
}

/// The whole part without its thousands marks, or nothing where they stand wrongly.
fn ungrouped(whole: &str, mark: Option<ThousandsMark>) -> Option<Cow<'_, str>> {
    let marks: &[char] = match mark {
        None => return Some(Cow::Borrowed(whole)),
        Some(ThousandsMark::Point) => &['.'],
        Some(ThousandsMark::Comma) => &[','],
        Some(ThousandsMark::Space) => &[' ', '\u{a0}', '\u{202f}', '\u{2009}'],
        Some(ThousandsMark::Apostrophe) => &['\'', '\u{2019}'],
    };
    if !whole.contains(marks) {
        return Some(Cow::Borrowed(whole));
    }
    let mut joined = String::with_capacity(whole.len());
    for (at, group) in whole.split(marks).enumerate() {
        let right = if at == 0 {
            (1..=3).contains(&group.len())
        } else {
            group.len() == 3
        };
        if !right {
            return None;
        }
        joined.push_str(group);
    }
    Some(Cow::Owned(joined))
}

/// Reads a value, before its unit is known.
pub(super) fn value(text: &str, map: &ColumnMap) -> Result<ExportedValue, Wrong> {
    let text = text.trim();
    let begins_as_number = text.starts_with(|c: char| c.is_ascii_digit());
    if begins_as_number {
        return decimal(text, map).map(ExportedValue::Number);
    }
    let folded = fold(text);
    let is = |words: &[String]| words.iter().any(|word| fold(word) == folded);
    let invalid = map
        .words
        .invalid
        .iter()
        .find(|(word, _)| fold(word) == folded);
    if let Some((_, reason)) = invalid {
        return Ok(ExportedValue::Invalid(*reason));
    }
    if is(&map.words.not_detected) {
        return Ok(ExportedValue::NotDetected);
    }
    if let Some(rest) = after_mark(text, &map.words.below) {
        let bound = decimal(rest, map)?;
        if bound.is_zero() {
            return Err((
                FaultCode::Absurd,
                "says that the value is below zero; look at the reader".into(),
            ));
        }
        return Ok(ExportedValue::Below(bound));
    }
    match after_mark(text, &map.words.above) {
        Some(rest) => decimal(rest, map).map(ExportedValue::Above),
        None => decimal(text, map).map(ExportedValue::Number),
    }
}

/// What follows the longest mark that the text begins with.
fn after_mark<'a>(text: &'a str, marks: &[String]) -> Option<&'a str> {
    marks
        .iter()
        .filter_map(|mark| {
            let mark = mark.trim();
            let (head, rest) = text.split_at_checked(mark.len())?;
            (fold(head) == fold(mark)).then_some((mark.len(), rest))
        })
        .max_by_key(|(length, _)| *length)
        .map(|(_, rest)| rest)
}

/// Brings a number to the unit that is kept.
pub(super) fn in_unit(number: Decimal, unit: MassUnit) -> Result<Decimal, Wrong> {
    let converted = if unit.multiplier == Decimal::ONE {
        number
    } else {
        // A product beyond 28 digits would be rounded: it is refused instead.
        number
            .checked_mul(unit.multiplier)
            .filter(|product| product.scale() == number.scale() + unit.multiplier.scale())
            .ok_or_else(|| (FaultCode::TooLarge, too_large()))?
    };
    let concentration = Concentration::new(converted, unit.unit)
        .map_err(|error| (FaultCode::TooLarge, error.to_string()))?;
    if concentration.ug_per_kg() > Decimal::from(WHOLE_SAMPLE_UG_PER_KG) {
        return Err((
            FaultCode::Absurd,
            "is more than the whole sample weighs; look at the reader, and at the unit".into(),
        ));
    }
    Ok(converted)
}
