//! Sentences that a certificate writes from facts: how a value follows, how it was rounded.

use domain::{
    certificates::{CertifiedRun, RunUse},
    results::{ComputedResult, Statistic},
    rounding::{RoundTo, Rounding},
};

/// The rule that a value was rounded by.
pub(super) fn rounding(rounding: &Rounding) -> String {
    let to = match rounding.to {
        RoundTo::Places(1) => "to 1 decimal place".to_owned(),
        RoundTo::Places(places) => format!("to {places} decimal places"),
        RoundTo::SignificantFigures(figures) => format!("to {figures} significant figures"),
        RoundTo::Interval(interval) => format!("to multiples of {interval}"),
    };
    format!("{to}, {}", rounding.tie.name())
}

/// How the value follows from its runs.
pub(super) fn derivation(computed: &ComputedResult, runs: &[CertifiedRun], unit: &str) -> String {
    let over_range = runs
        .iter()
        .find(|run| run.used == RunUse::OverRange)
        .map(|run| {
            let bound = run.reading;
            let dilution = run.factor.label();
            format!("The run at dilution \"{dilution}\" was over range ({bound} {unit}). ")
        })
        .unwrap_or_default();
    let standing: Vec<&CertifiedRun> = runs
        .iter()
        .filter(|run| match run.used {
            RunUse::Reported | RunUse::Replicate => true,
            RunUse::OverRange | RunUse::NotUsed => false,
        })
        .collect();
    let dilution = standing.first().map_or_else(String::new, |run| {
        if run.factor.is_one() {
            "undiluted".to_owned()
        } else {
            format!("diluted {}", run.factor.label())
        }
    });
    let value = if computed.concentration.is_some() {
        "its value"
    } else {
        "the bound that it gives"
    };
    let said = match (standing.len(), computed.replicates.map(|one| one.statistic)) {
        (0 | 1, _) | (_, None) => format!("One run, {dilution}: {value} is reported."),
        (count, Some(Statistic::Median)) => {
            format!("The median of {count} runs, {dilution}, is reported (ISO 5725-6).")
        }
        (count, Some(Statistic::Mean | Statistic::Single)) => {
            format!("The mean of {count} runs, {dilution}, is reported (ISO 5725-6).")
        }
    };
    format!("{over_range}{said}")
}
