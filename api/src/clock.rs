//! The only place that asks the system for the time.
//!
//! Promises microseconds, so that a time is the same in the database and in a record.

use domain::time::Moment;

/// Where the service takes the time from; tests may hold it still or set it back.
#[derive(Debug, Clone, Copy, Default)]
pub struct Clock {
    offset_seconds: i64,
}

impl Clock {
    /// A clock that runs `offset_seconds` ahead of the system's (behind, where negative).
    #[must_use]
    pub const fn shifted(offset_seconds: i64) -> Self {
        Self { offset_seconds }
    }

    /// The time now.
    #[must_use]
    #[expect(
        clippy::disallowed_methods,
        reason = "this is the one place that may ask for the time"
    )]
    pub fn now(self) -> Moment {
        let now = chrono::Utc::now();
        Moment::new(
            now.checked_add_signed(chrono::TimeDelta::seconds(self.offset_seconds))
                .unwrap_or(now),
        )
    }
}
