//! Checks of single members of a column map.
//!
//! Promises a fault at the member's JSON pointer for a blank name, a word that stands twice, or a
//! mark that could be a part of a number.

use std::collections::BTreeSet;

use super::{FieldSource, TimeSource, ValueWords};
use crate::faults::Faults;
use crate::imports::fold;

pub(super) fn check_words(words: &ValueWords, faults: &mut Faults) {
    let mut seen = BTreeSet::new();
    for (at, word) in words.not_detected.iter().enumerate() {
        check_word(
            &format!("/words/not_detected/{at}"),
            word,
            &mut seen,
            faults,
        );
    }
    for word in words.invalid.keys() {
        check_word(
            &format!("/words/invalid/{}", escape(word)),
            word,
            &mut seen,
            faults,
        );
    }
    check_disjoint(
        ("/words/below", &words.below),
        ("/words/above", &words.above),
        faults,
    );
    for (pointer, marks) in [
        ("/words/below", &words.below),
        ("/words/above", &words.above),
    ] {
        for (at, mark) in marks.iter().enumerate() {
            let holds_number = mark.contains(|c: char| c.is_ascii_digit() || "-.,".contains(c));
            faults.require(!holds_number, format!("{pointer}/{at}"), || {
                "a mark before a number must hold no digit, point, comma or minus".into()
            });
        }
    }
}

/// No word is blank, and none stands in both lists.
pub(super) fn check_disjoint(
    one: (&str, &[String]),
    other: (&str, &[String]),
    faults: &mut Faults,
) {
    let mut seen = BTreeSet::new();
    for (pointer, words) in [one, other] {
        for (at, word) in words.iter().enumerate() {
            check_word(&format!("{pointer}/{at}"), word, &mut seen, faults);
        }
    }
}

fn check_word(pointer: &str, word: &str, seen: &mut BTreeSet<String>, faults: &mut Faults) {
    let new = !word.trim().is_empty() && seen.insert(fold(word));
    faults.require(new, pointer, || {
        format!("\"{word}\" is blank, or stands twice")
    });
}

pub(super) fn check_name(pointer: &str, name: &str, faults: &mut Faults) {
    faults.require(!name.trim().is_empty(), pointer, || {
        "give the column's name as the header row has it".into()
    });
}

/// The columns of a strip's signals: named, and not one for both lines.
pub(super) fn check_signals(
    pointer: &str,
    test_line: Option<&str>,
    control_line: Option<&str>,
    faults: &mut Faults,
) {
    let control_pointer = format!("{pointer}/control_line_signal");
    if let Some(name) = test_line {
        check_name(&format!("{pointer}/test_line_signal"), name, faults);
    }
    if let Some(name) = control_line {
        check_name(&control_pointer, name, faults);
    }
    if let (Some(one), Some(other)) = (test_line, control_line) {
        faults.require(fold(one) != fold(other), control_pointer, || {
            "the signals of test and control line need columns of their own".into()
        });
    }
}

pub(super) fn check_source(pointer: &str, source: Option<&FieldSource>, faults: &mut Faults) {
    match source {
        None => {}
        Some(FieldSource::Column(name)) => check_name(&format!("{pointer}/column"), name, faults),
        Some(FieldSource::Fixed(text)) => {
            let plain = !text.trim().is_empty() && !text.contains(char::is_control);
            faults.require(plain, format!("{pointer}/fixed"), || {
                "give the text that holds for every row".into()
            });
        }
    }
}

pub(super) fn check_time(pointer: &str, source: Option<&TimeSource>, faults: &mut Faults) {
    match source {
        None => {}
        Some(TimeSource::Column(name)) => check_name(&format!("{pointer}/column"), name, faults),
        Some(TimeSource::DateAndTime(pair)) => {
            check_name(&format!("{pointer}/date_and_time/date"), &pair.date, faults);
            check_name(&format!("{pointer}/date_and_time/time"), &pair.time, faults);
        }
    }
}

/// A member's name as a JSON pointer writes it (RFC 6901, section 3).
pub(super) fn escape(name: &str) -> String {
    name.replace('~', "~0").replace('/', "~1")
}
