//! Pictures of computations: a budget, a decision, a control chart, an operating characteristic.
//!
//! Promises an SVG from the same inputs and figures as the computation of the same name, with its
//! data as a table. Refuses what that refuses, and more marks than a picture can show.

mod budget;
mod decision;
mod operating_characteristic;

use super::{
    answer::refused,
    description::picture,
    table::{Computation, Source, Topic},
};
use crate::{
    error::Answer,
    plots::{Plot, control_chart},
    request::typed,
};
use domain::{
    decisions::calculated::DecisionInputs,
    sampling_variance::CharacteristicInputs,
    statistics::{StatisticsError, control::IndividualsInput},
    uncertainty::budget::BudgetInputs,
};
use serde::de::DeserializeOwned;
use serde_json::Value;

/// Draws what a body asks for.
fn drawn<I: DeserializeOwned>(
    given: &Value,
    by: fn(&I) -> Result<Plot, StatisticsError>,
) -> Answer<Plot> {
    let inputs: I = typed(given)?;
    by(&inputs).map_err(|fault| refused(given, fault))
}

/// The lines of the end gauge of GUM H.1.
const LINES: &str = r#"{"lines":[{"source":"l_s","value":"1","doubt":{"kind":"standard","standard":"25.0",
    "relative":false},"sensitivity":"1","degrees_of_freedom":"18"},{"source":"d",
    "value":"1","doubt":{"kind":"standard","standard":"9.68194195397","relative":false},
    "sensitivity":"1","degrees_of_freedom":"25.6376319398"},{"source":"d_alpha","value":"1",
    "doubt":{"kind":"standard","standard":"0.00000058","relative":false},
    "sensitivity":"5000062.30","degrees_of_freedom":"50"},{"source":"d_theta","value":"1",
    "doubt":{"kind":"standard","standard":"0.029","relative":false},
    "sensitivity":"-575.00716450","degrees_of_freedom":"2"},{"source":"alpha_s","value":"1",
    "doubt":{"kind":"standard","standard":"0.0000012","relative":false},"sensitivity":"0"},
    {"source":"theta","value":"1","doubt":{"kind":"standard","standard":"0.41",
    "relative":false},"sensitivity":"0"}],"second_order":[{"source":"d_alpha and theta",
    "coefficient":"50000623.0","first":"0.00000058","second":"0.41"},
    {"source":"alpha_s and d_theta","coefficient":"50000623.0","first":"0.0000012",
    "second":"0.029"}],"coverage":{"by":"factor","factor":"2"}}"#;

/// The findings of ILAC-G8:09/2019.
const FINDINGS: &str = r#"{"limit":"20.0","comparison":"exceeds","rule":{"rule":"non-binary","guard_factor":"1"},
    "findings":[{"finding":{"kind":"quantified","value":"16.9"},
    "uncertainty":{"expanded":"3.0","coverage_factor":"2"}},{"finding":{"kind":"quantified",
    "value":"17.1"},"uncertainty":{"expanded":"3.0","coverage_factor":"2"}},
    {"finding":{"kind":"quantified","value":"19.9"},"uncertainty":{"expanded":"3.0",
    "coverage_factor":"2"}},{"finding":{"kind":"quantified","value":"20.1"},
    "uncertainty":{"expanded":"3.0","coverage_factor":"2"}},{"finding":{"kind":"quantified",
    "value":"22.9"},"uncertainty":{"expanded":"3.0","coverage_factor":"2"}},
    {"finding":{"kind":"quantified","value":"23.1"},"uncertainty":{"expanded":"3.0",
    "coverage_factor":"2"}}]}"#;

/// The pictures.
pub(super) const TOPIC: Topic = Topic {
    word: "plots",
    title: "Plots",
    asks: "What does it look like?",
    computations: &[
        Computation {
            path: "plots/budget",
            title: "Plot of an uncertainty budget",
            summary: "What each line of a budget contributes, and what they come to together. An answer for a browser (Accept: text/html) has \
                the table beside the picture.",
            source: Source::Example("gum-h1-end-gauge"),
            sample: LINES,
            compute: |given| drawn(given, budget::draw).map(|plot| plot.svg),
            shape: picture::<BudgetInputs>,
            plot: Some(|given| drawn(given, budget::draw)),
        },
        Computation {
            path: "plots/decision",
            title: "Plot of decisions against a limit",
            summary: "Findings with their expanded uncertainty beside the limit, the guard band \
                hatched, and the statement that each is given. At most 40 findings.",
            source: Source::Example("ilac-g8-non-binary-statements"),
            sample: FINDINGS,
            compute: |given| drawn(given, decision::draw).map(|plot| plot.svg),
            shape: picture::<DecisionInputs>,
            plot: Some(|given| drawn(given, decision::draw)),
        },
        Computation {
            path: "plots/control-chart",
            title: "Plot of a control chart",
            summary: "Individual values in their order, with the centre line and the limits; \
                values beyond a limit are squares with their number. At most 1,000 values.",
            source: Source::Example("montgomery-viscosity-individuals"),
            sample: r#"{"values":["33.75","33.05","34.0","33.81","33.46","34.02","33.68","33.27",
                "33.49","33.2","33.62","33.0","33.54","33.12","33.84"],"factors":"table"}"#,
            compute: |given| drawn(given, control_chart::draw).map(|plot| plot.svg),
            shape: picture::<IndividualsInput>,
            plot: Some(|given| drawn(given, control_chart::draw)),
        },
        Computation {
            path: "plots/operating-characteristic",
            title: "Plot of an operating characteristic",
            summary: "How likely a plan accepts a lot, over the lot's concentration, with the \
                legal limit; left of it the seller's risk is above the curve, right of it the \
                buyer's below.",
            source: Source::Own("the plan of the operating characteristic, at more points"),
            sample: r#"{"plan":{"model":{"model":"aflatoxin-shelled-corn"},"sample_mass_kg":"1.13",
                "test_portion_g":"50"},"accept_limit_ug_per_kg":"20",
                "concentrations":{"kind":"between","from":"5","to":"80","points":31}}"#,
            compute: |given| drawn(given, operating_characteristic::draw).map(|plot| plot.svg),
            shape: picture::<CharacteristicInputs>,
            plot: Some(|given| drawn(given, operating_characteristic::draw)),
        },
    ],
};
