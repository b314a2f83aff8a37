//! How many values a chart with run rules takes on average until it signals.
//!
//! Promises the exact mean of the Markov chain of the rules; refuses rules that it does not know
//! and a chain too large to be solved.

use std::collections::{BTreeMap, VecDeque};

use nalgebra::{DMatrix, DVector};
use serde::{Deserialize, Serialize};

use crate::quantity::Number;

use super::super::door::{float, number};
use super::super::error::{Answer, StatisticsError, at_least, at_most};
use super::super::special::{normal_above, normal_below};

/// A run rule of Shewhart charts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub enum RunRule {
    /// One beyond 3.
    #[serde(rename = "1")]
    OneBeyondThree,
    /// Two of three beyond 2 on one side.
    #[serde(rename = "2")]
    TwoOfThreeBeyondTwo,
    /// Four of five beyond 1 on one side.
    #[serde(rename = "3")]
    FourOfFiveBeyondOne,
    /// Eight running on one side.
    #[serde(rename = "4")]
    EightOnOneSide,
}

/// Rules that are used together, and how far the mean is off.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct RunLengthInput {
    /// One rule or more.
    pub rules: Vec<RunRule>,
    /// Shift of the mean in standard deviations; 0, in control, unless stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub shift: Option<Number>,
}

/// The mean run length.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct AverageRunLength {
    /// Mean number of values until a signal.
    pub average_run_length: Number,
    /// States of the chain that was solved.
    pub states: usize,
}

/// How far out a value is: 1 to 4 for up to 1, 2, 3 and beyond 3 standard deviations; the sign is
/// the side.
type Zone = i8;

/// What of the past the rules look at: the zones before, and the run on one side with its length.
type Past = (Vec<Zone>, i8, u8);

/// Limits of what is solved: all four rules together stay below.
const MOST_STATES: usize = 3_000;

/// Whether `zone` after `past` signals; the past that follows where it does not.
fn step(rules: &[RunRule], past: &Past, zone: Zone) -> Option<Past> {
    let (zones, side, length) = past;
    let has = |rule: RunRule| rules.contains(&rule);
    if has(RunRule::OneBeyondThree) && zone.abs() == 4 {
        return None;
    }
    let count = |last: usize, beyond: Zone| {
        let before = zones.iter().rev().take(last.saturating_sub(1));
        let all = before.copied().chain([zone]);
        all.filter(|z| z.signum() == zone.signum() && z.abs() > beyond)
            .count()
    };
    if has(RunRule::TwoOfThreeBeyondTwo) && zone.abs() > 2 && count(3, 2) >= 2 {
        return None;
    }
    if has(RunRule::FourOfFiveBeyondOne) && zone.abs() > 1 && count(5, 1) >= 4 {
        return None;
    }
    let length = if zone.signum() == *side {
        length.saturating_add(1)
    } else {
        1
    };
    if has(RunRule::EightOnOneSide) && length >= 8 {
        return None;
    }
    let memory = if has(RunRule::FourOfFiveBeyondOne) {
        4
    } else if has(RunRule::TwoOfThreeBeyondTwo) {
        2
    } else {
        0
    };
    // Only what a rule will ask is remembered, so that pasts that act alike are one state.
    let kept = |back: usize, z: Zone| {
        let two = has(RunRule::TwoOfThreeBeyondTwo) && back < 2 && z.abs() > 2;
        let one = has(RunRule::FourOfFiveBeyondOne) && z.abs() > 1;
        match (two, one) {
            (true, _) => z.signum().saturating_mul(3),
            (false, true) => z.signum().saturating_mul(2),
            (false, false) => 0,
        }
    };
    let recent = [zone].into_iter().chain(zones.iter().rev().copied());
    let mut next: Vec<Zone> = recent
        .take(memory)
        .enumerate()
        .map(|(back, z)| kept(back, z))
        .collect();
    next.reverse();
    if has(RunRule::EightOnOneSide) {
        Some((next, zone.signum(), length))
    } else {
        Some((next, 0, 0))
    }
}

/// The average run length of rules used together, by the Markov chain of Champ and Woodall,
/// Technometrics 29 (1987) 393.
///
/// # Errors
/// [`StatisticsError::TooFew`] without a rule; [`StatisticsError::OutOfRange`] for a shift beyond
/// 10 standard deviations.
///
/// ```
/// use domain::statistics::control::{RunLengthInput, average_run_length};
/// let rules = |list: &str| serde_json::from_str::<RunLengthInput>(
///     &format!(r#"{{"rules":{list}}}"#));
/// let one = average_run_length(&rules(r#"["1"]"#)?).unwrap();
/// assert_eq!(one.average_run_length.0.round_dp(1).to_string(), "370.4");
/// assert!(average_run_length(&rules("[]")?).is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
pub fn average_run_length(input: &RunLengthInput) -> Answer<AverageRunLength> {
    at_least("rules", input.rules.len(), 1)?;
    let shift = input.shift.map_or(0.0, float);
    if shift.abs() > 10.0 {
        let must = "between -10 and 10 standard deviations";
        return Err(StatisticsError::out_of_range("shift", shift, must));
    }
    let chances = chances(shift);
    let start: Past = (Vec::new(), 0, 0);
    let mut numbers = BTreeMap::from([(start.clone(), 0_usize)]);
    let mut waiting = VecDeque::from([(0_usize, start)]);
    let mut moves: Vec<(usize, usize, f64)> = Vec::new();
    while let Some((from, past)) = waiting.pop_front() {
        for (zone, chance) in chances {
            let Some(next) = step(&input.rules, &past, zone) else {
                continue;
            };
            let known = numbers.len();
            let to = *numbers.entry(next.clone()).or_insert(known);
            if to == known {
                at_most("states of the rules", known, MOST_STATES)?;
                waiting.push_back((known, next));
            }
            moves.push((from, to, chance));
        }
    }
    let states = numbers.len();
    // Mean times to the signal m solve (I - Q) m = 1, Q the moves that do not signal.
    let mut matrix = DMatrix::<f64>::identity(states, states);
    for (from, to, chance) in moves {
        if let Some(cell) = matrix.get_mut((from, to)) {
            *cell -= chance;
        }
    }
    let means = matrix
        .lu()
        .solve(&DVector::from_element(states, 1.0))
        .and_then(|solution| solution.get(0).copied())
        .ok_or_else(|| StatisticsError::pole("average run length", "the rules never signal"))?;
    Ok(AverageRunLength {
        average_run_length: number("average run length", means)?,
        states,
    })
}

/// Each zone and its chance at a shift of the mean.
fn chances(shift: f64) -> [(Zone, f64); 8] {
    let between = |low: f64, high: f64| normal_below(high - shift) - normal_below(low - shift);
    [
        (4, normal_above(3.0 - shift)),
        (3, between(2.0, 3.0)),
        (2, between(1.0, 2.0)),
        (1, between(0.0, 1.0)),
        (-1, between(-1.0, 0.0)),
        (-2, between(-2.0, -1.0)),
        (-3, between(-3.0, -2.0)),
        (-4, normal_below(-3.0 - shift)),
    ]
}
