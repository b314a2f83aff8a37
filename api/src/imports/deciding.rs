//! What becomes of each run of an export: recorded, joined to one typed at the bench, adding to
//! one that was imported, skipped since it says the same, or refused since it says something else.
//!
//! Promises a decision for every line, from what is known alone; a row is taken whole or not at
//! all, and one bench run is joined once. Writes nothing.

use super::{
    fingerprints::said,
    knowing::{Known, KnownBenchRun, KnownRun},
};
use domain::{
    analytes::Analyte,
    holds::OriginDifference,
    id::RunId,
    imports::{BenchRun, Fingerprint, Join, ReadableRun, RunReading, differences, join},
};
use std::collections::{BTreeMap, HashMap, HashSet};
use uuid::Uuid;

/// A row that says something else than was imported before.
pub(super) struct Conflict<'a> {
    /// Where it stands.
    pub(super) line: u64,
    /// The run that is recorded.
    pub(super) run: RunId,
    /// Of which analyte.
    pub(super) analyte: Analyte,
    /// What it says.
    pub(super) imported: &'a Fingerprint,
    /// The import and line that told it first.
    pub(super) first: (Uuid, u64),
}

/// What becomes of a run, or of some of its rows.
pub(super) enum Decision<'a> {
    /// It is new.
    Record(&'a ReadableRun),
    /// It was typed at the bench.
    Join {
        /// As the export tells it.
        run: &'a ReadableRun,
        /// The run that is there.
        with: RunId,
        /// What both say differently.
        differences: Vec<OriginDifference>,
    },
    /// It was imported, and these rows tell more readings.
    Extend {
        /// The run that is there.
        with: RunId,
        /// The rows.
        lines: Vec<u64>,
        /// The readings.
        readings: Vec<&'a RunReading>,
    },
}

/// All decisions.
#[derive(Default)]
pub(super) struct Decided<'a> {
    /// What is to be recorded.
    pub(super) decisions: Vec<Decision<'a>>,
    /// Rows that say what was imported, and the run that they tell.
    pub(super) same: Vec<(u64, RunId)>,
    /// Rows that say something else.
    pub(super) conflicts: Vec<Conflict<'a>>,
    /// Runs that several bench runs are equally near.
    pub(super) several: Vec<(&'a ReadableRun, Vec<RunId>)>,
}

/// Decides.
pub(super) fn decide<'a>(
    runs: &'a [ReadableRun],
    known: &Known,
    tolerance_seconds: u32,
) -> Decided<'a> {
    let mut decided = Decided::default();
    let mut fresh = Vec::new();
    for run in runs {
        match known.runs.get(&run.identity) {
            Some(before) => meet(run, before, known, &mut decided),
            None => fresh.push(run),
        }
    }
    if known.bench.is_empty() {
        decided
            .decisions
            .extend(fresh.into_iter().map(Decision::Record));
    } else {
        join_fresh(fresh, known, tolerance_seconds, &mut decided);
    }
    decided
}

/// A run that was imported: row by row, what it says again, what else, and what more.
fn meet<'a>(run: &'a ReadableRun, before: &KnownRun, known: &Known, decided: &mut Decided<'a>) {
    let mut rows: BTreeMap<u64, Vec<&'a RunReading>> = BTreeMap::new();
    for reading in &run.readings {
        rows.entry(reading.line).or_default().push(reading);
    }
    let (mut lines, mut more) = (Vec::new(), Vec::new());
    for (line, readings) in rows {
        let mut new = Vec::new();
        let mut conflict = None;
        for reading in readings {
            let analyte = reading.reading.reading.analyte;
            let first = before.origins.iter().find_map(|&(import, line)| {
                let said = known.said.of(import, line, analyte)?;
                Some(((import, line), said))
            });
            match first {
                None => new.push(reading),
                Some((_, before)) if before == said(&reading.fingerprint) => {}
                Some((first, _)) => {
                    conflict.get_or_insert(Conflict {
                        line,
                        run: before.id,
                        analyte,
                        imported: &reading.fingerprint,
                        first,
                    });
                }
            }
        }
        match (conflict, new.is_empty()) {
            (Some(conflict), _) => decided.conflicts.push(conflict),
            (None, true) => decided.same.push((line, before.id)),
            (None, false) => {
                lines.push(line);
                more.extend(new);
            }
        }
    }
    if !lines.is_empty() {
        decided.decisions.push(Decision::Extend {
            with: before.id,
            lines,
            readings: more,
        });
    }
}

/// Joins runs to those typed at the bench. Where two claim one, the nearer in time has it, and the
/// other looks again among the rest.
fn join_fresh<'a>(
    fresh: Vec<&'a ReadableRun>,
    known: &Known,
    tolerance_seconds: u32,
    decided: &mut Decided<'a>,
) {
    let mut taken: HashSet<RunId> = HashSet::new();
    let mut joined: HashMap<usize, (RunId, Vec<OriginDifference>)> = HashMap::new();
    let mut open: Vec<usize> = (0..fresh.len()).collect();
    let mut several: HashMap<usize, Vec<RunId>> = HashMap::new();
    while !open.is_empty() {
        let mut claims: HashMap<RunId, Vec<(u64, usize)>> = HashMap::new();
        for place in std::mem::take(&mut open) {
            let Some(run) = fresh.get(place) else {
                continue;
            };
            match nearest(run, known, &taken, tolerance_seconds) {
                Near::None => {}
                Near::One(id, distance) => {
                    claims.entry(id).or_default().push((distance, place));
                }
                Near::Several(ids) => {
                    several.insert(place, ids);
                }
            }
        }
        for (id, mut claimants) in claims {
            claimants.sort_unstable();
            let mut claimants = claimants.into_iter().map(|(_, place)| place);
            if let Some(first) = claimants.next()
                && let Some(run) = fresh.get(first)
            {
                taken.insert(id);
                joined.insert(first, (id, differing(run, id, known)));
            }
            open.extend(claimants);
        }
    }
    for (place, run) in fresh.into_iter().enumerate() {
        if let Some(ids) = several.remove(&place) {
            decided.several.push((run, ids));
        } else if let Some((with, differences)) = joined.remove(&place) {
            decided.decisions.push(Decision::Join {
                run,
                with,
                differences,
            });
        } else {
            decided.decisions.push(Decision::Record(run));
        }
    }
}

enum Near {
    None,
    One(RunId, u64),
    Several(Vec<RunId>),
}

fn nearest(
    run: &ReadableRun,
    known: &Known,
    taken: &HashSet<RunId>,
    tolerance_seconds: u32,
) -> Near {
    let candidates: Vec<BenchRun> = candidates(run, known, tolerance_seconds)
        .filter(|one| !taken.contains(&one.run.id))
        .map(|one| compared(run, one, known))
        .collect();
    if candidates.is_empty() {
        return Near::None;
    }
    match join(run, &candidates, tolerance_seconds) {
        Join::New => Near::None,
        Join::Several(ids) => Near::Several(ids),
        Join::Same(id) => {
            let found = candidates.iter().find(|one| one.id == id);
            let distance = found
                .and_then(|one| (run.run.read_at.at.utc() - one.read_at.utc()).num_microseconds())
                .map_or(u64::MAX, i64::unsigned_abs);
            Near::One(id, distance)
        }
    }
}

/// The bench runs of the same reader and port that are near enough in time.
fn candidates<'k>(
    run: &ReadableRun,
    known: &'k Known,
    tolerance_seconds: u32,
) -> impl Iterator<Item = &'k KnownBenchRun> {
    let place = (run.run.reader_serial.clone(), run.run.port);
    let all = known.bench.get(&place).map_or(&[][..], Vec::as_slice);
    let at = run.run.read_at.at;
    let tolerance = i64::from(tolerance_seconds);
    let from = all.partition_point(|one| at.seconds_since(one.run.read_at) > tolerance);
    all.iter()
        .skip(from)
        .take_while(move |one| one.run.read_at.seconds_since(at) <= tolerance)
}

/// The bench run, its sample called as the export calls it where both mean the same one.
fn compared(run: &ReadableRun, bench: &KnownBenchRun, known: &Known) -> BenchRun {
    let mut compared = bench.run.clone();
    if let Some(code) = &run.run.sample_code
        && let Some(sample) = known.samples.get(code)
        && bench.sample == Some(*sample)
    {
        compared.sample_code = Some(code.clone());
    }
    compared
}

/// What both say differently, by the members of the run.
fn differing(run: &ReadableRun, id: RunId, known: &Known) -> Vec<OriginDifference> {
    let place = (run.run.reader_serial.clone(), run.run.port);
    let bench = known.bench.get(&place);
    let Some(bench) = bench.and_then(|all| all.iter().find(|one| one.run.id == id)) else {
        return Vec::new();
    };
    let compared = compared(run, bench, known);
    differences(&compared, run)
        .into_iter()
        .map(|difference| {
            let analyte = difference.field.parse::<Analyte>().ok();
            OriginDifference {
                member: match (analyte, difference.field.as_str()) {
                    (Some(analyte), _) => member_of(&compared, analyte),
                    (None, "kit_lot") => "/kit_lot_code".to_owned(),
                    (None, other) => format!("/{other}"),
                },
                bench: difference.recorded.unwrap_or_default(),
                export: difference.imported.unwrap_or_default(),
                analyte,
            }
        })
        .collect()
}

fn member_of(bench: &BenchRun, analyte: Analyte) -> String {
    let place = bench.readings.iter().position(|one| one.analyte == analyte);
    place.map_or_else(
        || "/readings".to_owned(),
        |place| format!("/readings/{place}/value"),
    )
}
