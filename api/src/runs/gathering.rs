//! Readings that wait to be recorded together, laboratory by laboratory.
//!
//! Promises that somebody records what waits for as long as anything does, and that no two of a
//! group have one sample or one key. Whoever waits when a turn is lost is told nothing, and so
//! records alone.

use super::record::NewRun;
use crate::db::{Answered, Asking};
use std::{
    collections::{HashMap, HashSet, VecDeque},
    sync::{Mutex, PoisonError},
};
use tokio::sync::oneshot;
use uuid::Uuid;

/// Most readings in one transaction: a caller waits for all of them.
const MOST_TOGETHER: usize = 32;

/// How many transactions of one laboratory go on at once: while one waits for the disk, another
/// computes.
const GROUPS_AT_ONCE: usize = 2;

/// Readings that wait to be recorded, by laboratory.
#[derive(Default)]
pub struct Gathering(Mutex<HashMap<i32, Waiting>>);

#[derive(Default)]
struct Waiting {
    readings: VecDeque<WaitingReading>,
    groups: usize,
}

/// A reading that waits, and whom to tell: nothing is told where it has to be recorded alone.
pub(super) struct WaitingReading {
    pub(super) asking: Asking,
    pub(super) sample: Uuid,
    pub(super) run: NewRun,
    pub(super) tell: oneshot::Sender<Answered>,
}

impl Gathering {
    /// Adds a reading; true where somebody has to take a turn.
    pub(super) fn add(&self, laboratory: i32, reading: WaitingReading) -> bool {
        self.with(laboratory, |waiting| {
            waiting.readings.push_back(reading);
            let begins = waiting.groups < GROUPS_AT_ONCE;
            if begins {
                waiting.groups = waiting.groups.saturating_add(1);
            }
            begins
        })
    }

    fn with<T>(&self, laboratory: i32, work: impl FnOnce(&mut Waiting) -> T) -> T {
        let mut all = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        work(all.entry(laboratory).or_default())
    }
}

impl Waiting {
    /// Those that wait longest, each of another sample and with another key.
    fn taken(&mut self) -> Vec<WaitingReading> {
        let (mut samples, mut keys) = (HashSet::new(), HashSet::new());
        let (mut taken, mut left) = (Vec::new(), VecDeque::new());
        for reading in std::mem::take(&mut self.readings) {
            let asking = &reading.asking;
            let key = (asking.permit.caller(), asking.once.key.clone());
            let goes = taken.len() < MOST_TOGETHER
                && !samples.contains(&reading.sample)
                && !keys.contains(&key);
            if goes {
                samples.insert(reading.sample);
                keys.insert(key);
                taken.push(reading);
            } else {
                left.push_back(reading);
            }
        }
        self.readings = left;
        taken
    }
}

/// The right to record what waits in a laboratory: whoever was told so by [`Gathering::add`].
pub(super) struct Turn<'a> {
    gathering: &'a Gathering,
    laboratory: i32,
    has_ended: bool,
}

impl<'a> Turn<'a> {
    /// Takes it.
    pub(super) const fn of(gathering: &'a Gathering, laboratory: i32) -> Self {
        Self {
            gathering,
            laboratory,
            has_ended: false,
        }
    }

    /// What is to be recorded next; none, and the turn has ended, where nothing waits.
    pub(super) fn next_group(&mut self) -> Option<Vec<WaitingReading>> {
        let next = self.gathering.with(self.laboratory, |waiting| {
            if waiting.readings.is_empty() {
                waiting.groups = waiting.groups.saturating_sub(1);
                return None;
            }
            Some(waiting.taken())
        });
        self.has_ended = next.is_none();
        next
    }
}

impl Drop for Turn<'_> {
    fn drop(&mut self) {
        if self.has_ended {
            return;
        }
        let left = self.gathering.with(self.laboratory, |waiting| {
            waiting.groups = waiting.groups.saturating_sub(1);
            std::mem::take(&mut waiting.readings)
        });
        drop(left);
    }
}

#[cfg(test)]
mod tests {
    #![expect(clippy::unwrap_used, reason = "tests may unwrap")]

    use super::*;
    use crate::{
        identity::{LaboratoryKey, Permit},
        ids,
        request::Once,
    };
    use domain::id::LaboratoryId;
    use serde_json::json;

    fn reading(sample: u128, key: &str) -> (WaitingReading, oneshot::Receiver<Answered>) {
        let (tell, told) = oneshot::channel();
        let laboratory = LaboratoryKey {
            number: 1,
            id: LaboratoryId(Uuid::from_u128(7)),
            slug: "quay".into(),
        };
        let waiting = WaitingReading {
            asking: Asking {
                permit: Permit::process(laboratory, "test", "record-run"),
                once: Once {
                    key: key.into(),
                    method: "POST".into(),
                    path: "/runs".into(),
                },
                fingerprint: [0; 32],
            },
            sample: Uuid::from_u128(sample),
            run: NewRun {
                id: ids::fresh(),
                entry: serde_json::from_value(json!({"port": 1, "readings": []})).unwrap(),
                origins: Vec::new(),
                import_key: None,
                begun: false,
            },
            tell,
        };
        (waiting, told)
    }

    fn keys(group: &[WaitingReading]) -> Vec<(u128, &str)> {
        let each = group.iter();
        each.map(|one| (one.sample.as_u128(), one.asking.once.key.as_str()))
            .collect()
    }

    #[test]
    fn no_two_of_a_group_have_one_sample_or_one_key_and_none_is_left() {
        let gathering = Gathering::default();
        let mut begin = 0;
        for (sample, key) in [(1, "a"), (1, "b"), (2, "a"), (3, "c")] {
            begin += usize::from(gathering.add(1, reading(sample, key).0));
        }
        assert_eq!(begin, GROUPS_AT_ONCE);
        let mut turn = Turn::of(&gathering, 1);
        assert_eq!(keys(&turn.next_group().unwrap()), [(1, "a"), (3, "c")]);
        assert_eq!(keys(&turn.next_group().unwrap()), [(1, "b"), (2, "a")]);
        assert!(turn.next_group().is_none());
        assert!(Turn::of(&gathering, 1).next_group().is_none());
        assert!(gathering.add(1, reading(4, "d").0), "both turns have ended");
    }

    #[test]
    fn whoever_waits_when_a_turn_is_lost_is_told_nothing() {
        let gathering = Gathering::default();
        let (waiting, mut told) = reading(1, "a");
        assert!(gathering.add(1, waiting));
        drop(Turn::of(&gathering, 1));
        assert!(matches!(
            told.try_recv(),
            Err(oneshot::error::TryRecvError::Closed)
        ));
        assert!(
            gathering.add(1, reading(2, "b").0),
            "the turn is free again"
        );
    }
}
