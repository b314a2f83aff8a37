//! The checks of one result: its release, its runs' arithmetic, its value and its decisions.

use super::{CertificateError, missing, present};
use crate::certificates::{
    CertifiedDecision, CertifiedResult, CertifiedRun, DecisionTerm, Meaning, RunUse,
};
use crate::decisions::Finding;
use rust_decimal::Decimal;

pub(super) fn check_release(result: &CertifiedResult) -> Result<(), CertificateError> {
    let unreleased = || CertificateError::Unreleased {
        result: result.id,
        analyte: result.analyte,
    };
    let released = result.released.as_ref().ok_or_else(unreleased)?;
    if released.meaning != Meaning::Released {
        return Err(unreleased());
    }
    let by = released.by.account;
    let own = |run: &&CertifiedRun| run.analyst.as_ref().is_some_and(|it| it.account == by);
    match result.runs.iter().find(own) {
        Some(run) => Err(CertificateError::ReleasedByAnalyst {
            result: result.id,
            run: run.id,
        }),
        None => Ok(()),
    }
}

pub(super) fn check_run(run: &CertifiedRun) -> Result<(), CertificateError> {
    let wrong = |what: String| CertificateError::Arithmetic { run: run.id, what };
    let mut volumes = Some((Decimal::ONE, Decimal::ONE));
    for step in &run.dilution {
        volumes = volumes.and_then(|(above, below)| {
            let whole = step.sample_volume_ul.checked_add(step.diluent_volume_ul)?;
            Some((
                above.checked_mul(whole)?,
                below.checked_mul(step.sample_volume_ul)?,
            ))
        });
    }
    let same = volumes.and_then(|(above, below)| {
        let left = above.checked_mul(run.factor.denominator)?;
        let right = below.checked_mul(run.factor.numerator)?;
        Some(left == right && !below.is_zero())
    });
    if same != Some(true) {
        return Err(wrong(format!(
            "the volumes do not make the factor {}",
            run.factor.label()
        )));
    }
    let expected = run.expected_concentration();
    if run.concentration != expected {
        let text = |value: Option<Decimal>| value.map_or("none".to_owned(), |it| it.to_string());
        return Err(wrong(format!(
            "concentration {} where reading and factor make {}",
            text(run.concentration),
            text(expected)
        )));
    }
    if run.began_at.is_some_and(|began| run.read_at < began) {
        return Err(wrong("read before it began".to_owned()));
    }
    Ok(())
}

/// A run that the value comes from is traceable to kit lot, reader and person (7.5.1, 7.8.2.2).
pub(super) fn check_traceable(pointer: &str, run: &CertifiedRun) -> Result<(), CertificateError> {
    match run.used {
        RunUse::Reported | RunUse::Replicate => {}
        RunUse::OverRange | RunUse::NotUsed => return Ok(()),
    }
    for (member, known) in [
        ("kit_lot", run.kit_lot.is_some()),
        ("reader", run.reader.is_some()),
        ("analyst", run.analyst.is_some()),
    ] {
        if !known {
            return Err(missing(&format!("{pointer}/{member}"), "7.5.1"));
        }
    }
    Ok(())
}

pub(super) fn check_value(result: &CertifiedResult) -> Result<(), CertificateError> {
    let contradiction = |what: &str| {
        Err(CertificateError::Contradiction {
            result: result.id,
            what: what.to_owned(),
        })
    };
    let exact = result
        .value
        .and_then(|value| crate::quantity::Concentration::new(value, result.unit).ok());
    match result.finding {
        Finding::Quantified { value } if exact != Some(value) => {
            return contradiction("value and finding differ");
        }
        Finding::Quantified { .. } => {}
        Finding::NotDetected { .. }
        | Finding::DetectedBelow { .. }
        | Finding::Below { .. }
        | Finding::Above { .. } => {
            if result.value.is_some() {
                return contradiction("a value is given, but the finding is a bound");
            }
            return Ok(());
        }
    }
    let mut reported = result
        .runs
        .iter()
        .filter(|run| run.used == RunUse::Reported);
    match (reported.next(), reported.next()) {
        (Some(run), None) if !same_value(result, run.concentration) => {
            contradiction("its value is not its reported run's")
        }
        (Some(_), Some(_)) => contradiction("two runs are given as the reported one"),
        (Some(_), None) => Ok(()),
        (None, _) if result.runs.iter().any(|run| run.used == RunUse::Replicate) => Ok(()),
        (None, _) => contradiction("no run stands behind its value"),
    }
}

/// Whether a run's concentration is the result's value. Both are rounded to six places, the one in
/// the result's unit, the other in µg/kg: in a larger unit they may differ by one in the last.
fn same_value(result: &CertifiedResult, run: Option<Decimal>) -> bool {
    let (Some(value), Some(run)) = (result.value, run) else {
        return result.value == run;
    };
    if result.unit.in_ug_per_kg() == Decimal::ONE {
        return value == run;
    }
    let last_place = Decimal::new(1, 6);
    crate::quantity::computed(value)
        .checked_sub(run)
        .is_some_and(|difference| difference.abs() <= last_place)
}

pub(super) fn check_decision(
    pointer: &str,
    result: &CertifiedResult,
    decision: &CertifiedDecision,
) -> Result<(), CertificateError> {
    for (member, text) in [
        ("rule/words", &decision.rule.words),
        ("limit/source", &decision.limit.source),
        ("limit/name", &decision.limit.name),
        ("explanation", &decision.explanation),
        ("statement", &decision.statement),
    ] {
        present(&format!("{pointer}/{member}"), "7.8.6", Some(text))?;
    }
    let banded = match decision.decision {
        DecisionTerm::ConditionalPass | DecisionTerm::ConditionalFail => true,
        DecisionTerm::Pass
        | DecisionTerm::Fail
        | DecisionTerm::Negative
        | DecisionTerm::Suspect
        | DecisionTerm::Undecided => false,
    };
    if banded && (decision.rule.guard_band.is_none() || result.uncertainty.is_none()) {
        return Err(CertificateError::Contradiction {
            result: result.id,
            what: "a conditional decision needs an uncertainty and a guard band".to_owned(),
        });
    }
    Ok(())
}
