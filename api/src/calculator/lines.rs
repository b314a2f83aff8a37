//! Straight lines, read backwards too, and one method against another.

use super::table::Source::{Example, Own};
use domain::statistics::{
    comparison::{
        BiasInput, DemingFit, DemingInput, MethodBias, PassingBablokFit, PassingBablokInput,
        deming, method_bias, passing_bablok,
    },
    lines::{LineFit, LineInput, line_fit},
};

topic! {
    "lines", "Straight lines and comparison of methods",
    "Which line goes through these points, and does one method give what the other gives?";

    "fit" = line_fit(LineInput) -> LineFit {
        title: "Straight line",
        summary: "Intercept, slope, their uncertainties and covariance, by least squares with \
            equal or given weights or known uncertainties; predictions, and readings of x \
            from a signal with both kinds of interval.",
        source: Example("din32645-decision-detection-quantification"),
        sample: r#"{"x":["0.05","0.1","0.15","0.2","0.25","0.3","0.35","0.4","0.45","0.5"],
            "y":["3060.0","3522.0","3707.0","4280.0","5058.0","5510.0","5703.0","6205.0",
            "7156.0","7178.0"],"weights":"equal","readings":[{"y":"3500","replicates":1}],
            "confidence":"0.99"}"#,
    }

    "deming" = deming(DemingInput) -> DemingFit {
        title: "Deming regression",
        summary: "The line where both methods have errors, of one ratio of variances or with known \
            uncertainties of every point.",
        source: Example("deming-closed-form-equal-variances"),
        sample: r#"{"x":["1.0","2.0","3.0","4.0","5.0","6.0","7.0","8.0","9.0","10.0"],"y":["2.3",
            "4.1","7.9","7.7","13.5","11.3","19.1","14.9","24.7","20.5"],
            "errors":{"variance-ratio":"1.0"}}"#,
    }

    "passing-bablok" = passing_bablok(PassingBablokInput) -> PassingBablokFit {
        title: "Passing–Bablok regression",
        summary: "The line of the median of all slopes between pairs of points, with intervals, \
            and whether the methods agree by it.",
        source: Example("passing-bablok-sen-data"),
        sample: r#"{"x":["1.0","2.0","3.0","4.0","10.0","12.0","18.0"],"y":["9.0","15.0","19.0","20.0",
            "45.0","55.0","78.0"],"confidence":"0.93"}"#,
    }

    "method-bias" = method_bias(BiasInput) -> MethodBias {
        title: "Bias between methods",
        summary: "The mean difference of pairs with its interval, and the limits of agreement of \
            Bland and Altman.",
        source: Own("invented numbers"),
        sample: r#"{"reference":["4.1","8.3","12.0","15.8","20.4","31.0"],"test":["4.5","8.0","12.9",
            "16.6","20.1","33.2"],"kind":"percent-of-reference"}"#,
    }
}
