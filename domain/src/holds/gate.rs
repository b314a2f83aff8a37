//! Which holds stand in the way of a result.
//!
//! Promises that a hold on a run gates exactly the results in which that run stands: a run that
//! was set aside, or measured another analyte, keeps nothing from release.

use super::{Held, Hold, HoldState};
use crate::analytes::Analyte;
use crate::id::{ResultId, RunId, SampleId};

/// Whether a hold keeps a result from release; `standing` are the runs that the result is made
/// from.
///
/// ```
/// use domain::analytes::Analyte;
/// use domain::holds::{gates, Held, Hold, HoldDraft, HoldKind};
/// let (run, other) = ("019ca869-5003-7d46-b59c-6cf85cca57e4".parse()?,
///     "019ca869-5003-7d46-b59c-6cf85cca57e5".parse()?);
/// let (result, sample) = ("019ca869-5003-7d46-b59c-6cf85cca57e6".parse()?,
///     "019ca869-5003-7d46-b59c-6cf85cca57e7".parse()?);
/// let old = HoldDraft::new(HoldKind::ExtractTooOld, "65 min; at most 60 min");
/// let hold = Hold::raise(Held::Run(run), Some(sample), old, vec![]);
/// assert!(gates(&hold, result, sample, Analyte::Zearalenone, &[run]));
/// assert!(!gates(&hold, result, sample, Analyte::Zearalenone, &[other]), "it does not stand");
/// # Ok::<(), uuid::Error>(())
/// ```
#[must_use]
pub fn gates(
    hold: &Hold,
    result: ResultId,
    sample: SampleId,
    analyte: Analyte,
    standing: &[RunId],
) -> bool {
    let concerned = match hold.of {
        Held::Run(run) => standing.contains(&run),
        Held::Result(held) => held == result,
        Held::Sample(held) => held == sample,
    };
    let same_analyte = hold.analyte.is_none_or(|of| of == analyte);
    hold.state() == HoldState::Raised && concerned && same_analyte
}

/// The holds that keep a result from release, in the order given.
///
/// ```
/// use domain::analytes::Analyte;
/// use domain::holds::standing_in_the_way;
/// let result = "019ca869-5003-7d46-b59c-6cf85cca57e6".parse()?;
/// let sample = "019ca869-5003-7d46-b59c-6cf85cca57e7".parse()?;
/// assert!(standing_in_the_way(&[], result, sample, Analyte::Zearalenone, &[]).is_empty());
/// # Ok::<(), uuid::Error>(())
/// ```
#[must_use]
pub fn standing_in_the_way<'a>(
    holds: &'a [Hold],
    result: ResultId,
    sample: SampleId,
    analyte: Analyte,
    standing: &[RunId],
) -> Vec<&'a Hold> {
    holds
        .iter()
        .filter(|hold| gates(hold, result, sample, analyte, standing))
        .collect()
}
