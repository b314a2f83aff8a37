//! Scores of proficiency rounds, and middles that a few wrong results do not move.

use super::table::Source::Example;
use domain::statistics::{
    proficiency::{ProficiencyRound, ProficiencyScores, proficiency_scores},
    robust::{
        RobustFigures, RobustInput, RobustScales, RobustScalesInput, robust_figures, robust_scales,
    },
};

topic! {
    "proficiency", "Proficiency and robust statistics",
    "Is a laboratory's result what it should be?";

    "scores" = proficiency_scores(ProficiencyRound) -> ProficiencyScores {
        title: "Scores of a round",
        summary: "z, z', zeta and En of each participant, as far as the uncertainties are known \
            (ISO 13528:2022).",
        source: Example("jrc-2016-aflatoxin-b1-sample-a"),
        sample: r#"{"assigned_value":"2.8","assigned_uncertainty":{"expanded":"0.19"},
            "assessment_deviation":{"relative":"0.22"},"results":[{"value":"3.5",
            "uncertainty":{"expanded":"0.7"}}]}"#,
    }

    "robust-figures" = robust_figures(RobustInput) -> RobustFigures {
        title: "Robust mean and deviation",
        summary: "Algorithm A of ISO 13528, the median, the scaled median absolute deviation and \
            the normalised interquartile range.",
        source: Example("amc-copper-in-flour-robust-mean"),
        sample: r#"{"values":["2.9","3.1","3.4","3.4","3.7","3.7","2.8","2.5","2.4","2.4","2.7","2.2",
            "5.28","3.37","3.03","3.03","28.95","3.77","3.4","2.2","3.5","3.6","3.7","3.7"],
            "constants":"exact","quartiles":"linear"}"#,
    }

    "robust-scales" = robust_scales(RobustScalesInput) -> RobustScales {
        title: "Robust scales from their raw figures",
        summary: "The constants that make an interquartile range and a median absolute deviation \
            estimate a standard deviation, and the uncertainty of an assigned value.",
        source: Example("robust-scale-constants"),
        sample: r#"{"iqr":"2.0","mad":"0.7","robust_standard_deviation":"0.75","participants":25}"#,
    }
}
