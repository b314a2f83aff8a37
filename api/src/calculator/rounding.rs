//! Which digits of a number are shown, and what rounding does to a decision.

use super::table::Source::Example;
use domain::rounding::{
    compared::{Compared, ComparisonInputs, compare},
    each::{RoundedValue, RoundingInputs, round_each},
    reported::{ReportInputs, Reported, report},
};

topic! {
    "rounding", "Rounding",
    "Which digits are shown, and does rounding decide?";

    "values" = round_each(RoundingInputs) -> [RoundedValue] {
        title: "Rounded values",
        summary: "Values to places, figures or a step, half to even or half away from zero (ISO \
            80000-1, annex B), and beside each what a binary float would have made of it.",
        source: Example("decimal-against-binary-ties"),
        sample: r#"{"values":[{"value":"2.675","rounding":{"to":"places","of":2,"tie":"half-away"}},
            {"value":"1.005","rounding":{"to":"places","of":2,"tie":"half-away"}},
            {"value":"0.285","rounding":{"to":"places","of":2,"tie":"half-away"}}]}"#,
    }

    "report" = report(ReportInputs) -> Reported {
        title: "Value with its uncertainty",
        summary: "An uncertainty to two figures, or to as many as asked for, and the value to the \
            same places (JCGM 100:2008, 7.2.6).",
        source: Example("gum-7-2-6-reporting"),
        sample: r#"{"value":"10.05762","uncertainty":"0.027","figures":2,"uncertainty_rounding":"up",
            "tie":"half-even"}"#,
    }

    "comparison" = compare(ComparisonInputs) -> [Compared] {
        title: "Comparison with a limit, absolute or rounded",
        summary: "Whether observed values conform to a limit as they are, or rounded to its places \
            first (ASTM E29).",
        source: Example("astm-e29-rounding-method-nickel-and-water"),
        sample: r#"{"limit":"57","kind":"at-least","method":{"method":"rounded","tie":"half-even",
            "round_to":"1"},"observed":["56.4","56.5","56.6"]}"#,
    }
}
