//! How a computation is called: here, in the domain itself.

pub(crate) use domain::decisions::calculated::decide_findings;
pub(crate) use domain::decisions::conformity::{conformity, guard_band};
pub(crate) use domain::decisions::official_control::official_control;
pub(crate) use domain::rounding::compared::compare;
pub(crate) use domain::rounding::each::round_each;
pub(crate) use domain::rounding::reported::report;
pub(crate) use domain::statistics::censored::{
    kaplan_meier, lognormal_likelihood, regression_on_order_statistics, substitution_bounds,
    toxin_sum,
};
pub(crate) use domain::statistics::comparison::{deming, passing_bablok};
pub(crate) use domain::statistics::control::{
    average_run_length, cusum_chart, ewma_chart, factors_of, individuals_chart, multirule,
    range_limits,
};
pub(crate) use domain::statistics::detection::{
    line_limits, method_detection_limit, pseudo_blank_limits, replicate_limits,
};
pub(crate) use domain::statistics::distributions::distribution;
pub(crate) use domain::statistics::lines::line_fit;
pub(crate) use domain::statistics::logistic::{fit_logistic, logistic_inverse};
pub(crate) use domain::statistics::precision::{
    critical_differences, critical_range_of, group_variation, mandel_limits, outlier_critical,
    precision_limits, precision_study, predicted_precision, quoted_result,
};
pub(crate) use domain::statistics::proficiency::proficiency_scores;
pub(crate) use domain::statistics::proportions::{proportion, test_worth};
pub(crate) use domain::statistics::random_effects::random_effects;
pub(crate) use domain::statistics::robust::{robust_figures, robust_scales};
pub(crate) use domain::statistics::screening::cut_off_figures;
pub(crate) use domain::statistics::tolerance::tolerance_factor;
pub(crate) use domain::uncertainty::balances::balance;
pub(crate) use domain::uncertainty::budget::budget;
pub(crate) use domain::uncertainty::combination::{replicate_mean, weighted_mean};
pub(crate) use domain::uncertainty::coverage::effective_freedom;
pub(crate) use domain::uncertainty::dilution::dilution;
pub(crate) use domain::uncertainty::product::product;
pub(crate) use domain::uncertainty::recovery::{correct, recovery_test};
pub(crate) use domain::uncertainty::tolerances::{cylinder, pipette};
