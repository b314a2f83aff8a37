//! Patterns of the times that readers write.
//!
//! Promises that a text fits a pattern wholly or not at all; refuses patterns that leave out a
//! part of the date or the time of day, and texts with anything left over.

use chrono::{DateTime, FixedOffset, NaiveDate, NaiveDateTime, NaiveTime};

/// How a time is written.
///
/// `rfc3339` stands for the whole of that form. Else a pattern is made of these, and of other
/// characters that stand for themselves (a space for one or more of them):
///
/// | | is |
/// |---|---|
/// | `%Y` `%y` | year of four digits; of two, 2000 to 2099 |
/// | `%m` `%b` `%d` | month, month's English name (or its first three letters), day |
/// | `%H` `%I` `%p` | hour 0-23; hour 1-12 with AM or PM |
/// | `%M` `%S` `%f` | minute, second, fraction of a second (1 to 9 digits) |
/// | `%z` | offset from UTC: `Z`, `+01:00` or `+0100`; the zone of the map is then not used |
/// | `%%` | a percent sign |
///
/// ```
/// use domain::column_maps::TimePattern;
/// let pattern: TimePattern = "%d.%m.%Y %H:%M".parse()?;
/// assert!(pattern.read("7.3.2026 14:05").is_some());
/// assert!(pattern.read("2026-03-07 14:05").is_none());
/// assert!("%d.%m. %H:%M".parse::<TimePattern>().is_err(), "which year?");
/// # Ok::<(), domain::column_maps::TimePatternError>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TimePattern(Form);

#[derive(Debug, Clone, PartialEq, Eq)]
enum Form {
    Rfc3339,
    Items(Vec<Item>),
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Item {
    Year4,
    Year2,
    Month,
    MonthName,
    Day,
    Hour24,
    Hour12,
    HalfDay,
    Minute,
    Second,
    Fraction,
    Offset,
    Space,
    Literal(char),
}

/// Why a text is no pattern.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum TimePatternError {
    /// A letter that stands for nothing.
    #[error("\"%{0}\" stands for nothing here; use %Y %y %m %b %d %H %I %p %M %S %f %z %%")]
    UnknownLetter(char),
    /// The pattern ends in a percent sign.
    #[error("the pattern ends in a single \"%\"; write \"%%\" for a percent sign")]
    LonePercent,
    /// The same part twice.
    #[error("the pattern has the {0} twice")]
    Twice(&'static str),
    /// A part is left out.
    #[error("the pattern has no {0}, so that a time cannot be told")]
    Lacks(&'static str),
}

/// A time as the text has it: local, or with its own offset.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ReadText {
    /// Without an offset: it needs the zone of its source.
    Local(NaiveDateTime),
    /// With one.
    WithOffset(DateTime<FixedOffset>),
}

impl std::str::FromStr for TimePattern {
    type Err = TimePatternError;
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        if text.trim().eq_ignore_ascii_case("rfc3339") {
            return Ok(Self(Form::Rfc3339));
        }
        let mut items = Vec::new();
        let mut chars = text.trim().chars();
        while let Some(c) = chars.next() {
            let item = match c {
                '%' => letter(chars.next().ok_or(TimePatternError::LonePercent)?)?,
                c if c.is_whitespace() => Item::Space,
                c => Item::Literal(c),
            };
            if !(item == Item::Space && items.last() == Some(&Item::Space)) {
                items.push(item);
            }
        }
        whole(&items)?;
        Ok(Self(Form::Items(items)))
    }
}

fn letter(c: char) -> Result<Item, TimePatternError> {
    Ok(match c {
        'Y' => Item::Year4,
        'y' => Item::Year2,
        'm' => Item::Month,
        'b' => Item::MonthName,
        'd' => Item::Day,
        'H' => Item::Hour24,
        'I' => Item::Hour12,
        'p' => Item::HalfDay,
        'M' => Item::Minute,
        'S' => Item::Second,
        'f' => Item::Fraction,
        'z' => Item::Offset,
        '%' => Item::Literal('%'),
        c => return Err(TimePatternError::UnknownLetter(c)),
    })
}

/// Each part of a time once, and none missing.
fn whole(items: &[Item]) -> Result<(), TimePatternError> {
    let count = |of: &[Item]| items.iter().filter(|item| of.contains(item)).count();
    let needed: [(&'static str, &[Item]); 5] = [
        ("year", &[Item::Year4, Item::Year2]),
        ("month", &[Item::Month, Item::MonthName]),
        ("day", &[Item::Day]),
        ("hour", &[Item::Hour24, Item::Hour12]),
        ("minute", &[Item::Minute]),
    ];
    for (name, of) in needed {
        match count(of) {
            0 => return Err(TimePatternError::Lacks(name)),
            1 => {}
            _ => return Err(TimePatternError::Twice(name)),
        }
    }
    let at_most_once: [(&'static str, &[Item]); 4] = [
        ("second", &[Item::Second]),
        ("fraction", &[Item::Fraction]),
        ("offset", &[Item::Offset]),
        ("half of the day", &[Item::HalfDay]),
    ];
    for (name, of) in at_most_once {
        if count(of) > 1 {
            return Err(TimePatternError::Twice(name));
        }
    }
    if count(&[Item::Hour12]) != count(&[Item::HalfDay]) {
        return Err(TimePatternError::Lacks("pair of %I and %p"));
    }
    if count(&[Item::Fraction]) > count(&[Item::Second]) {
        return Err(TimePatternError::Lacks("second before its fraction"));
    }
    Ok(())
}

#[derive(Default)]
struct Parts {
    year: u32,
    month: u32,
    day: u32,
    hour: u32,
    afternoon: Option<bool>,
    minute: u32,
    second: u32,
    nanosecond: u32,
    offset: Option<FixedOffset>,
}

impl TimePattern {
    /// Whether the seconds are written too, so that a bench time can be compared with it.
    #[must_use]
    pub fn has_seconds(&self) -> bool {
        match &self.0 {
            Form::Rfc3339 => true,
            Form::Items(items) => items.contains(&Item::Second),
        }
    }

    /// The time that the whole text is, or nothing.
    #[must_use]
    pub fn read(&self, text: &str) -> Option<ReadText> {
        match &self.0 {
            Form::Rfc3339 => DateTime::parse_from_rfc3339(text)
                .ok()
                .map(ReadText::WithOffset),
            Form::Items(items) => read_items(items, text),
        }
    }
}

fn read_items(items: &[Item], text: &str) -> Option<ReadText> {
    let mut parts = Parts::default();
    let mut rest = text;
    for &item in items {
        rest = read_item(item, rest, &mut parts)?;
    }
    if !rest.is_empty() {
        return None;
    }
    let hour = match parts.afternoon {
        None => parts.hour,
        Some(_) if !(1..=12).contains(&parts.hour) => return None,
        Some(afternoon) => parts.hour % 12 + if afternoon { 12 } else { 0 },
    };
    let year = i32::try_from(parts.year).ok()?;
    let date = NaiveDate::from_ymd_opt(year, parts.month, parts.day)?;
    let time = NaiveTime::from_hms_nano_opt(hour, parts.minute, parts.second, parts.nanosecond)?;
    let local = date.and_time(time);
    match parts.offset {
        None => Some(ReadText::Local(local)),
        Some(offset) => local
            .and_local_timezone(offset)
            .single()
            .map(ReadText::WithOffset),
    }
}

fn read_item<'a>(item: Item, rest: &'a str, parts: &mut Parts) -> Option<&'a str> {
    let mut two = |rest: &'a str, part: fn(&mut Parts) -> &mut u32| {
        let (value, rest) = digits(rest, 1, 2)?;
        *part(parts) = value;
        Some(rest)
    };
    match item {
        Item::Month => two(rest, |parts| &mut parts.month),
        Item::Day => two(rest, |parts| &mut parts.day),
        Item::Hour24 | Item::Hour12 => two(rest, |parts| &mut parts.hour),
        Item::Year4 => {
            let (year, rest) = digits(rest, 4, 4)?;
            parts.year = year;
            Some(rest)
        }
        Item::Year2 => {
            let (year, rest) = digits(rest, 2, 2)?;
            parts.year = year + 2000;
            Some(rest)
        }
        Item::Minute => {
            let (minute, rest) = digits(rest, 2, 2)?;
            parts.minute = minute;
            Some(rest)
        }
        Item::Second => {
            let (second, rest) = digits(rest, 2, 2)?;
            parts.second = second;
            Some(rest)
        }
        Item::Fraction => {
            let (value, left) = digits(rest, 1, 9)?;
            let written = u32::try_from(rest.len() - left.len()).ok()?;
            parts.nanosecond = value.checked_mul(10_u32.pow(9_u32.checked_sub(written)?))?;
            Some(left)
        }
        Item::MonthName => month_name(rest, parts),
        Item::HalfDay => half_day(rest, parts),
        Item::Offset => offset(rest, parts),
        Item::Space => {
            let left = rest.trim_start_matches(|c: char| c.is_whitespace() && !c.is_control());
            (left.len() < rest.len()).then_some(left)
        }
        Item::Literal(c) => rest.strip_prefix(c),
    }
}

/// A number of so many digits at least and at most, taken greedily.
fn digits(text: &str, least: usize, most: usize) -> Option<(u32, &str)> {
    let count = text
        .bytes()
        .take(most)
        .take_while(u8::is_ascii_digit)
        .count();
    let (number, rest) = text.split_at_checked(count)?;
    if count < least {
        return None;
    }
    Some((number.parse().ok()?, rest))
}

fn month_name<'a>(rest: &'a str, parts: &mut Parts) -> Option<&'a str> {
    const MONTHS: [&str; 12] = [
        "january",
        "february",
        "march",
        "april",
        "may",
        "june",
        "july",
        "august",
        "september",
        "october",
        "november",
        "december",
    ];
    let count = rest.bytes().take_while(u8::is_ascii_alphabetic).count();
    let (name, left) = rest.split_at_checked(count)?;
    let name = name.to_ascii_lowercase();
    let place = MONTHS.iter().position(|&month| {
        month == name || (name.len() == 3 && month.starts_with(name.as_str()))
    })?;
    parts.month = u32::try_from(place).ok()?.checked_add(1)?;
    Some(left)
}

fn half_day<'a>(rest: &'a str, parts: &mut Parts) -> Option<&'a str> {
    for (word, afternoon) in [("a.m.", false), ("p.m.", true), ("am", false), ("pm", true)] {
        if let Some((head, left)) = rest.split_at_checked(word.len())
            && head.eq_ignore_ascii_case(word)
        {
            parts.afternoon = Some(afternoon);
            return Some(left);
        }
    }
    None
}

fn offset<'a>(rest: &'a str, parts: &mut Parts) -> Option<&'a str> {
    if let Some(left) = rest.strip_prefix(['Z', 'z']) {
        parts.offset = FixedOffset::east_opt(0);
        return Some(left);
    }
    let (sign, rest) = match rest.strip_prefix('+') {
        Some(left) => (1, left),
        None => (-1, rest.strip_prefix('-')?),
    };
    let (hours, rest) = digits(rest, 2, 2)?;
    let (minutes, rest) = digits(rest.strip_prefix(':').unwrap_or(rest), 2, 2)?;
    if hours > 23 || minutes > 59 {
        return None;
    }
    let seconds = i32::try_from(hours * 3600 + minutes * 60).ok()?;
    parts.offset = Some(FixedOffset::east_opt(sign * seconds)?);
    Some(rest)
}

#[cfg(test)]
mod tests {
    #![expect(clippy::unwrap_used, reason = "tests may unwrap")]
    use super::*;

    fn local(pattern: &str, text: &str) -> Option<String> {
        match pattern.parse::<TimePattern>().unwrap().read(text)? {
            ReadText::Local(time) => Some(time.to_string()),
            ReadText::WithOffset(time) => Some(time.to_rfc3339()),
        }
    }

    #[test]
    fn texts_are_read_wholly_or_not_at_all() {
        for (pattern, text, want) in [
            (
                "%d.%m.%Y %H:%M:%S",
                "07.03.2026 14:05:09",
                Some("2026-03-07 14:05:09"),
            ),
            (
                "%m/%d/%y %I:%M %p",
                "3/7/26 12:05 AM",
                Some("2026-03-07 00:05:00"),
            ),
            (
                "%m/%d/%y %I:%M %p",
                "3/7/26 12:05 pm",
                Some("2026-03-07 12:05:00"),
            ),
            ("%m/%d/%y %I:%M %p", "3/7/26 13:05 pm", None),
            (
                "%d-%b-%Y %H:%M",
                "7-Mar-2026 14:05",
                Some("2026-03-07 14:05:00"),
            ),
            (
                "%d %b %Y %H:%M",
                "7  march 2026 14:05",
                Some("2026-03-07 14:05:00"),
            ),
            (
                "%Y%m%dT%H%M%S",
                "20260307T140509",
                Some("2026-03-07 14:05:09"),
            ),
            (
                "%Y-%m-%d %H:%M:%S,%f",
                "2026-03-07 14:05:09,25",
                Some("2026-03-07 14:05:09.250"),
            ),
            (
                "%Y-%m-%dT%H:%M:%S%z",
                "2026-03-07T14:05:09+0100",
                Some("2026-03-07T14:05:09+01:00"),
            ),
            ("%Y-%m-%d %H:%M", "2026-02-29 14:05", None),
            ("%Y-%m-%d %H:%M", "2026-03-07 24:00", None),
            ("%Y-%m-%d %H:%M", "2026-03-07 14:05:09", None),
            ("%Y-%m-%d %H:%M", "26-03-07 14:05", None),
        ] {
            assert_eq!(local(pattern, text).as_deref(), want, "{pattern} {text}");
        }
    }

    #[test]
    fn a_pattern_that_cannot_tell_a_time_is_refused() {
        for pattern in [
            "",
            "%d.%m.%Y",
            "%d.%m.%Y %I:%M",
            "%Y-%m-%d %H:%M %",
            "%Y-%m-%d %H:%M:%q",
            "%Y-%m-%d %d %H:%M",
            "%Y-%m-%d %H:%M.%f",
        ] {
            assert!(pattern.parse::<TimePattern>().is_err(), "{pattern}");
        }
    }
}
