//! Replicate determinations under repeatability, and the final quoted value: ISO 5725-6:1994, 5.2.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use crate::decisions::Finding;
use crate::dilution::Factor;
use crate::procedures::PrecisionModel;
use crate::quantity::Concentration;

use super::range::{Seen, kept, most};

/// Critical range factors f(n) in tenths for n = 2 to 20: the 95 % quantile of the range of n
/// standard normal values, to one decimal, as ISO 5725-6:1994, table 1, has them.
const CRITICAL_RANGE_TENTHS: [i64; 19] = [
    28, 33, 36, 39, 40, 42, 43, 44, 45, 46, 46, 47, 47, 48, 48, 49, 49, 50, 50,
];

/// How the final value came from the determinations.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Statistic {
    /// The one determination.
    Single,
    /// The arithmetic mean: the determinations are within the critical range.
    Mean,
    /// The median: they are not, or not all of them are numbers.
    Median,
}

/// How far determinations are apart, and how far they may be, in µg/kg.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct RangeCheck {
    /// Largest less smallest.
    pub range: Concentration,
    /// f(n) times the standard deviation of repeatability at their mean.
    pub critical_range: Concentration,
}

/// What the determinations come to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Replicates {
    /// How many there are.
    pub determinations: u32,
    /// How the value came from them.
    pub statistic: Statistic,
    /// Their check; absent for a single one, and where the procedure states no repeatability.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub check: Option<RangeCheck>,
    /// How many further determinations are due; 0 where the value is final.
    pub further: u32,
}

/// f(n) of ISO 5725-6, table 1; none outside 2 to 20.
///
/// ```
/// use domain::results::critical_range_factor;
/// assert_eq!(critical_range_factor(2).unwrap().to_string(), "2.8");
/// assert!(critical_range_factor(1).is_none());
/// ```
#[must_use]
pub fn critical_range_factor(determinations: usize) -> Option<Decimal> {
    let tenths = CRITICAL_RANGE_TENTHS.get(determinations.checked_sub(2)?)?;
    Some(Decimal::new(*tenths, 1))
}

/// The final quoted value of numbers from runs at one dilution, unrounded, and how it came about.
///
/// Within the critical range: the mean. Two that are not want two further ones, three one; four
/// and more that are not have their median (ISO 5725-6:1994, 5.2.2). The mean stands for those
/// that wait for further ones, so that something can be shown. Where the procedure states no
/// repeatability nothing is checked. The constant part of it grows with the dilution.
///
/// Nothing comes of no numbers, or where one of them is too large to be added.
///
/// ```
/// use domain::dilution::Factor;
/// use domain::results::{Statistic, final_value};
/// let sigma = serde_json::from_str(r#"{"constant":"0.5","proportional":"0"}"#)?;
/// let numbers = |list: &[&str]| list.iter().map(|n| n.parse().unwrap()).collect::<Vec<_>>();
/// let (value, how) = final_value(&numbers(&["10.0", "11.3"]), Some(&sigma), Factor::ONE).unwrap();
/// assert_eq!((value.to_string(), how.statistic), ("10.65".into(), Statistic::Mean));
/// let (_, how) = final_value(&numbers(&["10.0", "12.0"]), Some(&sigma), Factor::ONE).unwrap();
/// assert_eq!(how.further, 2);
/// assert!(final_value(&[], Some(&sigma), Factor::ONE).is_none());
/// # Ok::<(), serde_json::Error>(())
/// ```
#[must_use]
pub fn final_value(
    numbers: &[Decimal],
    repeatability: Option<&PrecisionModel>,
    factor: Factor,
) -> Option<(Decimal, Replicates)> {
    let mut sorted = numbers.to_vec();
    sorted.sort_unstable();
    let determinations = u32::try_from(sorted.len()).ok()?;
    let mean = mean(&sorted)?;
    let settled = |statistic, further, check| Replicates {
        determinations,
        statistic,
        check,
        further,
    };
    let replicates = match (determinations, repeatability) {
        (0, _) => return None,
        (1, _) => settled(Statistic::Single, 0, None),
        (_, None) => settled(Statistic::Mean, 0, None),
        (_, Some(model)) => match check(&sorted, mean, model, factor) {
            // More determinations than the table has factors for: the median.
            None => settled(Statistic::Median, 0, None),
            Some((check, true)) => settled(Statistic::Mean, 0, Some(check)),
            Some((check, false)) if determinations < 4 => settled(
                Statistic::Mean,
                4_u32.saturating_sub(determinations),
                Some(check),
            ),
            Some((check, false)) => settled(Statistic::Median, 0, Some(check)),
        },
    };
    let value = match replicates.statistic {
        Statistic::Single | Statistic::Mean => mean,
        Statistic::Median => median(&sorted)?,
    };
    Some((value.normalize(), replicates))
}

fn check(
    sorted: &[Decimal],
    mean: Decimal,
    model: &PrecisionModel,
    factor: Factor,
) -> Option<(RangeCheck, bool)> {
    let range = sorted.last()?.checked_sub(*sorted.first()?)?;
    let constant = factor.apply(model.constant.ug_per_kg()).ok()?;
    let deviation = mean
        .checked_mul(model.proportional.0)?
        .checked_add(constant)?;
    let critical = critical_range_factor(sorted.len())?.checked_mul(deviation)?;
    let check = RangeCheck {
        range: kept(range),
        critical_range: kept(critical),
    };
    Some((check, range <= critical))
}

fn mean(numbers: &[Decimal]) -> Option<Decimal> {
    let sum = numbers
        .iter()
        .try_fold(Decimal::ZERO, |sum, number| sum.checked_add(*number))?;
    sum.checked_div(Decimal::from(numbers.len()))
}

fn median(sorted: &[Decimal]) -> Option<Decimal> {
    let half = sorted.len().checked_div(2)?;
    let upper = *sorted.get(half)?;
    if sorted.len() % 2 == 1 {
        return Some(upper);
    }
    mean(&[*sorted.get(half.checked_sub(1)?)?, upper])
}

/// What runs at one dilution, none of them over range, say together; with the unrounded value
/// where it is a number.
///
/// All numbers: their final value. Where some are below quantification no mean can be taken: the
/// middle one stands, of two middle ones the higher, so that nothing is understated; they are
/// checked with what is below at its bound. All below: the weakest claim of them.
pub(super) fn together(
    seen: &[Seen],
    repeatability: Option<&PrecisionModel>,
    factor: Factor,
) -> Option<(Finding, Option<Decimal>, Replicates)> {
    let numbers: Vec<Decimal> = seen.iter().filter_map(quantified).collect();
    if numbers.len() == seen.len() {
        let (value, replicates) = final_value(&numbers, repeatability, factor)?;
        let finding = Finding::Quantified { value: kept(value) };
        return Some((finding, Some(value), replicates));
    }
    let mut ordered: Vec<&Seen> = seen.iter().collect();
    ordered.sort_by_key(|one| (most(one.finding), claim(one.finding)));
    let bounds: Option<Vec<Decimal>> = ordered
        .iter()
        .map(|one| quantified(one).or_else(|| most(one.finding).map(Concentration::ug_per_kg)))
        .collect();
    let check_with = if numbers.is_empty() {
        None
    } else {
        repeatability
    };
    let (_, mut replicates) = final_value(&bounds?, check_with, factor)?;
    if replicates.statistic == Statistic::Mean {
        replicates.statistic = Statistic::Median;
    }
    let stands = if numbers.is_empty() {
        ordered.last()?
    } else {
        ordered.get(ordered.len().checked_div(2)?)?
    };
    Some((stands.finding, quantified(stands), replicates))
}

/// The number of a finding inside the range, unrounded.
fn quantified(seen: &Seen) -> Option<Decimal> {
    seen.value.filter(|_| seen.finding.quantified().is_some())
}

/// Findings with one bound, from the strongest claim to the weakest.
const fn claim(finding: Finding) -> u8 {
    match finding {
        Finding::NotDetected { .. } => 0,
        Finding::Below { .. } => 1,
        Finding::DetectedBelow { .. } => 2,
        Finding::Quantified { .. } => 3,
        Finding::Above { .. } => 4,
    }
}
