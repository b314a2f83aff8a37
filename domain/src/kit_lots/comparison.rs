//! A new kit lot compared with the one in use, by runs of the same samples on both.
//!
//! Promises pairs in which each run stands once, the mean difference with its 95 % interval by
//! Student's t, and a verdict by the criterion that the procedure states. Refuses to judge by fewer
//! pairs than the criterion asks for; a run that cannot be paired is listed with the reason.
//!
//! Runs of one sample are paired in the order of the times read: the first on the new lot with the
//! first on the one in use, and so on.

mod differences;
#[cfg(test)]
mod tests;

use std::collections::{BTreeMap, BTreeSet};

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use super::KitLotEntry;
use crate::analytes::Analyte;
use crate::decisions::Finding;
use crate::id::{RunId, SampleId};
use crate::procedures::{KitLotCriterion, ProcedureEntry};
use crate::quantity::Number;
use crate::results::{Facts, MeasuringRange, see};
use crate::runs::{ReadingKind, Run, RunState};
use crate::statistics::StatisticsError;
use crate::time::Moment;
use crate::versions::{SubjectVersion, in_order};

/// What a comparison says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum KitLotVerdict {
    /// The procedure states no criterion.
    NoCriterion,
    /// The mean difference is not larger than the criterion allows.
    Agrees,
    /// There are too few pairs, or nothing to measure the difference by.
    CannotTell,
    /// The mean difference is larger than the criterion allows.
    Differs,
}

impl KitLotVerdict {
    /// The word in records.
    ///
    /// ```
    /// use domain::kit_lots::KitLotVerdict;
    /// assert_eq!(KitLotVerdict::CannotTell.word(), "cannot-tell");
    /// ```
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::NoCriterion => "no-criterion",
            Self::Agrees => "agrees",
            Self::CannotTell => "cannot-tell",
            Self::Differs => "differs",
        }
    }
}

/// Why a run stands in no pair.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum UnpairedReason {
    /// It is withdrawn, not read yet, or of no sample yet.
    DoesNotCount,
    /// It gave no number, or one outside the measuring range.
    NotInRange,
    /// The other lot has no further run of its sample.
    NoPartner,
}

/// A run that stands in no pair.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct UnpairedRun {
    /// The run.
    pub run: RunId,
    /// Why.
    pub reason: UnpairedReason,
}

/// Two runs of one sample, one on each lot; µg/kg.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct KitLotPair {
    /// The sample.
    pub sample: SampleId,
    /// The run on the lot in use.
    pub compared_run: RunId,
    /// What it gave.
    pub compared_value: Number,
    /// The run on the new lot.
    pub run: RunId,
    /// What it gave.
    pub value: Number,
}

/// How far the new lot lies from the one in use; µg/kg, new less used.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct KitLotDifference {
    /// Mean on the lot in use.
    pub compared_mean: Number,
    /// Mean on the new lot.
    pub mean: Number,
    /// Mean difference.
    pub mean_difference: Number,
    /// Standard deviation of the differences.
    pub standard_deviation: Number,
    /// The 95 % interval of the mean difference, by Student's t.
    pub interval: [Number; 2],
    /// The mean difference as a fraction of the mean on the lot in use; absent where that is zero.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fraction: Option<Number>,
}

/// The comparison for one analyte.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct AnalyteComparison {
    /// Of what.
    pub analyte: Analyte,
    /// The pairs, in the order of their samples and of the times read.
    pub pairs: Vec<KitLotPair>,
    /// Runs that stand in no pair.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub unpaired: Vec<UnpairedRun>,
    /// The figures; absent below two pairs.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub difference: Option<KitLotDifference>,
    /// What the procedure asks for; absent where it states nothing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub criterion: Option<KitLotCriterion>,
    /// The largest mean difference that it allows here, µg/kg.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub allowed: Option<Number>,
    /// What follows.
    pub verdict: KitLotVerdict,
}

/// A comparison of two kit lots, as it is kept with an acceptance.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct KitLotComparison {
    /// The lot in use, as it was then.
    pub compared_with: SubjectVersion,
    /// The procedure whose criterion it is, as it was then.
    pub procedure: SubjectVersion,
    /// The runs of both lots that were looked at, as they were then.
    pub runs: Vec<SubjectVersion>,
    /// Analyte by analyte.
    pub analytes: Vec<AnalyteComparison>,
    /// The worst of their verdicts.
    pub verdict: KitLotVerdict,
}

/// What is compared.
#[derive(Debug, Clone, Copy)]
pub struct KitLotComparisonInput<'a> {
    /// The new lot.
    pub lot: &'a KitLotEntry,
    /// The lot in use.
    pub compared_with: Facts<'a, KitLotEntry>,
    /// The procedure of both.
    pub procedure: Facts<'a, ProcedureEntry>,
    /// Runs on the new lot.
    pub runs: &'a [Facts<'a, Run>],
    /// Runs on the lot in use.
    pub compared_runs: &'a [Facts<'a, Run>],
}

impl AnalyteComparison {
    /// What speaks against the new lot, in words; none where nothing does.
    #[must_use]
    pub fn against(&self) -> Option<String> {
        let pairs = self.pairs.len();
        let noun = if pairs == 1 { "pair" } else { "pairs" };
        match (self.verdict, &self.difference, self.allowed) {
            (KitLotVerdict::Agrees | KitLotVerdict::NoCriterion, _, _) => None,
            (KitLotVerdict::Differs, Some(found), Some(allowed)) => Some(format!(
                "{} differs by {} µg/kg on average over {pairs} {noun}, {allowed} is allowed",
                self.analyte, found.mean_difference
            )),
            (KitLotVerdict::CannotTell | KitLotVerdict::Differs, _, _) => Some(format!(
                "{} cannot be told from {pairs} {noun}, {} are asked for",
                self.analyte,
                self.criterion.map_or(2, |asked| asked.minimum_pairs)
            )),
        }
    }
}

/// Compares a new kit lot with the one in use.
///
/// # Errors
/// [`StatisticsError::TooLarge`] for figures that cannot be kept.
///
/// ```
/// use domain::kit_lots::{KitLotComparisonInput, KitLotEntry, KitLotVerdict, compare};
/// use domain::results::Facts;
/// use domain::versions::SubjectVersion;
/// let lot: KitLotEntry = serde_json::from_str(include_str!("example.json"))?;
/// let procedure = serde_json::from_str(include_str!("../procedures/example.json"))?;
/// let source = SubjectVersion { subject: "019ca869-5003-7d46-b59c-6cf85cca57e4".parse()?, version: 1 };
/// let said = compare(&KitLotComparisonInput {
///     lot: &lot,
///     compared_with: Facts { source, content: &lot },
///     procedure: Facts { source, content: &procedure },
///     runs: &[],
///     compared_runs: &[],
/// }).unwrap();
/// assert_eq!(said.verdict, KitLotVerdict::NoCriterion);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn compare(input: &KitLotComparisonInput<'_>) -> Result<KitLotComparison, StatisticsError> {
    let mut analytes = Vec::new();
    for range in &input.lot.analytes {
        let one = compare_analyte(input, range.analyte)?;
        if one.criterion.is_some() || !one.pairs.is_empty() || !one.unpaired.is_empty() {
            analytes.push(one);
        }
    }
    let verdicts = analytes.iter().map(|one| one.verdict);
    let runs = input.runs.iter().chain(input.compared_runs);
    Ok(KitLotComparison {
        compared_with: input.compared_with.source,
        procedure: input.procedure.source,
        runs: in_order(runs.map(|run| run.source).collect()),
        verdict: verdicts.max().unwrap_or(KitLotVerdict::NoCriterion),
        analytes,
    })
}

/// A run that counts, with what it gave.
struct Counted {
    run: RunId,
    read_at: Moment,
    value: Decimal,
}

type BySample = BTreeMap<SampleId, Vec<Counted>>;

fn compare_analyte(
    input: &KitLotComparisonInput<'_>,
    analyte: Analyte,
) -> Result<AnalyteComparison, StatisticsError> {
    let mut unpaired = Vec::new();
    let procedure = input.procedure.content;
    let used = by_sample(
        (procedure, input.compared_with.content),
        input.compared_runs,
        analyte,
        &mut unpaired,
    );
    let new = by_sample((procedure, input.lot), input.runs, analyte, &mut unpaired);
    let pairs = paired(new, used, &mut unpaired);
    unpaired.sort_unstable();
    let difference = differences::difference(&pairs)?;
    let criterion = procedure.kit_lot_criterion_of(analyte).copied();
    let allowed = criterion
        .zip(difference.as_ref())
        .map(|(criterion, found)| differences::allowed(&criterion, found))
        .transpose()?
        .flatten();
    Ok(AnalyteComparison {
        analyte,
        verdict: differences::verdict(criterion, difference.as_ref(), allowed, pairs.len()),
        pairs,
        unpaired,
        difference,
        criterion,
        allowed: allowed.map(Number),
    })
}

/// The runs that count, of each sample in the order of the times read.
fn by_sample(
    (procedure, lot): (&ProcedureEntry, &KitLotEntry),
    runs: &[Facts<'_, Run>],
    analyte: Analyte,
    unpaired: &mut Vec<UnpairedRun>,
) -> BySample {
    let mut found = BySample::new();
    let mut seen = BTreeSet::new();
    for run in runs.iter().filter(|run| seen.insert(run.source.subject)) {
        match counted(procedure, lot, *run, analyte) {
            None => {}
            Some(Ok((sample, one))) => found.entry(sample).or_default().push(one),
            Some(Err(reason)) => unpaired.push(UnpairedRun {
                run: RunId(run.source.subject),
                reason,
            }),
        }
    }
    for of_sample in found.values_mut() {
        of_sample.sort_by_key(|one| (one.read_at, one.run));
    }
    found
}

/// The first run of a sample on the one lot with the first on the other, and so on.
fn paired(new: BySample, mut used: BySample, unpaired: &mut Vec<UnpairedRun>) -> Vec<KitLotPair> {
    let mut pairs = Vec::new();
    let mut alone = Vec::new();
    for (sample, new) in new {
        let mut used = used.remove(&sample).unwrap_or_default().into_iter();
        for run in new {
            match used.next() {
                Some(compared) => pairs.push(KitLotPair {
                    sample,
                    compared_run: compared.run,
                    compared_value: Number(compared.value.normalize()),
                    run: run.run,
                    value: Number(run.value.normalize()),
                }),
                None => alone.push(run.run),
            }
        }
        alone.extend(used.map(|one| one.run));
    }
    alone.extend(used.into_values().flatten().map(|one| one.run));
    unpaired.extend(alone.into_iter().map(|run| UnpairedRun {
        run,
        reason: UnpairedReason::NoPartner,
    }));
    pairs
}

/// What a run gave of the analyte; nothing where it did not look for it.
fn counted(
    procedure: &ProcedureEntry,
    lot: &KitLotEntry,
    run: Facts<'_, Run>,
    analyte: Analyte,
) -> Option<Result<(SampleId, Counted), UnpairedReason>> {
    let entry = &run.content.entry;
    let mut readings = entry.readings.iter();
    let reading = readings.find(|reading| reading.analyte == analyte)?;
    let stands = run.content.state == RunState::Recorded;
    let (true, Some(sample), Some(read_at)) = (stands, entry.sample, entry.read_at) else {
        return Some(Err(UnpairedReason::DoesNotCount));
    };
    let range = MeasuringRange::of(procedure.range_of(analyte), lot.range_of(analyte));
    let seen = range
        .filter(|_| reading.kind == ReadingKind::Number)
        .and_then(|range| {
            see(
                reading,
                range,
                run.content.factor,
                entry.value_includes_factor,
            )
            .ok()
        })
        .flatten();
    match seen.map(|seen| seen.finding) {
        Some(Finding::Quantified { value }) => Some(Ok((
            sample,
            Counted {
                run: RunId(run.source.subject),
                read_at,
                value: value.ug_per_kg(),
            },
        ))),
        Some(
            Finding::NotDetected { .. }
            | Finding::DetectedBelow { .. }
            | Finding::Below { .. }
            | Finding::Above { .. },
        )
        | None => Some(Err(UnpairedReason::NotInRange)),
    }
}
