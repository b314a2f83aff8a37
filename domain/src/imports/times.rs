//! Times as readers write them, brought to UTC.
//!
//! Promises one moment for one text. Refuses texts that fit no format or two with different
//! meanings, and local times that the clock change makes double or leaves out.

use chrono::{LocalResult, NaiveDateTime, TimeZone, Utc};

use super::numbers::Wrong;
use super::{FaultCode, SourceTime};
use crate::column_maps::{CheckedColumnMap, ReadText};
use crate::time::Moment;

/// Longest text of a time, in bytes: its own text is kept beside the moment.
const LONGEST_TIME: usize = 100;

pub(super) fn read(text: &str, map: &CheckedColumnMap) -> Result<SourceTime, Wrong> {
    let text = text.trim();
    let mut found: Option<ReadText> = None;
    for pattern in map.patterns().iter().filter(|_| text.len() <= LONGEST_TIME) {
        let Some(read) = pattern.read(text) else {
            continue;
        };
        if found.is_some_and(|before| before != read) {
            return Err((
                FaultCode::AmbiguousTime,
                "fits two of the map's time formats, which make two times of it; take one of \
                 them out of the map"
                    .into(),
            ));
        }
        found = Some(read);
    }
    match found {
        None => Err((
            FaultCode::UnreadableTime,
            format!(
                "fits none of the map's time formats: {}",
                map.map().time_formats.join(" | ")
            ),
        )),
        Some(ReadText::WithOffset(time)) => Ok(SourceTime {
            at: Moment::new(time.with_timezone(&Utc)),
            written: text.to_owned(),
            zone: time.offset().to_string(),
        }),
        Some(ReadText::Local(local)) => Ok(SourceTime {
            at: resolve(local, map)?,
            written: text.to_owned(),
            zone: map.zone().name().to_owned(),
        }),
    }
}

fn resolve(local: NaiveDateTime, map: &CheckedColumnMap) -> Result<Moment, Wrong> {
    let zone = map.zone().name();
    match map.zone().from_local_datetime(&local) {
        LocalResult::Single(time) => Ok(Moment::new(time.with_timezone(&Utc))),
        LocalResult::Ambiguous(..) => Err((
            FaultCode::AmbiguousTime,
            format!(
                "lies in the hour that {zone} has twice when its clock goes back; export the \
                 time with its offset from UTC, or enter the run by hand"
            ),
        )),
        LocalResult::None => Err((
            FaultCode::NoSuchTime,
            format!(
                "lies in the hour that {zone} leaves out when its clock goes forward; look at \
                 the reader's clock, or enter the run by hand"
            ),
        )),
    }
}
