//! Whether the method today is what it was.

use super::table::Source::{Example, Own};
use domain::statistics::control::{
    AverageRunLength, Bracket, BracketInput, ControlFactors, ControlFactorsInput, CusumChart,
    CusumInput, DuplicateRangeInput, EwmaChart, EwmaInput, IndividualsChart, IndividualsInput,
    MultiruleInput, MultiruleOutcome, RangeLimits, RunLengthInput, SubgroupChart, SubgroupInput,
    average_run_length, brackets, cusum_chart, ewma_chart, factors_of, individuals_chart,
    multirule, range_limits, subgroup_chart,
};

topic! {
    "control", "Control charts",
    "Is the method today what it was?";

    "individuals-chart" = individuals_chart(IndividualsInput) -> IndividualsChart {
        title: "Chart of individual values",
        summary: "Centre line and limits of single values and of their moving ranges (ISO 7870-2).",
        source: Example("nist-individuals-chart-flowrate"),
        sample: r#"{"values":["49.6","47.6","49.9","51.3","47.8","51.2","52.6","52.4","53.6","52.1"],
            "factors":"table"}"#,
    }

    "subgroup-chart" = subgroup_chart(SubgroupInput) -> SubgroupChart {
        title: "Chart of subgroups",
        summary: "Centre line and limits of subgroup means, and of their ranges or standard \
            deviations (ISO 7870-2).",
        source: Own("invented numbers"),
        sample: r#"{"subgroups":[["10.2","10.6","9.9"],["10.0","10.4","10.1"],["9.7","10.3","10.2"],
            ["10.5","10.1","9.8"]]}"#,
    }

    "range-limits" = range_limits(DuplicateRangeInput) -> RangeLimits {
        title: "Range chart of duplicates",
        summary: "Central line, warning and action limits of the range of duplicates, from the \
            repeatability.",
        source: Example("nordtest-range-chart-duplicates"),
        sample: r#"{"s_r":"1.0","ranges":[]}"#,
    }

    "ewma-chart" = ewma_chart(EwmaInput) -> EwmaChart {
        title: "Exponentially weighted moving averages",
        summary: "The averages, their limits at each value and in the long run, and the first that \
            is outside.",
        source: Example("nist-ewma-chart"),
        sample: r#"{"values":["52.0","47.0","53.0","49.3","50.1","47.0","51.0","50.1","51.2","50.5",
            "49.6","47.6","49.9","51.3","47.8","51.2","52.6","52.4","53.6","52.1"],
            "target":"50.0","lambda":"0.3","s":"2.0539","k":"3.0","limits":"constant"}"#,
    }

    "cusum-chart" = cusum_chart(CusumInput) -> CusumChart {
        title: "Cumulative sums",
        summary: "The high and low sums of a tabular chart, and the first signal.",
        source: Example("nist-cusum-chart"),
        sample: r#"{"values":["324.925","324.675","324.725","324.35","325.35","325.225","324.125",
            "324.525","325.225","324.6","324.625","325.15","328.325","327.25","327.825","328.5",
            "326.675","327.775","326.875","328.35"],"target":"325.0","k":"0.3175","h":"4.1959",
            "unit":"of-values"}"#,
    }

    "multirule" = multirule(MultiruleInput) -> MultiruleOutcome {
        title: "Rules of clinical chemistry",
        summary: "Which controls break 1-2s, 1-3s, 2-2s, R-4s, 4-1s, 8-x and 10-x, within runs and \
            across them.",
        source: Example("multirule-sequence-first-part"),
        sample: r#"{"values":["42.5","55.1","46.4","47.0","43.1","56.9","41.3","44.9","45.5","41.3",
            "47.0","37.7","41.6","53.3","55.4","44.6","47.3","48.2","41.3","42.8","44.3","47.6",
            "44.3","45.8","47.6","39.8","39.8","50.9","49.7","45.5","45.2","47.3","47.9"],
            "means":["47.0"],"standard_deviations":["3.0"],"first_number":1,
            "dated_at":"completing"}"#,
    }

    "brackets" = brackets(BracketInput) -> [Bracket] {
        title: "Results that a failed control brackets",
        summary: "The stretches between the control that passed before and the one that passed \
            next, with the results in them.",
        source: Own("invented numbers"),
        sample: r#"{"controls":[{"place":1,"passed":true},{"place":5,"passed":false},{"place":9,
            "passed":true}],"results":[0,2,4,6,10]}"#,
    }

    "run-length" = average_run_length(RunLengthInput) -> AverageRunLength {
        title: "Average run length of run rules",
        summary: "How many values a chart with run rules takes on average until it signals, in \
            control or after a shift.",
        source: Example("run-rules-average-run-length"),
        sample: r#"{"rules":["1","4"]}"#,
    }

    "factors" = factors_of(ControlFactorsInput) -> ControlFactors {
        title: "Factors of control charts",
        summary: "d2, d3, c4, A2, A3, D3, D4, B3 and B4 of subgroups of 2 to 100 values.",
        source: Example("shewhart-constants"),
        sample: r#"{"n":6}"#,
    }
}
