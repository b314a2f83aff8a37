//! How far apart results are, within a laboratory and between laboratories.

use super::table::Source::{Example, Own};
use domain::statistics::precision::{
    CochranInput, CochranOutcome, CriticalDifference, CriticalDifferences, CriticalRange,
    CriticalRangeInput, ExpectedPrecision, GroupSummaries, GroupVariation, GrubbsInput,
    GrubbsOutcome, MandelInput, MandelLimits, OutlierCritical, OutlierCriticalInput,
    PrecisionLevel, PrecisionLimits, PrecisionLimitsInput, PrecisionStudy, PredictorInput,
    QuotedInput, QuotedResult, cochran, critical_differences, critical_range_of, group_variation,
    grubbs, mandel_limits, outlier_critical, precision_limits, precision_study,
    predicted_precision, quoted_result,
};

topic! {
    "precision", "Precision and replicates",
    "How far apart are results of one laboratory, and of two?";

    "quoted-result" = quoted_result(QuotedInput) -> QuotedResult {
        title: "Final quoted result of replicates",
        summary: "Whether determinations lie within the critical range, how many more are asked \
            for, and whether mean or median is quoted (ISO 5725-6:1994, 5.2).",
        source: Example("iso5725-6-final-quoted-result-two-further"),
        sample: r#"{"determinations":["10.0","12.0","10.6","11.7"],"sigma_r":"0.5","further":"two"}"#,
    }

    "critical-range" = critical_range_of(CriticalRangeInput) -> CriticalRange {
        title: "Critical range factor",
        summary: "f(n), the 95 % quantile of the range of n determinations (ISO 5725-6:1994, table \
            1).",
        source: Example("iso5725-6-critical-range-factors"),
        sample: r#"{"determinations":4}"#,
    }

    "critical-differences" = critical_differences(CriticalDifference) -> CriticalDifferences {
        title: "Critical differences of means",
        summary: "How far two means may lie apart within one laboratory and between two (ISO \
            5725-6:1994, 4).",
        source: Example("iso5725-6-critical-differences"),
        sample: r#"{"sigma_r":"1.0","sigma_reproducibility":"2.0","first":2,"second":2}"#,
    }

    "limits" = precision_limits(PrecisionLimitsInput) -> [PrecisionLimits] {
        title: "Repeatability and reproducibility limits",
        summary: "r and R with their coefficients of variation, from s_r and s_R of each level.",
        source: Example("bre-repeatability-and-reproducibility-limits"),
        sample: r#"{"means":["0.539","1.14"],"s_r":["0.021","0.042"],"s_reproducibility":["0.057",
            "0.137"]}"#,
    }

    "study" = precision_study(PrecisionStudy) -> [PrecisionLevel] {
        title: "Precision study",
        summary: "Means, s_r, s_L, s_R and the analysis of variance of a study of laboratories at \
            levels, which may have different numbers of results, with Mandel's h and k (ISO \
            5725-2).",
        source: Example("astm-e691-glucose-a-and-e"),
        sample: r#"{"levels":[[["41.03","41.45","41.37"],["41.17","42.0","41.15"],["41.01","40.68",
            "42.66"],["39.37","42.37","42.63"],["41.88","41.19","41.32"],["43.28","40.5",
            "42.28"],["41.08","41.27","39.02"],["43.36","42.65","41.72"]],[["292.78","294.09",
            "292.89"],["292.27","309.4","295.08"],["295.53","290.14","292.34"],["295.19",
            "295.44","296.83"],["293.93","292.48","294.28"],["297.74","296.8","290.33"],
            ["287.29","293.76","289.36"],["298.46","295.28","296.12"]]]}"#,
    }

    "cochran" = cochran(CochranInput) -> CochranOutcome {
        title: "Cochran's test",
        summary: "Whether the scatter of one laboratory is too large beside the others' (ISO \
            5725-2:1994, 7.3.3).",
        source: Own("invented numbers"),
        sample: r#"{"standard_deviations":["0.026","0.015","0.021","0.010","0.019","0.012","0.089",
            "0.025"],"replicates":3}"#,
    }

    "grubbs" = grubbs(GrubbsInput) -> GrubbsOutcome {
        title: "Grubbs' tests",
        summary: "Whether the largest or smallest value, or the two largest or two smallest, are \
            outliers (ISO 5725-2:1994, 7.3.4).",
        source: Own("invented numbers"),
        sample: r#"{"values":["10.1","9.9","10.0","10.2","9.8","10.1","12.5"]}"#,
    }

    "outlier-critical-value" = outlier_critical(OutlierCriticalInput) -> OutlierCritical {
        title: "Critical value of a test for outliers",
        summary: "The critical value of Cochran's or Grubbs' test for any number of laboratories, \
            replicates and values, at any significance.",
        source: Example("cochran-critical-values"),
        sample: r#"{"of":{"test":"cochran","laboratories":5,"replicates":2},"significance":"0.05"}"#,
    }

    "mandel-limits" = mandel_limits(MandelInput) -> MandelLimits {
        title: "Limits of Mandel's h and k",
        summary: "Beyond which h a laboratory differs from the others, and beyond which k it \
            scatters more than they (ASTM E691).",
        source: Example("mandel-h-k-critical"),
        sample: r#"{"significance":"0.005","laboratories":8,"replicates":3}"#,
    }

    "groups" = group_variation(GroupSummaries) -> GroupVariation {
        title: "Variation within and between groups",
        summary: "The analysis of variance of groups, such as days, of which means and standard \
            deviations are known (JCGM 100:2008, H.5).",
        source: Example("gum-h5-analysis-of-variance"),
        sample: r#"{"means":["10.000172","10.000116","10.000013","10.000144","10.000106","10.000031",
            "10.00006","10.000125","10.000163","10.000041"],"standard_deviations":["0.00006",
            "0.000077","0.000111","0.000101","0.000067","0.000093","0.00008","0.000073",
            "0.000088","0.000086"],"observations":5,"probabilities":["0.95","0.975"]}"#,
    }

    "predicted" = predicted_precision(PredictorInput) -> ExpectedPrecision {
        title: "Predicted reproducibility and HorRat",
        summary: "The relative reproducibility that Horwitz or Thompson predicts at a mass \
            fraction, and the HorRat of one that was found.",
        source: Example("thompson-2000-and-horrat"),
        sample: r#"{"mass_fractions":["0.0000000040","0.000000020","0.00000012","0.0000010","0.01"],
            "found_percent":["26.4","22.0","19.8","16.0","4.0"],"predictor":"thompson"}"#,
    }
}
