//! Computes every derived record again, on every core.
//!
//! Promises findings in the order of the entries, whichever core found them; what was read is
//! kept for the records that follow, up to a bound.

use super::{
    spool::{Index, read},
    working::cores,
};
use domain::{
    assessment::{
        Again, Derived, Goods, RecordedContent, RecordedVersion, ReleasedResult, StandingHolds,
        Versions,
    },
    commodities::VocabularyError,
    holds::Hold,
    id::ResultId,
    ledger::archive::{Check, Finding},
    time::Moment,
    versions::SubjectVersion,
};
use std::{
    cell::RefCell,
    collections::HashMap,
    fs::File,
    sync::{
        Arc, Mutex, PoisonError,
        atomic::{AtomicUsize, Ordering},
    },
    thread,
};
use uuid::Uuid;

/// How many derived records a core takes at once, and how many versions it remembers.
const AT_ONCE: usize = 256;
const REMEMBERED: usize = 50_000;

/// What computing again came to.
#[derive(Debug, Default)]
pub(super) struct Recomputed {
    pub(super) same: u64,
    pub(super) entered: u64,
    /// With the place among the derived records, to bring them in order.
    found: Vec<(usize, Finding)>,
    passing: Vec<(usize, Passing)>,
}

/// What bears on releases, in the order of the entries.
#[derive(Debug)]
enum Passing {
    Hold(Uuid, Box<Hold>),
    Release(ReleasedResult),
}

impl Recomputed {
    pub(super) fn findings(mut self) -> impl Iterator<Item = Finding> {
        self.found.sort_by_key(|(place, _)| *place);
        self.found.into_iter().map(|(_, finding)| finding)
    }
}

/// Computes the derived records of an index again.
pub(super) fn recompute(index: &Index, file: &File) -> Result<Recomputed, VocabularyError> {
    let goods = Goods::shipped()?;
    let (next, whole) = (AtomicUsize::new(0), Mutex::new(Recomputed::default()));
    thread::scope(|scope| {
        for _ in 0..cores() {
            scope.spawn(|| {
                let done = work(index, file, &goods, &next);
                let mut whole = whole.lock().unwrap_or_else(PoisonError::into_inner);
                whole.same = whole.same.saturating_add(done.same);
                whole.entered = whole.entered.saturating_add(done.entered);
                whole.found.extend(done.found);
                whole.passing.extend(done.passing);
            });
        }
    });
    let mut whole = whole.into_inner().unwrap_or_else(PoisonError::into_inner);
    releases(index, &mut whole);
    Ok(whole)
}

/// Looks for releases while a hold stood in their way.
fn releases(index: &Index, whole: &mut Recomputed) {
    let mut passing = std::mem::take(&mut whole.passing);
    passing.sort_by_key(|(place, _)| *place);
    let mut standing = StandingHolds::default();
    for (place, one) in passing {
        match one {
            Passing::Hold(id, hold) => standing.hold(id, *hold),
            Passing::Release(release) => {
                if let (Err(problem), Some(version)) =
                    (standing.release(&release), index.derived.get(place))
                {
                    whole
                        .found
                        .push((place, finding(index, *version, &problem)));
                }
            }
        }
    }
}

fn finding(index: &Index, named: SubjectVersion, problem: &str) -> Finding {
    let entry = index.place(named).map_or(0, |place| place.entry);
    let SubjectVersion { subject, version } = named;
    let text = format!("entry {entry}, subject {subject}, version {version}: {problem}");
    Finding::new(Check::Derived, text)
}

fn work(index: &Index, file: &File, goods: &Goods, next: &AtomicUsize) -> Recomputed {
    let mut done = Recomputed::default();
    let known = Known {
        index,
        file,
        read: RefCell::default(),
    };
    loop {
        let from = next.fetch_add(AT_ONCE, Ordering::Relaxed);
        let to = from.saturating_add(AT_ONCE).min(index.derived.len());
        let Some(chunk) = index
            .derived
            .get(from..to)
            .filter(|chunk| !chunk.is_empty())
        else {
            return done;
        };
        for (version, place) in chunk.iter().zip(from..) {
            match known.again(*version, goods) {
                Ok(Again::Same) => done.same = done.same.saturating_add(1),
                Ok(Again::Entered) => done.entered = done.entered.saturating_add(1),
                Err(problem) => {
                    let finding = finding(index, *version, &problem);
                    done.found.push((place, finding));
                }
            }
            done.passing
                .extend(known.passing(*version).map(|one| (place, one)));
        }
    }
}

/// Versions read from the file, and remembered.
struct Known<'a> {
    index: &'a Index,
    file: &'a File,
    read: RefCell<HashMap<(Uuid, u32), Arc<RecordedVersion>>>,
}

impl Known<'_> {
    fn find(&self, named: SubjectVersion) -> Result<Arc<RecordedVersion>, String> {
        let key = (named.subject, named.version);
        if let Some(known) = self.read.borrow().get(&key) {
            return Ok(Arc::clone(known));
        }
        let place = self.index.place(named).ok_or("it is not here")?;
        let found = Arc::new(read(self.file, place, named)?);
        let mut remembered = self.read.borrow_mut();
        if remembered.len() >= REMEMBERED {
            remembered.clear();
        }
        remembered.insert(key, Arc::clone(&found));
        Ok(found)
    }

    fn again(&self, version: SubjectVersion, goods: &Goods) -> Result<Again, String> {
        let place = self.index.place(version).ok_or("it is not here")?;
        let found = self.find(version)?;
        let derived = Derived {
            version: &found,
            time: place.time,
        };
        derived.again(goods, self)
    }

    /// What of a derived record bears on releases.
    fn passing(&self, named: SubjectVersion) -> Option<Passing> {
        let this = self.find(named).ok()?;
        if let RecordedContent::Hold(hold) = &this.content {
            return Some(Passing::Hold(named.subject, Box::new(hold.clone())));
        }
        let RecordedContent::Result(result) = &this.content else {
            return None;
        };
        let before = SubjectVersion {
            version: named.version.checked_sub(1)?,
            ..named
        };
        let before = self.find(before).ok();
        let before = before.as_deref().and_then(|before| {
            if let RecordedContent::Result(result) = &before.content {
                Some(result)
            } else {
                None
            }
        });
        let release = ReleasedResult::of(ResultId(named.subject), result, before)?;
        Some(Passing::Release(release))
    }
}

impl Versions for Known<'_> {
    fn version(&self, named: SubjectVersion) -> Option<Arc<RecordedVersion>> {
        self.find(named).ok()
    }

    fn begun(&self, subject: Uuid) -> Option<Moment> {
        let first = SubjectVersion {
            subject,
            version: 1,
        };
        self.index.place(first).map(|place| place.time)
    }
}
