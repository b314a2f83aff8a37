//! Summaries of results of which some are below a limit.

use super::table::Source::Example;
use domain::statistics::censored::{
    BoundsInput, CensoredInput, KaplanMeier, KaplanMeierInput, LognormalLikelihood,
    OrderStatistics, OrderStatisticsInput, SubstitutionBounds, ToxinSum, ToxinSumInput,
    kaplan_meier, lognormal_likelihood, regression_on_order_statistics, substitution_bounds,
    toxin_sum,
};

topic! {
    "censored", "Results below a limit",
    "What do results say of which some are below a limit?";

    "bounds" = substitution_bounds(BoundsInput) -> SubstitutionBounds {
        title: "Lower, middle and upper bound",
        summary: "Means with zero, half the limit and the limit in place of results below it \
            (EFSA, 2010).",
        source: Example("efsa-2010-substitution-bounds"),
        sample: r#"{"values":["<2","3.4","<5","7.1","<2","12.0"],"convention":"from-zero"}"#,
    }

    "kaplan-meier" = kaplan_meier(KaplanMeierInput) -> KaplanMeier {
        title: "Kaplan–Meier estimate",
        summary: "The distribution of results with several limits, its mean and its percentiles, \
            without assuming a shape.",
        source: Example("helsel-oahu-arsenic"),
        sample: r#"{"values":["<1.0","<1.0","1.7","<1.0","<1.0","<2.0","3.2","<2.0","<2.0","2.8",
            "<2.0","<2.0","<2.0","<2.0","<2.0","0.7","0.9","0.5","0.5","<0.9","0.5","0.7","0.6",
            "1.5"],"remaining_mass":"smallest-limit"}"#,
    }

    "order-statistics" = regression_on_order_statistics(OrderStatisticsInput) -> OrderStatistics {
        title: "Regression on order statistics",
        summary: "A lognormal line through the plotting positions of the results above their \
            limits, and the values that it models below them (Helsel and Cohn).",
        source: Example("helsel-oahu-arsenic"),
        sample: r#"{"values":["<1.0","<1.0","1.7","<1.0","<1.0","<2.0","3.2","<2.0","<2.0","2.8",
            "<2.0","<2.0","<2.0","<2.0","<2.0","0.7","0.9","0.5","0.5","<0.9","0.5","0.7","0.6",
            "1.5"],"plotting_constant":"0","above_largest":"leave-out"}"#,
    }

    "likelihood" = lognormal_likelihood(CensoredInput) -> LognormalLikelihood {
        title: "Lognormal by maximum likelihood",
        summary: "The lognormal distribution under which results above and below their limits are \
            likeliest.",
        source: Example("helsel-oahu-arsenic"),
        sample: r#"{"values":["<1.0","<1.0","1.7","<1.0","<1.0","<2.0","3.2","<2.0","<2.0","2.8",
            "<2.0","<2.0","<2.0","<2.0","<2.0","0.7","0.9","0.5","0.5","<0.9","0.5","0.7","0.6",
            "1.5"]}"#,
    }

    "toxin-sum" = toxin_sum(ToxinSumInput) -> ToxinSum {
        title: "Sum of toxins",
        summary: "A lower-bound sum such as of aflatoxins, each corrected for its recovery outside \
            the window (Implementing Regulation (EU) 2023/2782).",
        source: Example("eu-2023-2782-lower-bound-sum"),
        sample: r#"{"toxins":[{"name":"B1","value":"4.2","recovery_percent":"85.0"},{"name":"B2",
            "value":"<0.5","recovery_percent":"88.0"},{"name":"G1","value":"1.3",
            "recovery_percent":"95.0"},{"name":"G2","value":"<0.5","recovery_percent":"88.0"}]}"#,
    }
}
