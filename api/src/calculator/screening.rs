//! Validation of screening methods; how often a test says what is true.

use super::table::Source::{Example, Own};
use domain::{
    screening_validations::{
        ReviewInputs, ReviewReport, ValidationInputs, ValidationReport, VerificationInputs,
        VerificationReport, review, validate, verify,
    },
    statistics::{
        distributions::{DistributionAnswer, DistributionQuestion, distribution},
        proportions::{
            ConfusionCounts, Proportion, ProportionInput, TestWorth, proportion, test_worth,
        },
        screening::{CutOffFigures, CutOffInput, cut_off_figures},
        tolerance::{ToleranceFactor, ToleranceInput, tolerance_factor},
    },
};

topic! {
    "screening", "Screening and proportions",
    "From which response on is a sample suspect, and how often is that wrong?";

    "cut-off" = cut_off_figures(CutOffInput) -> CutOffFigures {
        title: "Cut-off and false suspects",
        summary: "The cut-off of a screening method from the means and deviations of blanks and of \
            samples at the screening target, and the rate of false suspects (Implementing \
            Regulation (EU) 2023/2782, Annex II).",
        source: Example("eu-screening-cut-off-falling-response"),
        sample: r#"{"response":"falling","at_target":{"n":24,"mean":"0.385",
            "standard_deviation":"0.021"},"blank":{"n":22,"mean":"0.492",
            "standard_deviation":"0.027"},"table":"exact"}"#,
    }

    "validation" = validate(ValidationInputs) -> ValidationReport {
        title: "Validation report",
        summary: "The same from the determinations themselves, with the counts, days and \
            laboratories that the regulation asks for.",
        source: Own("invented numbers"),
        sample: r#"{"response":"falling","screening_target":"20","determinations":[{"kind":"negative",
            "on":"2026-03-01","response":"0.85"},{"kind":"negative","on":"2026-03-02",
            "response":"0.92"},{"kind":"negative","on":"2026-03-03","response":"0.88"},
            {"kind":"negative","on":"2026-03-04","response":"0.95"},{"kind":"negative",
            "on":"2026-03-05","response":"0.91"},{"kind":"negative","on":"2026-03-01",
            "response":"0.87"},{"kind":"negative","on":"2026-03-02","response":"0.94"},
            {"kind":"negative","on":"2026-03-03","response":"0.90"},{"kind":"negative",
            "on":"2026-03-04","response":"0.86"},{"kind":"negative","on":"2026-03-05",
            "response":"0.93"},{"kind":"negative","on":"2026-03-01","response":"0.89"},
            {"kind":"negative","on":"2026-03-02","response":"0.85"},{"kind":"negative",
            "on":"2026-03-03","response":"0.92"},{"kind":"negative","on":"2026-03-04",
            "response":"0.88"},{"kind":"negative","on":"2026-03-05","response":"0.95"},
            {"kind":"negative","on":"2026-03-01","response":"0.91"},{"kind":"negative",
            "on":"2026-03-02","response":"0.87"},{"kind":"negative","on":"2026-03-03",
            "response":"0.94"},{"kind":"negative","on":"2026-03-04","response":"0.90"},
            {"kind":"negative","on":"2026-03-05","response":"0.86"},{"kind":"positive",
            "on":"2026-03-01","response":"0.55"},{"kind":"positive","on":"2026-03-02",
            "response":"0.62"},{"kind":"positive","on":"2026-03-03","response":"0.58"},
            {"kind":"positive","on":"2026-03-04","response":"0.65"},{"kind":"positive",
            "on":"2026-03-05","response":"0.61"},{"kind":"positive","on":"2026-03-01",
            "response":"0.57"},{"kind":"positive","on":"2026-03-02","response":"0.64"},
            {"kind":"positive","on":"2026-03-03","response":"0.60"},{"kind":"positive",
            "on":"2026-03-04","response":"0.56"},{"kind":"positive","on":"2026-03-05",
            "response":"0.63"},{"kind":"positive","on":"2026-03-01","response":"0.59"},
            {"kind":"positive","on":"2026-03-02","response":"0.55"},{"kind":"positive",
            "on":"2026-03-03","response":"0.62"},{"kind":"positive","on":"2026-03-04",
            "response":"0.58"},{"kind":"positive","on":"2026-03-05","response":"0.65"},
            {"kind":"positive","on":"2026-03-01","response":"0.61"},{"kind":"positive",
            "on":"2026-03-02","response":"0.57"},{"kind":"positive","on":"2026-03-03",
            "response":"0.64"},{"kind":"positive","on":"2026-03-04","response":"0.60"},
            {"kind":"positive","on":"2026-03-05","response":"0.56"}]}"#,
    }

    "verification" = verify(VerificationInputs) -> VerificationReport {
        title: "Verification",
        summary: "Whether a validated method, or a commodity added to it, passes: every control at \
            the target is suspect.",
        source: Own("invented numbers"),
        sample: r#"{"response":"falling","cut_off":"0.42","controls":[{"kind":"negative",
            "response":"0.51"},{"kind":"negative","response":"0.49"},{"kind":"negative",
            "response":"0.50"},{"kind":"negative","response":"0.53"},{"kind":"negative",
            "response":"0.48"},{"kind":"negative","response":"0.52"},{"kind":"positive",
            "response":"0.38"},{"kind":"positive","response":"0.36"},{"kind":"positive",
            "response":"0.39"},{"kind":"positive","response":"0.37"},{"kind":"positive",
            "response":"0.40"},{"kind":"positive","response":"0.38"}]}"#,
    }

    "review" = review(ReviewInputs) -> ReviewReport {
        title: "Yearly review",
        summary: "The validation before and with the routine controls joined in, positives that \
            were missed, batches without positives, and whether the review was in time.",
        source: Own("invented numbers"),
        sample: r#"{"validation":{"response":"falling","screening_target":"20",
            "determinations":[{"kind":"negative","on":"2026-03-01","response":"0.85"},
            {"kind":"negative","on":"2026-03-02","response":"0.92"},{"kind":"negative",
            "on":"2026-03-03","response":"0.88"},{"kind":"negative","on":"2026-03-04",
            "response":"0.95"},{"kind":"negative","on":"2026-03-05","response":"0.91"},
            {"kind":"negative","on":"2026-03-01","response":"0.87"},{"kind":"negative",
            "on":"2026-03-02","response":"0.94"},{"kind":"negative","on":"2026-03-03",
            "response":"0.90"},{"kind":"negative","on":"2026-03-04","response":"0.86"},
            {"kind":"negative","on":"2026-03-05","response":"0.93"},{"kind":"negative",
            "on":"2026-03-01","response":"0.89"},{"kind":"negative","on":"2026-03-02",
            "response":"0.85"},{"kind":"negative","on":"2026-03-03","response":"0.92"},
            {"kind":"negative","on":"2026-03-04","response":"0.88"},{"kind":"negative",
            "on":"2026-03-05","response":"0.95"},{"kind":"negative","on":"2026-03-01",
            "response":"0.91"},{"kind":"negative","on":"2026-03-02","response":"0.87"},
            {"kind":"negative","on":"2026-03-03","response":"0.94"},{"kind":"negative",
            "on":"2026-03-04","response":"0.90"},{"kind":"negative","on":"2026-03-05",
            "response":"0.86"},{"kind":"positive","on":"2026-03-01","response":"0.55"},
            {"kind":"positive","on":"2026-03-02","response":"0.62"},{"kind":"positive",
            "on":"2026-03-03","response":"0.58"},{"kind":"positive","on":"2026-03-04",
            "response":"0.65"},{"kind":"positive","on":"2026-03-05","response":"0.61"},
            {"kind":"positive","on":"2026-03-01","response":"0.57"},{"kind":"positive",
            "on":"2026-03-02","response":"0.64"},{"kind":"positive","on":"2026-03-03",
            "response":"0.60"},{"kind":"positive","on":"2026-03-04","response":"0.56"},
            {"kind":"positive","on":"2026-03-05","response":"0.63"},{"kind":"positive",
            "on":"2026-03-01","response":"0.59"},{"kind":"positive","on":"2026-03-02",
            "response":"0.55"},{"kind":"positive","on":"2026-03-03","response":"0.62"},
            {"kind":"positive","on":"2026-03-04","response":"0.58"},{"kind":"positive",
            "on":"2026-03-05","response":"0.65"},{"kind":"positive","on":"2026-03-01",
            "response":"0.61"},{"kind":"positive","on":"2026-03-02","response":"0.57"},
            {"kind":"positive","on":"2026-03-03","response":"0.64"},{"kind":"positive",
            "on":"2026-03-04","response":"0.60"},{"kind":"positive","on":"2026-03-05",
            "response":"0.56"}]},"routine":[{"batch":"B-1","control":{"kind":"positive",
            "on":"2026-04-10","response":"0.61"}},{"batch":"B-1","control":{"kind":"positive",
            "on":"2026-04-10","response":"0.58"}},{"batch":"B-1","control":{"kind":"negative",
            "on":"2026-04-10","response":"0.90"}},{"batch":"B-2","control":{"kind":"positive",
            "on":"2026-05-10","response":"0.63"}},{"batch":"B-2","control":{"kind":"positive",
            "on":"2026-05-10","response":"0.60"}},{"batch":"B-2","control":{"kind":"negative",
            "on":"2026-05-10","response":"0.91"}},{"batch":"B-3","control":{"kind":"positive",
            "on":"2026-06-10","response":"0.57"}},{"batch":"B-3","control":{"kind":"positive",
            "on":"2026-06-10","response":"0.62"}},{"batch":"B-3","control":{"kind":"negative",
            "on":"2026-06-10","response":"0.92"}},{"batch":"B-4","control":{"kind":"positive",
            "on":"2026-07-10","response":"0.64"}},{"batch":"B-4","control":{"kind":"positive",
            "on":"2026-07-10","response":"0.59"}},{"batch":"B-4","control":{"kind":"negative",
            "on":"2026-07-10","response":"0.93"}},{"batch":"B-5","control":{"kind":"positive",
            "on":"2026-08-10","response":"0.60"}},{"batch":"B-5","control":{"kind":"positive",
            "on":"2026-08-10","response":"0.61"}},{"batch":"B-5","control":{"kind":"negative",
            "on":"2026-08-10","response":"0.94"}},{"batch":"B-6","control":{"kind":"positive",
            "on":"2026-09-10","response":"0.62"}},{"batch":"B-6","control":{"kind":"negative",
            "on":"2026-09-10","response":"0.95"}}],"reviewed_on":"2026-03-05","on":"2027-02-26"}"#,
    }

    "test-worth" = test_worth(ConfusionCounts) -> TestWorth {
        title: "Worth of a test",
        summary: "Sensitivity, specificity, false rates and predictive values from a table of four \
            counts, each with its Wilson interval.",
        source: Example("altman-bland-liver-scan"),
        sample: r#"{"true_positives":231,"false_positives":32,"false_negatives":27,"true_negatives":54}"#,
    }

    "proportion" = proportion(ProportionInput) -> Proportion {
        title: "Proportion with its interval",
        summary: "A share of positives with the intervals of Wilson and of Clopper and Pearson, \
            one-sided and two-sided.",
        source: Example("wilson-100-of-200"),
        sample: r#"{"positives":100,"tested":200,"confidence":"0.95"}"#,
    }

    "tolerance-factor" = tolerance_factor(ToleranceInput) -> ToleranceFactor {
        title: "One-sided tolerance factor",
        summary: "How many standard deviations from a mean of n cover a content of the population \
            with a confidence.",
        source: Example("nist-one-sided-tolerance-factor"),
        sample: r#"{"n":43,"content":"0.9","confidence":"0.99"}"#,
    }

    "distribution" = distribution(DistributionQuestion) -> DistributionAnswer {
        title: "Probability or quantile",
        summary: "A probability at a value, or the value at a probability, of the normal, \
            Student's t, χ², F and other distributions.",
        source: Example("eu-one-sided-t-df-10-to-19"),
        sample: r#"{"of":{"distribution":"student-t","degrees_of_freedom":"10"},
            "at":{"probability":"0.95"}}"#,
    }
}
