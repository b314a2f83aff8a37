//! Times as pages show them: in the laboratory's zone with the offset, UTC on hover.

use chrono_tz::Tz;
use domain::time::Moment;

/// A time as HTML, digits and punctuation alone.
///
/// `<time datetime="2026-03-01T08:15:30Z" title="2026-03-01 08:15:30 UTC">2026-03-01 09:15 +01:00</time>`
pub(crate) fn moment(zone: Tz, at: Moment) -> String {
    let utc = at.utc();
    format!(
        "<time datetime=\"{}\" title=\"{} UTC\">{}</time>",
        utc.format("%Y-%m-%dT%H:%M:%SZ"),
        utc.format("%Y-%m-%d %H:%M:%S"),
        utc.with_timezone(&zone).format("%Y-%m-%d %H:%M %:z")
    )
}

/// A number of things in words up to twelve, then in figures, with the right form of the noun:
/// `No run`, `One run`, `Three runs`, `40 runs`.
pub(crate) fn count(number: i64, one: &str, several: &str) -> String {
    const WORDS: [&str; 13] = [
        "No", "One", "Two", "Three", "Four", "Five", "Six", "Seven", "Eight", "Nine", "Ten",
        "Eleven", "Twelve",
    ];
    let word = usize::try_from(number)
        .ok()
        .and_then(|at| WORDS.get(at))
        .map_or_else(|| number.to_string(), |word| (*word).to_owned());
    let noun = if number == 1 { one } else { several };
    format!("{word} {noun}")
}

#[cfg(test)]
mod tests {
    #![expect(clippy::unwrap_used, reason = "tests may unwrap")]
    use super::*;

    #[test]
    fn a_time_stands_in_the_zone_with_its_offset_and_utc_on_hover() {
        // Lisbon keeps UTC+1 in summer (tz database).
        let at = "2026-07-01T08:15:30.5Z".parse().unwrap();
        assert_eq!(
            moment(chrono_tz::Europe::Lisbon, at),
            "<time datetime=\"2026-07-01T08:15:30Z\" title=\"2026-07-01 08:15:30 UTC\">\
             2026-07-01 09:15 +01:00</time>"
        );
    }

    #[test]
    fn small_numbers_are_words() {
        assert_eq!(count(0, "run waits", "runs wait"), "No runs wait");
        assert_eq!(count(1, "run waits", "runs wait"), "One run waits");
        assert_eq!(count(40, "run waits", "runs wait"), "40 runs wait");
    }
}
