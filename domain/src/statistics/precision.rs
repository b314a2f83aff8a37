//! Repeatability and reproducibility of a method: ISO 5725-2 and what is built on it.
//!
//! Promises components of variance of balanced and unbalanced studies with every sum on the way;
//! refuses a study of one laboratory, or without a single repeated determination.

mod critical;
mod horwitz;
mod limits;
mod nested;
mod outliers;
mod quoted;
mod study;

pub use critical::{
    MandelInput, MandelLimits, OutlierCritical, OutlierCriticalInput, OutlierTest, Sides,
    cochran_critical, grubbs_critical, mandel_critical, mandel_limits, outlier_critical,
};
pub use horwitz::{Expected, ExpectedPrecision, Predictor, PredictorInput, predicted_precision};
pub use limits::{
    CriticalDifference, CriticalDifferences, CriticalRange, CriticalRangeInput, PrecisionLimits,
    PrecisionLimitsInput, critical_differences, critical_range, critical_range_of,
    precision_limits,
};
pub use nested::{GroupSummaries, GroupVariation, group_variation};
pub use outliers::{
    CochranInput, CochranOutcome, CriticalValues, GrubbsInput, GrubbsOutcome, GrubbsTest,
    OutlierVerdict, cochran, grubbs,
};
pub use quoted::{FurtherResults, QuotedInput, QuotedResult, quoted_result};
pub use study::{PrecisionLevel, PrecisionStudy, StudyCell, precision_study};
