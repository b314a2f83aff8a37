//! Recovery and its correction; what several results come to.

use super::table::Source::Example;
use domain::{
    statistics::random_effects::{RandomEffects, RandomEffectsInputs, random_effects},
    uncertainty::{
        combination::{
            ReplicateMean, ReplicateMeanInputs, WeightedMean, WeightedMeanInputs, replicate_mean,
            weighted_mean,
        },
        recovery::{
            Corrected, CorrectionInputs, RecoveryInputs, RecoveryTest, correct, recovery_test,
        },
    },
};

topic! {
    "combination", "Recovery and combined results",
    "Is a recovery 100 %, and what do several results come to?";

    "recovery-test" = recovery_test(RecoveryInputs) -> RecoveryTest {
        title: "Test of a recovery",
        summary: "Whether a mean recovery differs from 100 % by more than its uncertainty explains \
            (QUAM:2012, A4).",
        source: Example("quam-a4-pesticide-recovery"),
        sample: r#"{"recovery":"0.9","standard_deviation":"0.28","determinations":42,
            "level_percent":"95"}"#,
    }

    "recovery-correction" = correct(CorrectionInputs) -> Corrected {
        title: "Correction for recovery",
        summary: "The result divided by its recovery, with the uncertainty of both: always, never, \
            or outside a window, such as the 90 to 110 % of the European Union.",
        source: Example("recovery-correction-eu-window"),
        sample: r#"{"found":"8.4","standard_uncertainty":"0.6","recovery":"0.84",
            "recovery_standard_uncertainty":"0.03","rule":{"when":"outside-window",
            "lowest":"0.9","highest":"1.1"}}"#,
    }

    "replicate-mean" = replicate_mean(ReplicateMeanInputs) -> ReplicateMean {
        title: "Mean of replicates",
        summary: "The uncertainty of a mean of replicates that share a part of their doubt: only \
            the repeatability shrinks with their number.",
        source: Example("mean-of-replicates-not-independent"),
        sample: r#"{"repeatability":"1.2","determinations":3,"common":"0.9"}"#,
    }

    "weighted-mean" = weighted_mean(WeightedMeanInputs) -> WeightedMean {
        title: "Weighted mean",
        summary: "Results of different uncertainty, such as of two dilutions, weighted by 1/u², \
            with a check that they agree at all.",
        source: Example("weighted-mean-two-dilutions"),
        sample: r#"{"results":[{"value":"46.0","standard_uncertainty":"3.0"},{"value":"51.0",
            "standard_uncertainty":"2.0"}],"most_difference":"2"}"#,
    }

    "laboratories" = random_effects(RandomEffectsInputs) -> RandomEffects {
        title: "Mean of laboratories that disagree",
        summary: "The mean of laboratories and the variance between them by maximum likelihood, \
            where each has its own scatter.",
        source: Example("vangel-rukhin-fibre-in-apples"),
        sample: r#"{"laboratories":[{"mean":"12.46","standard_deviation":"0.028","observations":2},
            {"mean":"13.035","standard_deviation":"0.233","observations":2},{"mean":"12.44",
            "standard_deviation":"0.325","observations":2},{"mean":"12.87",
            "standard_deviation":"0.071","observations":2},{"mean":"13.42",
            "standard_deviation":"0.339","observations":2},{"mean":"12.08",
            "standard_deviation":"0.325","observations":2},{"mean":"13.18",
            "standard_deviation":"0.099","observations":2},{"mean":"14.335",
            "standard_deviation":"0.064","observations":2},{"mean":"12.23",
            "standard_deviation":"0.212","observations":2}],"confidence":"0.95"}"#,
    }
}
