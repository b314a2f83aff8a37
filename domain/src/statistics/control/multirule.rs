//! The multi-rule set of clinical chemistry: Westgard, Barry, Hunt and Groth, Clinical Chemistry
//! 27 (1981) 493.
//!
//! Promises each rule dated at the value that completes it, as a running laboratory must date it.
//! Exact decimals throughout: exactly 2 s is not beyond 2 s. Refuses a standard deviation of zero.

use std::collections::BTreeMap;

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use crate::quantity::Number;

use super::super::door::positive;
use super::super::error::{Answer, StatisticsError, as_long, at_least};

/// A rule of the set.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub enum ControlRule {
    /// Warning: one value beyond 2 s.
    #[serde(rename = "1-2s")]
    OneBeyondTwo,
    /// One value beyond 3 s.
    #[serde(rename = "1-3s")]
    OneBeyondThree,
    /// Two running beyond 2 s on one side.
    #[serde(rename = "2-2s")]
    TwoBeyondTwo,
    /// One beyond 2 s on one side, its neighbour beyond 2 s on the other.
    #[serde(rename = "R-4s")]
    RangeBeyondFour,
    /// Four running beyond 1 s on one side.
    #[serde(rename = "4-1s")]
    FourBeyondOne,
    /// Eight running on one side of the mean.
    #[serde(rename = "8-x")]
    EightOnOneSide,
    /// Ten running on one side of the mean.
    #[serde(rename = "10-x")]
    TenOnOneSide,
}

impl ControlRule {
    const ALL: [Self; 7] = [
        Self::OneBeyondTwo,
        Self::OneBeyondThree,
        Self::TwoBeyondTwo,
        Self::RangeBeyondFour,
        Self::FourBeyondOne,
        Self::EightOnOneSide,
        Self::TenOnOneSide,
    ];

    /// Its name, as records and charts write it.
    ///
    /// ```
    /// use domain::statistics::control::ControlRule;
    /// assert_eq!(ControlRule::RangeBeyondFour.word(), "R-4s");
    /// ```
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::OneBeyondTwo => "1-2s",
            Self::OneBeyondThree => "1-3s",
            Self::TwoBeyondTwo => "2-2s",
            Self::RangeBeyondFour => "R-4s",
            Self::FourBeyondOne => "4-1s",
            Self::EightOnOneSide => "8-x",
            Self::TenOnOneSide => "10-x",
        }
    }

    /// Whether the rule only warns.
    ///
    /// ```
    /// use domain::statistics::control::ControlRule;
    /// assert!(ControlRule::OneBeyondTwo.is_warning());
    /// assert!(!ControlRule::TwoBeyondTwo.is_warning());
    /// ```
    #[must_use]
    pub const fn is_warning(self) -> bool {
        matches!(self, Self::OneBeyondTwo)
    }
}

/// At which of its values a rule is dated.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum RuleDate {
    /// At the value that completes it, as a running laboratory must.
    #[default]
    Completing,
    /// At the first of the values that make it up, as some lessons do.
    First,
}

/// Values of one control in order; or of several, each value with its own mean and standard
/// deviation, those of one run standing together.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct MultiruleInput {
    /// In the order they were measured.
    pub values: Vec<Number>,
    /// The mean: one, or one for each value.
    pub means: Vec<Number>,
    /// The standard deviation: one, or one for each value.
    pub standard_deviations: Vec<Number>,
    /// The number of the first value, 1 unless stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub first_number: Option<usize>,
    /// The run of each value; where given, R-4s looks within a run alone.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub runs: Vec<String>,
    /// The rules looked at; all of them unless named.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub rules: Vec<ControlRule>,
    /// At which of its values a rule is dated.
    #[serde(default)]
    pub dated_at: RuleDate,
}

/// The signals of one rule.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct RuleSignals {
    /// Which rule.
    pub rule: ControlRule,
    /// The numbers of the values that complete it, or that it began with.
    pub dated_at: Vec<usize>,
}

/// What the rules say.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct MultiruleOutcome {
    /// (x - mean)/s of each value, twelve significant figures; the rules are judged exactly.
    pub z: Vec<Number>,
    /// Each rule looked at, in the order of the set.
    pub signals: Vec<RuleSignals>,
    /// The first number at which a rule other than the warning is dated; absent where none fired.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub first_rejection: Option<usize>,
}

/// A deviation from the mean, and the standard deviation that it is measured by.
struct Point {
    deviation: Decimal,
    s: Decimal,
}

impl Point {
    /// On which side it is beyond so many standard deviations: 1, -1, or 0 for neither.
    fn beyond(&self, times: u8) -> i8 {
        let Some(limit) = self.s.checked_mul(Decimal::from(times)) else {
            return 0;
        };
        match (self.deviation > limit, self.deviation < -limit) {
            (true, _) => 1,
            (false, true) => -1,
            (false, false) => 0,
        }
    }
}

/// The place of the first of the values that make a rule up, where the value at `place` completes
/// it.
fn completed(rule: ControlRule, points: &[Point], place: usize, runs: &[String]) -> Option<usize> {
    let running = |count: usize, times: u8| {
        let from = place.saturating_add(1).checked_sub(count)?;
        let last = points.get(from..=place)?;
        let side = last.first()?.beyond(times);
        let all = side != 0 && last.iter().all(|point| point.beyond(times) == side);
        all.then_some(from)
    };
    match rule {
        ControlRule::OneBeyondTwo => running(1, 2),
        ControlRule::OneBeyondThree => running(1, 3),
        ControlRule::TwoBeyondTwo => running(2, 2),
        ControlRule::FourBeyondOne => running(4, 1),
        ControlRule::EightOnOneSide => running(8, 0),
        ControlRule::TenOnOneSide => running(10, 0),
        ControlRule::RangeBeyondFour => {
            let side = points.get(place)?.beyond(2);
            let mut earlier = (0..place).rev();
            let opposes = |at: &usize| points.get(*at).is_some_and(|p| p.beyond(2) == -side);
            if side == 0 {
                return None;
            }
            if runs.is_empty() {
                return earlier.next().filter(opposes);
            }
            earlier
                .take_while(|at| runs.get(*at) == runs.get(place))
                .find(opposes)
        }
    }
}

/// Every rule of the set on a sequence of control values.
///
/// # Errors
/// [`StatisticsError::TooFew`] without a value; [`StatisticsError::UnequalLengths`] where means,
/// standard deviations or runs are neither one nor one for each value;
/// [`StatisticsError::OutOfRange`] for a standard deviation of zero.
///
/// ```
/// use domain::statistics::control::{ControlRule, MultiruleInput, multirule};
/// let with = |s: &str| serde_json::from_str::<MultiruleInput>(&format!(
///     r#"{{"values":["53.1","53","53.1","54"],"means":["47"],"standard_deviations":["{s}"]}}"#));
/// let said = multirule(&with("3")?).unwrap();
/// // 53 is exactly 2 s, and so not beyond it.
/// let two = said.signals.iter().find(|s| s.rule == ControlRule::TwoBeyondTwo).unwrap();
/// assert_eq!(two.dated_at, [4]);
/// assert!(multirule(&with("0")?).is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
pub fn multirule(input: &MultiruleInput) -> Answer<MultiruleOutcome> {
    let count = input.values.len();
    at_least("values", count, 1)?;
    if !input.runs.is_empty() {
        as_long("runs", input.runs.len(), count)?;
    }
    let (means, deviations) = (
        each("means", &input.means, count)?,
        each("standard deviations", &input.standard_deviations, count)?,
    );
    let mut points = Vec::with_capacity(count);
    let mut z = Vec::with_capacity(count);
    for ((value, mean), s) in input.values.iter().zip(means).zip(deviations) {
        positive("standard deviation", s)?;
        let too_large = || StatisticsError::TooLarge {
            quantity: "z".to_owned(),
        };
        let deviation = value.0.checked_sub(mean.0).ok_or_else(too_large)?;
        let score = deviation.checked_div(s.0).ok_or_else(too_large)?;
        let score = score.round_sf(12).unwrap_or(score);
        z.push(Number(score.normalize()));
        points.push(Point { deviation, s: s.0 });
    }
    let first = input.first_number.unwrap_or(1);
    let rules = ControlRule::ALL
        .into_iter()
        .filter(|rule| input.rules.is_empty() || input.rules.contains(rule));
    let mut by_rule: BTreeMap<ControlRule, Vec<usize>> = rules.map(|rule| (rule, vec![])).collect();
    for (rule, numbers) in &mut by_rule {
        let places = (0..count).filter_map(|at| {
            let began = completed(*rule, &points, at, &input.runs)?;
            Some(match input.dated_at {
                RuleDate::Completing => at,
                RuleDate::First => began,
            })
        });
        numbers.extend(places.map(|at| at.saturating_add(first)));
    }
    let rejections = by_rule.iter().filter(|(rule, _)| !rule.is_warning());
    let first_rejection = rejections.filter_map(|(_, at)| at.first().copied()).min();
    Ok(MultiruleOutcome {
        z,
        signals: by_rule
            .into_iter()
            .map(|(rule, dated_at)| RuleSignals { rule, dated_at })
            .collect(),
        first_rejection,
    })
}

/// One value for all, or one for each.
fn each(name: &str, given: &[Number], count: usize) -> Answer<Vec<Number>> {
    match given {
        [one] => Ok(vec![*one; count]),
        list => {
            as_long(name, list.len(), count)?;
            Ok(list.to_vec())
        }
    }
}
