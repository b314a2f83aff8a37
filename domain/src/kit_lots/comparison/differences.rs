//! The figures of paired runs, and what a criterion says of them.

use rust_decimal::Decimal;

use super::{KitLotDifference, KitLotPair, KitLotVerdict};
use crate::procedures::KitLotCriterion;
use crate::quantity::Number;
use crate::quantity::exact::{figures, mean, over, times};
use crate::statistics::StatisticsError;
use crate::statistics::comparison::{BiasInput, BiasKind, method_bias};

/// The figures; none below two pairs.
pub(super) fn difference(
    pairs: &[KitLotPair],
) -> Result<Option<KitLotDifference>, StatisticsError> {
    if pairs.len() < 2 {
        return Ok(None);
    }
    let found = method_bias(&BiasInput {
        reference: pairs.iter().map(|pair| pair.compared_value).collect(),
        test: pairs.iter().map(|pair| pair.value).collect(),
        kind: BiasKind::Absolute,
        confidence: None,
    })?;
    let all = |value: fn(&KitLotPair) -> Number| -> Vec<Decimal> {
        pairs.iter().map(|pair| value(pair).0).collect()
    };
    let compared = mean("mean", &all(|pair| pair.compared_value))?;
    let fraction = if compared.is_zero() {
        None
    } else {
        Some(figures(over("fraction", found.bias.0, compared)?))
    };
    Ok(Some(KitLotDifference {
        compared_mean: figures(compared),
        mean: figures(mean("mean", &all(|pair| pair.value))?),
        mean_difference: found.bias,
        standard_deviation: found.standard_deviation,
        interval: found.interval,
        fraction,
    }))
}

/// The largest difference that a criterion allows: where it states both an amount and a fraction,
/// the larger of the two.
pub(super) fn allowed(
    criterion: &KitLotCriterion,
    found: &KitLotDifference,
) -> Result<Option<Decimal>, StatisticsError> {
    let of_mean = criterion
        .largest_fraction
        .map(|fraction| times("allowed difference", fraction.0, found.compared_mean.0))
        .transpose()?;
    let amount = criterion.largest_difference.map(|one| one.ug_per_kg());
    let largest = of_mean.into_iter().chain(amount).max();
    Ok(largest.map(|one| figures(one).0))
}

pub(super) fn verdict(
    criterion: Option<KitLotCriterion>,
    found: Option<&KitLotDifference>,
    allowed: Option<Decimal>,
    pairs: usize,
) -> KitLotVerdict {
    let Some(criterion) = criterion else {
        return KitLotVerdict::NoCriterion;
    };
    let enough = usize::try_from(criterion.minimum_pairs).is_ok_and(|least| pairs >= least);
    match (found, allowed) {
        (Some(found), Some(allowed)) if enough => {
            if found.mean_difference.0.abs() <= allowed {
                KitLotVerdict::Agrees
            } else {
                KitLotVerdict::Differs
            }
        }
        (_, _) => KitLotVerdict::CannotTell,
    }
}
