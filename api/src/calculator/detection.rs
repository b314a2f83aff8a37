//! From where on something is detected, and quantified.

use super::table::Source::Example;
use domain::statistics::detection::{
    DetectionLimits, LineLimits, LineLimitsInput, MethodDetectionInput, MethodDetectionLimit,
    PseudoBlankInput, ReplicateBlankInput, line_limits, method_detection_limit,
    pseudo_blank_limits, replicate_limits,
};

topic! {
    "detection", "Limits of detection and quantification",
    "From where on is something detected, and quantified?";

    "line-limits" = line_limits(LineLimitsInput) -> LineLimits {
        title: "Limits from a calibration line",
        summary: "Decision limit, detection limit and quantification limit from the line of \
            standards (DIN 32645, ISO 11843-2); a detection limit above the range of the \
            line is refused.",
        source: Example("din32645-decision-detection-quantification"),
        sample: r#"{"x":["0.05","0.1","0.15","0.2","0.25","0.3","0.35","0.4","0.45","0.5"],
            "y":["3060.0","3522.0","3707.0","4280.0","5058.0","5510.0","5703.0","6205.0",
            "7156.0","7178.0"],"alpha":"0.01","replicates":1,"k":"3","detection":"twice",
            "quantification":"solved"}"#,
    }

    "pseudo-blanks" = pseudo_blank_limits(PseudoBlankInput) -> DetectionLimits {
        title: "Limits from blanks and a slope",
        summary: "LOD and LOQ from the scatter of blank signals and the slope of the calibration \
            (JRC guidance for feed and food, 2016).",
        source: Example("jrc-2016-lod-from-pseudo-blanks"),
        sample: r#"{"signals":{"standard-deviation":"0.012"},"slope":"0.1"}"#,
    }

    "replicate-blanks" = replicate_limits(ReplicateBlankInput) -> DetectionLimits {
        title: "Limits from blanks near zero",
        summary: "LOD and LOQ from the scatter of blanks, for results that are means of \
            replicates, with or without correction by blanks (Eurachem, 2014).",
        source: Example("eurachem-2014-s0-prime"),
        sample: r#"{"scatter":{"standard-deviation":"0.3"},"replicates":2,"blank_replicates":2}"#,
    }

    "method-limit" = method_detection_limit(MethodDetectionInput) -> MethodDetectionLimit {
        title: "Method detection limit",
        summary: "Student's t times the standard deviation of spiked replicates (40 CFR 136, \
            appendix B).",
        source: Example("epa-mdl-student-factor"),
        sample: r#"{"scatter":{"standard-deviation":"1.0"},"replicates":7}"#,
    }
}
