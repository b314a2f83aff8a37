//! The sentences of a decision, composed from its facts.
//!
//! Promises that every value that mattered stands in them, without trailing zeros.

use rust_decimal::Decimal;

use crate::analytes::Analyte;
use crate::limits::{Basis, Comparison};
use crate::quantity::Concentration;
use crate::rounding::TieRule;

use super::rule::Zones;
use super::{Decision, DecisionRule, Finding, Undecided, Verdict};

pub(super) const EDIBLE_PART: &str = "The limit is on the edible part as sold: the test portion is \
    taken to be that, without shells or other inedible parts.";
pub(super) const HUSK_INCLUDED: &str = "The limit counts the husk: the test portion is taken to \
    have been ground with its husk, as the good is placed on the market.";
pub(super) const SCREENING_WITHOUT_CUT_OFF: &str = "Under Implementing Regulation (EU) 2023/2782 \
    a strip test is a screening method: it says negative or suspect, and never rejects a lot. No \
    validated cut-off was given, so the line is drawn where the decision rule would still pass; \
    the 95 % certainty of a negative is not shown by that.";

/// A decimal as people write it, without trailing zeros.
fn shown(value: Decimal) -> String {
    value.normalize().to_string()
}

fn amount(value: Concentration) -> String {
    format!("{} µg/kg", shown(value.ug_per_kg()))
}

fn said(finding: Finding) -> String {
    match finding {
        Finding::NotDetected { below } => format!("not detected, below {}", amount(below)),
        Finding::DetectedBelow { loq, .. } => format!("detected, below {}", amount(loq)),
        Finding::Below { bound } => format!("below {}", amount(bound)),
        Finding::Quantified { value } => amount(value),
        Finding::Above { bound } => format!("above {}", amount(bound)),
    }
}

pub(super) fn screened_instead(asked: &DecisionRule) -> String {
    format!(
        "Under Implementing Regulation (EU) 2023/2782 a strip test is a screening method: it says \
         negative or suspect, and never rejects a lot. The method's validated cut-off takes the \
         place of the rule asked for, {}.",
        asked.name()
    )
}

pub(super) fn condition_met(condition: &str) -> String {
    format!(
        "The limit's condition is recorded as met: {}.",
        condition.replace('-', " ")
    )
}

pub(super) fn relation(result: Analyte, limit: Analyte) -> Option<String> {
    if result.contains(limit) {
        Some(format!(
            "The result is for {}, the limit on {}, which is part of it and cannot be more.",
            result.name(),
            limit.name()
        ))
    } else if limit.contains(result) {
        Some(format!(
            "The result is for {}, the limit on {}, which contains it and cannot be less.",
            result.name(),
            limit.name()
        ))
    } else {
        None
    }
}

pub(super) fn recorded_basis(basis: &Basis) -> String {
    format!("The test portion is recorded to be on the limit's basis, {basis}.")
}

pub(super) fn converted(from: Finding, to: Finding, moisture: Decimal, basis: &Basis) -> String {
    format!(
        "The sample holds {} % moisture; brought to the limit's basis ({basis}), {} becomes {}.",
        shown(moisture),
        said(from),
        said(to)
    )
}

pub(super) fn rounded(from: Finding, to: Finding, tie: TieRule) -> Option<String> {
    let (from, to) = (from.quantified()?, to.quantified()?);
    Some(format!(
        "{} rounded to the places of the limit is {to} µg/kg, {}.",
        amount(from),
        tie.name()
    ))
}

/// The scale of the rule, from best to worst.
pub(super) fn zones(rule: &DecisionRule, zones: &Zones) -> String {
    let mut text = format!("Rule: {}", rule.name());
    if let Some(band) = zones.guard_band {
        text.push_str(&format!(", guard band {} µg/kg", shown(band)));
    }
    text.push_str(": ");
    for (cut, verdict) in &zones.cuts {
        let up_to = if cut.inclusive { "below" } else { "up to" };
        text.push_str(&format!(
            "{} {up_to} {} µg/kg, ",
            verdict.name(),
            shown(cut.at)
        ));
    }
    text.push_str(zones.beyond.name());
    let last_is_inclusive = zones.cuts.last().is_some_and(|(cut, _)| cut.inclusive);
    text.push_str(if last_is_inclusive {
        " from there."
    } else {
        " above."
    });
    text
}

/// The last sentence: what was compared with what, and what came of it.
pub(super) fn closing(decision: &Decision) -> String {
    let limit = format!(
        "the limit of {} on {} ({}, {})",
        amount(decision.limit_value),
        decision.analyte.name(),
        decision.basis,
        match decision.comparison {
            Comparison::Exceeds => "over when exceeded",
            Comparison::AtOrAbove => "over when reached",
        }
    );
    match (&decision.decision, decision.compared) {
        (Verdict::Undecided { reason }, compared) => {
            let result = compared.map_or_else(String::new, |one| format!("{} against ", said(one)));
            format!(
                "Undecided: {result}{limit}. {}{}",
                reason.explanation(),
                detail(reason)
            )
        }
        (verdict, Some(compared)) => {
            format!(
                "{} against {limit}: {}.",
                capitalised(&said(compared)),
                verdict.name()
            )
        }
        (verdict, None) => format!("Against {limit}: {}.", verdict.name()),
    }
}

fn capitalised(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}

/// The value or word that the explanation of an open decision leaves out.
fn detail(reason: &Undecided) -> String {
    match reason {
        Undecided::CannotSeeThatLow { bound } | Undecided::OverRangeTooEarly { bound } => {
            format!(" The bound is {}.", amount(*bound))
        }
        Undecided::NotOnBasis { basis } => format!(" The basis is: {basis}."),
        Undecided::ConditionUnknown { condition } | Undecided::ConditionNotMet { condition } => {
            format!(" The condition is: {}.", condition.replace('-', " "))
        }
        Undecided::LimitNotAdopted { state } => match state {
            crate::limits::LimitState::Proposed => " This one is proposed.".to_owned(),
            crate::limits::LimitState::Adopted => String::new(),
            crate::limits::LimitState::Retired => " This one is retired.".to_owned(),
        },
        Undecided::UnusableRule { fault } => format!(" It says: {fault}."),
        Undecided::NoUncertainty
        | Undecided::TotalAboveLimit
        | Undecided::PartWithinLimit
        | Undecided::NoMoisture
        | Undecided::AbsurdMoisture
        | Undecided::OtherAnalyte
        | Undecided::GuardBandTooWide
        | Undecided::ScreenedTooHigh
        | Undecided::Uncomputable => String::new(),
    }
}
