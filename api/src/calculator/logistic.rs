//! The curve of a kit lot, read backwards, and the reader's own number checked by it.

use super::table::Source::{Example, Own};
use domain::statistics::logistic::{
    InverseConcentration, LogisticFit, LogisticFitInput, LogisticInverseInput, ReaderCheck,
    ReaderCheckInput, check_reader, fit_logistic, logistic_inverse,
};

topic! {
    "logistic", "Logistic curves of readers",
    "Which concentration has this response?";

    "fit" = fit_logistic(LogisticFitInput) -> LogisticFit {
        title: "Four-parameter logistic curve",
        summary: "A curve of three or four parameters by least squares, standard errors by first \
            and second derivatives, effective doses, and concentrations of responses.",
        source: Example("ryegrass-log-logistic"),
        sample: r#"{"x":["0.0","0.0","0.0","0.0","0.0","0.0","0.94","0.94","0.94","1.88","1.88","1.88",
            "3.75","3.75","3.75","7.5","7.5","7.5","15.0","15.0","15.0","30.0","30.0","30.0"],
            "y":["7.58","8.0","8.328571429","7.25","7.375","7.9625","8.355555556","6.914285714",
            "7.75","6.871428571","6.45","5.922222222","1.925","2.885714286","4.233333333",
            "1.1875","0.857142857","1.057142857","0.6875","0.525","0.825","0.25","0.22","0.44"],
            "axis":"logarithmic","effects_percent":["10","50","90"],"errors":"hessian"}"#,
    }

    "inverse" = logistic_inverse(LogisticInverseInput) -> [InverseConcentration] {
        title: "Concentration of a response",
        summary: "The concentration at which a known curve has a response, with its standard error \
            from the reading; a response outside the asymptotes has none.",
        source: Example("inverse-of-the-four-parameter-logistic"),
        sample: r#"{"curve":{"lower":"0.48140994","upper":"7.79296233","slope":"2.98222866",
            "midpoint":"3.05795517","axis":"logarithmic"},"y":["7.0","4.0","1.0"],
            "s_y":"0.5196256"}"#,
    }

    "reader-check" = check_reader(ReaderCheckInput) -> ReaderCheck {
        title: "Reader's number, recomputed",
        summary: "The concentration from a strip's signals and its lot's curve beside the number \
            that the reader gave, and whether they agree.",
        source: Own("invented numbers"),
        sample: r#"{"curve":{"lower":"0","upper":"2","slope":"1","midpoint":"10"},
            "signals":{"test":"80","control":"80"},"reported":"10.4","tolerance_percent":"5"}"#,
    }
}
