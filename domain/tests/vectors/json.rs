//! Canonical JSON: pairs, numbers, and inputs to refuse.

use crate::{File, Tally, list, text};
use domain::ledger::{Hash, canonical, strict_json};
use serde_json::{Number, Value};

pub(crate) fn run(file: &File<'_>, tally: &mut Tally) {
    for section in ["published_pairs", "own_pairs"] {
        for case in list(&file.json, section) {
            tally.case(section, text(case, "name").unwrap_or(""), || {
                let expected = text(case, "canonical")?;
                let value = strict_json::read(text(case, "input")?.as_bytes()).ok()?;
                let made = canonical::to_bytes(&value).ok()?;
                let digest = text(case, "canonical_sha256")
                    .is_none_or(|digest| Hash::of(&made).to_string() == digest);
                Some(made == expected.as_bytes() && digest && canonical::is_canonical(&made))
            });
        }
    }
    for case in list(&file.json, "numbers") {
        let bits = text(case, "ieee754").unwrap_or("");
        tally.case("numbers", bits, || Some(writes(bits, text(case, "json")?)));
    }
    for case in list(&file.json, "numbers_refused") {
        let bits = text(case, "ieee754").unwrap_or("");
        tally.case("numbers_refused", bits, || Some(number(bits).is_none()));
    }
    for case in list(&file.json, "refuse") {
        tally.case("refuse", text(case, "name").unwrap_or(""), || {
            Some(strict_json::read(text(case, "input")?.as_bytes()).is_err())
        });
    }
}

pub(crate) fn run_numbers(lines: &str, tally: &mut Tally) {
    for line in lines.lines() {
        tally.case("numbers", line, || {
            let (bits, expected) = line.split_once(',')?;
            Some(writes(bits, expected))
        });
    }
}

/// Whether a number is written as expected, and read back from that as the same number.
fn writes(bits: &str, expected: &str) -> bool {
    let made = number(bits).map(Value::Number);
    let made = made.and_then(|value| canonical::to_bytes(&value).ok());
    made.as_deref() == Some(expected.as_bytes()) && canonical::is_canonical(expected.as_bytes())
}

#[expect(
    clippy::disallowed_types,
    reason = "the vectors are bit patterns of this type"
)]
fn number(bits: &str) -> Option<Number> {
    Number::from_f64(f64::from_bits(u64::from_str_radix(bits, 16).ok()?))
}
