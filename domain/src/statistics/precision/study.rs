//! An interlaboratory study, level by level: one-way analysis of variance.

use serde::{Deserialize, Serialize};

use crate::quantity::Number;

use super::super::door::{floats, number, positive, size};
use super::super::error::{Answer, StatisticsError, at_least};
use super::super::special;
use super::super::summary;

/// Results of a study: for each level the laboratories, for each laboratory its replicates. An
/// empty list is a laboratory without results at that level.
///
/// ```
/// use domain::statistics::precision::PrecisionStudy;
/// let study: PrecisionStudy = serde_json::from_str(r#"{"levels":[[["1.1","1.2"],["1.4"]]]}"#)?;
/// assert_eq!(study.levels[0].len(), 2);
/// assert!(serde_json::from_str::<PrecisionStudy>(r#"{"levels":[[[1.1]]]}"#).is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct PrecisionStudy {
    /// Level, laboratory, replicate, in one unit.
    pub levels: Vec<Vec<Vec<Number>>>,
    /// What a standard deviation is multiplied with for its limit: 2.8 unless another is given
    /// (ISO 5725-6, 4.1.4; 2.77 is 1.96 times the root of 2).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub limit_factor: Option<Number>,
}

/// One laboratory at one level.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct StudyCell {
    /// Which laboratory, from 1, as entered.
    pub laboratory: usize,
    /// How many replicates it has.
    pub replicates: usize,
    /// Their mean.
    pub mean: Number,
    /// Their standard deviation; absent for a single one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub standard_deviation: Option<Number>,
    /// Mandel's h: how far the mean is from the mean of means, in their standard deviations.
    /// Absent where all means are equal.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub mandel_h: Option<Number>,
    /// Mandel's k: the standard deviation over that of repeatability.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub mandel_k: Option<Number>,
}

/// What the study says at one level. Variances and sums of squares are in the unit squared.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct PrecisionLevel {
    /// Laboratories with results.
    pub laboratories: usize,
    /// Results altogether.
    pub results: usize,
    /// The n of the between-laboratory component, (T3² - T4)/(T3 (p - 1)).
    pub average_replicates: Number,
    /// T1 to T5 of ISO 5725-2, 7.4.5.1.
    pub sums: [Number; 5],
    /// General mean, T1/T3.
    pub mean: Number,
    /// Mean of the laboratories' means.
    pub mean_of_means: Number,
    /// Standard deviation of the laboratories' means, unweighted.
    pub s_of_means: Number,
    /// Sum of squares between laboratories.
    pub ss_between: Number,
    /// Sum of squares within.
    pub ss_within: Number,
    /// Mean square between, p - 1 degrees of freedom.
    pub ms_between: Number,
    /// Mean square within, N - p degrees of freedom.
    pub ms_within: Number,
    /// Ratio of the mean squares; absent where nothing scatters within laboratories.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub f: Option<Number>,
    /// Probability of a larger one, were there no laboratory component.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub p_value: Option<Number>,
    /// Variance between laboratories as it comes; below zero by chance.
    pub between_variance: Number,
    /// Standard deviation of repeatability.
    pub s_r: Number,
    /// Standard deviation between laboratories; 0 where its variance comes below zero.
    pub s_l: Number,
    /// Standard deviation of reproducibility.
    pub s_reproducibility: Number,
    /// Limit of repeatability, factor times `s_r`.
    pub r: Number,
    /// Limit of reproducibility.
    pub reproducibility_limit: Number,
    /// `s_r` as percent of the mean; absent at a mean of 0.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cv_r_percent: Option<Number>,
    /// `s_reproducibility` as percent of the mean.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cv_reproducibility_percent: Option<Number>,
    /// The laboratories.
    pub cells: Vec<StudyCell>,
}

struct Cell {
    laboratory: usize,
    count: f64,
    replicates: usize,
    mean: f64,
    squares: f64,
}

/// Repeatability and reproducibility at each level: ISO 5725-2:1994, 7.4, in the form for
/// unequal numbers of replicates; ASTM E691 gives the same for equal ones.
///
/// # Errors
/// [`StatisticsError::TooFew`] without a level, with fewer than two laboratories at one, or
/// without any repeated determination there; [`StatisticsError::OutOfRange`] for the factor.
///
/// ```
/// use domain::statistics::precision::{PrecisionStudy, precision_study};
/// let study = |text: &str| serde_json::from_str::<PrecisionStudy>(text);
/// let two = study(r#"{"levels":[[["1.0","1.2"],["1.4","1.4"]]]}"#)?;
/// let level = &precision_study(&two).unwrap()[0];
/// assert_eq!(level.s_r.to_string(), "0.1");
/// let one = study(r#"{"levels":[[["1.0","1.2"]]]}"#)?;
/// assert!(precision_study(&one).unwrap_err().to_string().contains("laboratories"));
/// # Ok::<(), serde_json::Error>(())
/// ```
pub fn precision_study(study: &PrecisionStudy) -> Answer<Vec<PrecisionLevel>> {
    at_least("levels", study.levels.len(), 1)?;
    let factor = match study.limit_factor {
        Some(factor) => positive("limit factor", factor)?,
        None => 2.8,
    };
    let one = |(place, level): (usize, &Vec<Vec<Number>>)| level_figures(place, level, factor);
    study.levels.iter().enumerate().map(one).collect()
}

fn cells_of(level: &[Vec<Number>]) -> Vec<Cell> {
    let filled = level
        .iter()
        .enumerate()
        .filter(|(_, list)| !list.is_empty());
    filled
        .map(|(place, list)| {
            let values = floats(list);
            let mean = summary::mean(&values);
            Cell {
                laboratory: place.saturating_add(1),
                count: size(values.len()),
                replicates: values.len(),
                mean,
                squares: summary::squares_about(&values, mean),
            }
        })
        .collect()
}

fn level_figures(place: usize, level: &[Vec<Number>], factor: f64) -> Answer<PrecisionLevel> {
    let name = |what: &str| format!("{what} of level {}", place.saturating_add(1));
    let cells = cells_of(level);
    at_least(&name("laboratories"), cells.len(), 2)?;
    let p = size(cells.len());
    let over =
        |take: &dyn Fn(&Cell) -> f64| summary::sum(&cells.iter().map(take).collect::<Vec<f64>>());
    let results: usize = cells.iter().map(|cell| cell.replicates).sum();
    if results <= cells.len() {
        let wanted = cells.len().saturating_add(1);
        return Err(StatisticsError::too_few(
            name("results with replicates"),
            wanted,
            results,
        ));
    }
    let (t3, t4) = (size(results), over(&|cell| cell.count.powi(2)));
    let t1 = over(&|cell| cell.count * cell.mean);
    let t2 = over(&|cell| cell.count * cell.mean.powi(2));
    let ss_within = over(&|cell| cell.squares);
    let mean = t1 / t3;
    // About the general mean, not as T2 T3 - T1²: the difference of two large sums loses figures.
    let ss_between = over(&|cell| cell.count * (cell.mean - mean).powi(2));
    let (ms_between, ms_within) = (ss_between / (p - 1.0), ss_within / (t3 - p));
    let average = (t3.powi(2) - t4) / (t3 * (p - 1.0));
    let between = (ms_between - ms_within) / average;
    let s_r = ms_within.sqrt();
    let s_l = between.max(0.0).sqrt();
    let s_reproducibility = (ms_within + between.max(0.0)).sqrt();
    let means: Vec<f64> = cells.iter().map(|cell| cell.mean).collect();
    let (mean_of_means, s_of_means) = (summary::mean(&means), summary::deviation(&means));
    let out = |what: &str, value: f64| number(&name(what), value);
    let f = (ms_within > 0.0).then(|| ms_between / ms_within);
    let share = |s: f64| (mean.abs() > 0.0).then(|| 100.0 * s / mean.abs());
    Ok(PrecisionLevel {
        laboratories: cells.len(),
        results,
        average_replicates: out("average number of replicates", average)?,
        sums: [
            out("T1", t1)?,
            out("T2", t2)?,
            out("T3", t3)?,
            out("T4", t4)?,
            out("T5", ss_within)?,
        ],
        mean: out("mean", mean)?,
        mean_of_means: out("mean of means", mean_of_means)?,
        s_of_means: out("standard deviation of means", s_of_means)?,
        ss_between: out("sum of squares between", ss_between)?,
        ss_within: out("sum of squares within", ss_within)?,
        ms_between: out("mean square between", ms_between)?,
        ms_within: out("mean square within", ms_within)?,
        f: f.map(|f| out("F", f)).transpose()?,
        p_value: f
            .map(|f| out("p-value", special::fisher(f, (p - 1.0, t3 - p))?.1))
            .transpose()?,
        between_variance: out("variance between", between)?,
        s_r: out("s_r", s_r)?,
        s_l: out("s_L", s_l)?,
        s_reproducibility: out("s_R", s_reproducibility)?,
        r: out("r", factor * s_r)?,
        reproducibility_limit: out("R", factor * s_reproducibility)?,
        cv_r_percent: share(s_r).map(|cv| out("C_r", cv)).transpose()?,
        cv_reproducibility_percent: share(s_reproducibility)
            .map(|cv| out("C_R", cv))
            .transpose()?,
        cells: cells
            .iter()
            .map(|cell| cell_figures(cell, (mean_of_means, s_of_means), s_r))
            .collect::<Answer<_>>()?,
    })
}

fn cell_figures(cell: &Cell, (centre, spread): (f64, f64), s_r: f64) -> Answer<StudyCell> {
    let name = format!("laboratory {}", cell.laboratory);
    let deviation = (cell.replicates > 1).then(|| (cell.squares / (cell.count - 1.0)).sqrt());
    let out = |value: Option<f64>| value.map(|value| number(&name, value)).transpose();
    Ok(StudyCell {
        laboratory: cell.laboratory,
        replicates: cell.replicates,
        mean: number(&name, cell.mean)?,
        standard_deviation: out(deviation)?,
        mandel_h: out((spread > 0.0).then(|| (cell.mean - centre) / spread))?,
        mandel_k: out(deviation.filter(|_| s_r > 0.0).map(|s| s / s_r))?,
    })
}
