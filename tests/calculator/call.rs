//! How a computation is called: here, over HTTP.
//!
//! Each function posts what it is given to an address of the calculator and reads the answer back
//! into the type of the domain, under the name that the function has there.

use crate::harness::callers::Caller;
use domain::{
    decisions::calculated::{DecidedFinding, DecisionInputs},
    decisions::conformity::{Conformity, ConformityInputs, GuardBand, GuardBandInputs},
    decisions::official_control::{OfficialControlInputs, OfficialDecision},
    rounding::compared::{Compared, ComparisonInputs},
    rounding::each::{RoundedValue, RoundingInputs},
    rounding::reported::{ReportInputs, Reported},
    statistics::censored::{
        BoundsInput, CensoredInput, KaplanMeier, KaplanMeierInput, LognormalLikelihood,
        OrderStatistics, OrderStatisticsInput, SubstitutionBounds, ToxinSum, ToxinSumInput,
    },
    statistics::comparison::{DemingFit, DemingInput, PassingBablokFit, PassingBablokInput},
    statistics::control::{
        AverageRunLength, ControlFactors, ControlFactorsInput, CusumChart, CusumInput,
        DuplicateRangeInput, EwmaChart, EwmaInput, IndividualsChart, IndividualsInput,
        MultiruleInput, MultiruleOutcome, RangeLimits, RunLengthInput,
    },
    statistics::detection::{
        DetectionLimits, LineLimits, LineLimitsInput, MethodDetectionInput, MethodDetectionLimit,
        PseudoBlankInput, ReplicateBlankInput,
    },
    statistics::distributions::{DistributionAnswer, DistributionQuestion},
    statistics::lines::{LineFit, LineInput},
    statistics::logistic::{
        InverseConcentration, LogisticFit, LogisticFitInput, LogisticInverseInput,
    },
    statistics::precision::{
        CriticalDifference, CriticalDifferences, CriticalRange, CriticalRangeInput,
        ExpectedPrecision, GroupSummaries, GroupVariation, MandelInput, MandelLimits,
        OutlierCritical, OutlierCriticalInput, PrecisionLevel, PrecisionLimits,
        PrecisionLimitsInput, PrecisionStudy, PredictorInput, QuotedInput, QuotedResult,
    },
    statistics::proficiency::{ProficiencyRound, ProficiencyScores},
    statistics::proportions::{ConfusionCounts, Proportion, ProportionInput, TestWorth},
    statistics::random_effects::{RandomEffects, RandomEffectsInputs},
    statistics::robust::{RobustFigures, RobustInput, RobustScales, RobustScalesInput},
    statistics::screening::{CutOffFigures, CutOffInput},
    statistics::tolerance::{ToleranceFactor, ToleranceInput},
    uncertainty::balances::{BalanceInputs, BalanceLimits},
    uncertainty::budget::{BudgetInputs, ComputedBudget},
    uncertainty::combination::{
        ReplicateMean, ReplicateMeanInputs, WeightedMean, WeightedMeanInputs,
    },
    uncertainty::coverage::{EffectiveFreedom, EffectiveFreedomInputs},
    uncertainty::dilution::{ComputedDilution, DilutionInputs},
    uncertainty::product::{ComputedProduct, ProductInputs},
    uncertainty::recovery::{Corrected, CorrectionInputs, RecoveryInputs, RecoveryTest},
    uncertainty::tolerances::{CylinderInputs, CylinderTolerance, PipetteInputs, PipetteLimits},
};
use serde::{Serialize, de::DeserializeOwned};
use std::{cell::RefCell, collections::BTreeSet};
use tokio::runtime::Handle;

/// Who calls, on which runtime, and what was called so far.
struct Calling {
    runtime: Handle,
    caller: Caller,
    called: BTreeSet<&'static str>,
}

thread_local! {
    static CALLING: RefCell<Option<Calling>> = const { RefCell::new(None) };
}

/// Why there is no answer.
#[derive(Debug, thiserror::Error)]
#[error("{address} answered {status}: {body}")]
pub(crate) struct Refused {
    address: String,
    status: u16,
    body: serde_json::Value,
}

/// Does some work whose computations this caller asks for, on a thread that may wait; gives what it
/// came to, and the addresses that were called.
pub(super) fn as_caller<T>(
    runtime: Handle,
    caller: Caller,
    work: impl FnOnce() -> T,
) -> (T, BTreeSet<&'static str>) {
    let called = BTreeSet::new();
    CALLING.set(Some(Calling {
        runtime,
        caller,
        called,
    }));
    let done = work();
    (done, CALLING.take().unwrap().called)
}

fn post<I: Serialize, O: DeserializeOwned>(path: &'static str, input: &I) -> Result<O, Refused> {
    let address = format!("/v1/calculator/{path}");
    let body = serde_json::to_value(input).unwrap();
    let answer = CALLING.with_borrow_mut(|calling| {
        let calling = calling.as_mut().unwrap();
        calling.called.insert(path);
        let asked = calling.caller.post(&address, body);
        calling.runtime.block_on(asked)
    });
    if answer.status.as_u16() != 200 {
        return Err(Refused {
            address,
            status: answer.status.as_u16(),
            body: answer.body,
        });
    }
    Ok(serde_json::from_value(answer.body).unwrap())
}

#[derive(serde::Deserialize)]
struct InOrder<T> {
    items: Vec<T>,
}

macro_rules! over_http {
    ($($name:ident($input:ident) -> $output:tt = $path:literal;)*) => {
        $(over_http!(@one $name, $input, $output, $path);)*
    };
    (@one $name:ident, $input:ident, [$item:ident], $path:literal) => {
        pub(super) fn $name(input: &$input) -> Result<Vec<$item>, Refused> {
            post::<_, InOrder<$item>>($path, input).map(|answer| answer.items)
        }
    };
    (@one $name:ident, $input:ident, $output:ident, $path:literal) => {
        pub(super) fn $name(input: &$input) -> Result<$output, Refused> {
            post($path, input)
        }
    };
}

over_http! {
    budget(BudgetInputs) -> ComputedBudget = "budgets/lines";
    product(ProductInputs) -> ComputedProduct = "budgets/product";
    effective_freedom(EffectiveFreedomInputs) -> EffectiveFreedom = "budgets/effective-degrees-of-freedom";
    dilution(DilutionInputs) -> ComputedDilution = "dilution/factor";
    pipette(PipetteInputs) -> PipetteLimits = "dilution/pipette";
    cylinder(CylinderInputs) -> CylinderTolerance = "dilution/cylinder";
    balance(BalanceInputs) -> BalanceLimits = "dilution/balance";
    recovery_test(RecoveryInputs) -> RecoveryTest = "combination/recovery-test";
    correct(CorrectionInputs) -> Corrected = "combination/recovery-correction";
    replicate_mean(ReplicateMeanInputs) -> ReplicateMean = "combination/replicate-mean";
    weighted_mean(WeightedMeanInputs) -> WeightedMean = "combination/weighted-mean";
    random_effects(RandomEffectsInputs) -> RandomEffects = "combination/laboratories";
    decide_findings(DecisionInputs) -> [DecidedFinding] = "decisions/findings";
    conformity(ConformityInputs) -> [Conformity] = "decisions/conformity";
    guard_band(GuardBandInputs) -> GuardBand = "decisions/guard-band";
    official_control(OfficialControlInputs) -> OfficialDecision = "decisions/official-control";
    round_each(RoundingInputs) -> [RoundedValue] = "rounding/values";
    report(ReportInputs) -> Reported = "rounding/report";
    compare(ComparisonInputs) -> [Compared] = "rounding/comparison";
    cut_off_figures(CutOffInput) -> CutOffFigures = "screening/cut-off";
    test_worth(ConfusionCounts) -> TestWorth = "screening/test-worth";
    proportion(ProportionInput) -> Proportion = "screening/proportion";
    tolerance_factor(ToleranceInput) -> ToleranceFactor = "screening/tolerance-factor";
    distribution(DistributionQuestion) -> DistributionAnswer = "screening/distribution";
    quoted_result(QuotedInput) -> QuotedResult = "precision/quoted-result";
    critical_range_of(CriticalRangeInput) -> CriticalRange = "precision/critical-range";
    critical_differences(CriticalDifference) -> CriticalDifferences = "precision/critical-differences";
    precision_limits(PrecisionLimitsInput) -> [PrecisionLimits] = "precision/limits";
    precision_study(PrecisionStudy) -> [PrecisionLevel] = "precision/study";
    outlier_critical(OutlierCriticalInput) -> OutlierCritical = "precision/outlier-critical-value";
    mandel_limits(MandelInput) -> MandelLimits = "precision/mandel-limits";
    group_variation(GroupSummaries) -> GroupVariation = "precision/groups";
    predicted_precision(PredictorInput) -> ExpectedPrecision = "precision/predicted";
    individuals_chart(IndividualsInput) -> IndividualsChart = "control/individuals-chart";
    range_limits(DuplicateRangeInput) -> RangeLimits = "control/range-limits";
    ewma_chart(EwmaInput) -> EwmaChart = "control/ewma-chart";
    cusum_chart(CusumInput) -> CusumChart = "control/cusum-chart";
    multirule(MultiruleInput) -> MultiruleOutcome = "control/multirule";
    average_run_length(RunLengthInput) -> AverageRunLength = "control/run-length";
    factors_of(ControlFactorsInput) -> ControlFactors = "control/factors";
    proficiency_scores(ProficiencyRound) -> ProficiencyScores = "proficiency/scores";
    robust_figures(RobustInput) -> RobustFigures = "proficiency/robust-figures";
    robust_scales(RobustScalesInput) -> RobustScales = "proficiency/robust-scales";
    line_fit(LineInput) -> LineFit = "lines/fit";
    deming(DemingInput) -> DemingFit = "lines/deming";
    passing_bablok(PassingBablokInput) -> PassingBablokFit = "lines/passing-bablok";
    fit_logistic(LogisticFitInput) -> LogisticFit = "logistic/fit";
    logistic_inverse(LogisticInverseInput) -> [InverseConcentration] = "logistic/inverse";
    line_limits(LineLimitsInput) -> LineLimits = "detection/line-limits";
    pseudo_blank_limits(PseudoBlankInput) -> DetectionLimits = "detection/pseudo-blanks";
    replicate_limits(ReplicateBlankInput) -> DetectionLimits = "detection/replicate-blanks";
    method_detection_limit(MethodDetectionInput) -> MethodDetectionLimit = "detection/method-limit";
    substitution_bounds(BoundsInput) -> SubstitutionBounds = "censored/bounds";
    kaplan_meier(KaplanMeierInput) -> KaplanMeier = "censored/kaplan-meier";
    regression_on_order_statistics(OrderStatisticsInput) -> OrderStatistics = "censored/order-statistics";
    lognormal_likelihood(CensoredInput) -> LognormalLikelihood = "censored/likelihood";
    toxin_sum(ToxinSumInput) -> ToxinSum = "censored/toxin-sum";
}
