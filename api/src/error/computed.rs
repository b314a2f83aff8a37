//! Kinds of refusals of computations that have no answer.

use domain::statistics::StatisticsError;

/// The last part of the problem's type.
pub(super) fn slug(fault: &StatisticsError) -> &'static str {
    match fault {
        StatisticsError::TooFew { .. } => "too-few-values",
        StatisticsError::TooMany { .. } => "too-many-values",
        StatisticsError::UnequalLengths { .. } => "unequal-lengths",
        StatisticsError::OutOfRange { .. } => "out-of-range",
        StatisticsError::ZeroVariance { .. } => "no-scatter",
        StatisticsError::Pole { .. } => "no-finite-value",
        StatisticsError::NotMonotone { .. } => "not-monotone",
        StatisticsError::NoConvergence { .. } => "does-not-settle",
        StatisticsError::TooLarge { .. } => "beyond-decimals",
    }
}

/// The title of such a kind; none for other kinds.
pub(super) fn title(slug: &str) -> Option<&'static str> {
    Some(match slug {
        "too-few-values" => "Too few values",
        "too-many-values" => "Too many values",
        "unequal-lengths" => "Lists of unequal length",
        "out-of-range" => "Outside what the computation is defined for",
        "no-scatter" => "The values do not scatter",
        "no-finite-value" => "No finite value",
        "not-monotone" => "Rises and falls",
        "does-not-settle" => "The iteration does not settle",
        "beyond-decimals" => "Beyond what a decimal holds",
        _ => return None,
    })
}
