//! Properties that hold whatever the data: symmetries, orders, inverses, and no panic.
#![expect(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "tests may unwrap and index"
)]

use proptest::prelude::*;
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;

use super::censored::{
    BoundsInput, CensoredInput, CensoredValue, KaplanMeierInput, OrderStatisticsInput,
    kaplan_meier, lognormal_likelihood, regression_on_order_statistics, substitution_bounds,
};
use super::comparison::{
    BiasInput, DemingErrors, DemingInput, PassingBablokInput, deming, method_bias, passing_bablok,
};
use super::control::{
    CusumInput, CusumUnit, IndividualsInput, MultiruleInput, cusum_chart, individuals_chart,
    multirule,
};
use super::distributions::{Distribution, DistributionAsked, DistributionQuestion, distribution};
use super::lines::{LineInput, PointWeights, line_fit};
use super::logistic::{
    CurveAxis, LogisticCurve, LogisticFitInput, LogisticInverseInput, fit_logistic,
    logistic_inverse,
};
use super::precision::{GrubbsInput, PrecisionStudy, Sides, grubbs, precision_study};
use super::proportions::{ProportionInput, proportion};
use super::robust::{QuartileRule, RobustConstants, RobustInput, robust_figures};
use crate::quantity::Number;

/// A tenth, so that there are ties.
fn coarse() -> impl Strategy<Value = Number> {
    (-400_i64..400).prop_map(|tenths| Number(Decimal::new(tenths, 1)))
}

fn list(least: usize, most: usize) -> impl Strategy<Value = Vec<Number>> {
    prop::collection::vec(coarse(), least..most)
}

fn pairs() -> impl Strategy<Value = (Vec<Number>, Vec<Number>)> {
    prop::collection::vec((coarse(), coarse()), 3..14).prop_map(|both| both.into_iter().unzip())
}

fn near(one: Number, other: Number) -> bool {
    let (one, other) = (one.0.to_f64().unwrap(), other.0.to_f64().unwrap());
    (one - other).abs() <= 1e-8 * (1.0 + one.abs().max(other.abs()))
}

fn robust(values: Vec<Number>) -> RobustInput {
    RobustInput {
        values,
        constants: RobustConstants::Exact,
        quartiles: QuartileRule::Linear,
    }
}

fn line_of(x: Vec<Number>, y: Vec<Number>) -> PassingBablokInput {
    PassingBablokInput {
        x,
        y,
        confidence: None,
    }
}

fn ratio_of(x: Vec<Number>, y: Vec<Number>) -> DemingInput {
    DemingInput {
        x,
        y,
        errors: DemingErrors::VarianceRatio(Number(Decimal::ONE)),
        confidence: None,
    }
}

/// Every pair's slope by the definition, for the fast one to be compared with.
fn slopes(x: &[Number], y: &[Number]) -> (Vec<f64>, usize) {
    let mut all = Vec::new();
    let minus_one = Decimal::NEGATIVE_ONE;
    for one in 0..x.len() {
        for other in one + 1..x.len() {
            let (dx, dy) = (x[other].0 - x[one].0, y[other].0 - y[one].0);
            match (dx.is_zero(), dy.is_zero()) {
                (true, true) => {}
                (true, false) => all.push(f64::INFINITY),
                (false, _) if dy == -dx => {}
                (false, _) => all.push(dy.to_f64().unwrap() / dx.to_f64().unwrap()),
            }
        }
    }
    all.sort_by(f64::total_cmp);
    let below = all
        .iter()
        .filter(|slope| **slope < minus_one.to_f64().unwrap())
        .count();
    (all, below)
}

proptest! {
    #[test]
    fn passing_and_bablok_is_the_shifted_median_of_all_slopes((x, y) in pairs()) {
        if let Ok(line) = passing_bablok(&line_of(x.clone(), y.clone())) {
            let (all, below) = slopes(&x, &y);
            prop_assert_eq!((line.slopes, line.offset), (all.len(), below));
            let at = |rank: usize| all[rank + below - 1];
            let middle = 0.5 * (at(all.len().div_ceil(2)) + at(all.len() / 2 + 1));
            let [low, high] = line.ranks.map(at);
            let [shown_low, shown_high] = line.slope_interval;
            for (shown, slope) in [(line.slope, middle), (shown_low, low), (shown_high, high)] {
                let shown = shown.0.to_f64().unwrap();
                prop_assert!((shown - slope).abs() < 1e-9 * (1.0 + slope.abs()));
            }
        }
    }

    #[test]
    fn lines_of_two_methods_do_not_depend_on_the_order((x, y) in pairs()) {
        let back = |list: &[Number]| list.iter().rev().copied().collect::<Vec<_>>();
        let (rx, ry) = (back(&x), back(&y));
        prop_assert_eq!(
            passing_bablok(&line_of(x.clone(), y.clone())),
            passing_bablok(&line_of(rx.clone(), ry.clone()))
        );
        if let (Ok(one), Ok(other)) = (deming(&ratio_of(x, y)), deming(&ratio_of(rx, ry))) {
            prop_assert_eq!(one.slope, other.slope);
        }
    }

    #[test]
    fn exchanging_the_methods_turns_demings_line_round((x, y) in pairs()) {
        let (one, other) = (deming(&ratio_of(x.clone(), y.clone())), deming(&ratio_of(y, x)));
        if let (Ok(one), Ok(other)) = (one, other)
            && let Some(product) = one.slope.0.checked_mul(other.slope.0)
        {
            prop_assert!(near(Number(product), Number(Decimal::ONE)), "{}", product);
        }
    }

    #[test]
    fn robust_figures_move_with_the_values_and_not_with_their_order(values in list(3, 20)) {
        let shift = Decimal::from(1000);
        let moved = values.iter().rev().map(|value| Number(value.0 + shift)).collect();
        let (one, other) = (robust_figures(&robust(values)), robust_figures(&robust(moved)));
        if let (Ok(one), Ok(other)) = (one, other) {
            prop_assert!(near(Number(one.robust_mean.0 + shift), other.robust_mean));
            prop_assert!(near(one.robust_standard_deviation, other.robust_standard_deviation));
        }
    }

    #[test]
    fn a_quantile_has_its_probability(p in 1_i64..1000, freedom in 1_i64..60, kind in 0_usize..5) {
        let p = Number(Decimal::new(p, 3));
        let degrees_of_freedom = Number(Decimal::from(freedom));
        let of = match kind {
            0 => Distribution::Normal {},
            1 => Distribution::StudentT { degrees_of_freedom },
            2 => Distribution::ChiSquared { degrees_of_freedom },
            3 => Distribution::RangeOfNormal { values: 2 + usize::try_from(freedom / 6).unwrap() },
            _ => Distribution::FisherF {
                numerator_degrees_of_freedom: degrees_of_freedom,
                denominator_degrees_of_freedom: Number(Decimal::from(7)),
            },
        };
        if p.0 < Decimal::ONE {
            let at = DistributionAsked::Probability(p);
            let value = distribution(&DistributionQuestion { of, at }).unwrap().value;
            let at = DistributionAsked::Value(value);
            let back = distribution(&DistributionQuestion { of, at }).unwrap().below;
            prop_assert!(near(back, p), "{of:?}: {value} has {back}, not {p}");
        }
    }

    #[test]
    fn a_concentration_read_from_a_curve_gives_the_response_back(
        share in 2_i64..98, slope in 5_i64..30, midpoint in 1_i64..500, falling in any::<bool>(),
    ) {
        let slope = Number(Decimal::new(if falling { slope } else { -slope }, 1));
        let curve = LogisticCurve {
            lower: Number(Decimal::new(2, 1)),
            upper: Number(Decimal::from(2)),
            slope,
            midpoint: Number(Decimal::from(midpoint)),
            axis: CurveAxis::Logarithmic,
        };
        let y = Number(Decimal::new(2, 1) + Decimal::new(18, 1) * Decimal::new(share, 2));
        let input = LogisticInverseInput { curve, y: vec![y], s_y: None, replicates: None };
        let x = logistic_inverse(&input).unwrap()[0].x.0.to_f64().unwrap();
        let odds = (slope.0.to_f64().unwrap() * (x / midpoint.to_f64().unwrap()).ln()).exp();
        let response = 0.2 + 1.8 / (1.0 + odds);
        prop_assert!((response - y.0.to_f64().unwrap()).abs() < 1e-9);
    }

    #[test]
    fn an_interval_holds_its_share(positives in 0_u32..300, others in 0_u32..300) {
        let input = ProportionInput { positives, tested: positives + others, confidence: None };
        if let Ok(share) = proportion(&input) {
            for [low, high] in [share.wilson, share.exact] {
                prop_assert!(low <= share.share && share.share <= high);
                prop_assert!(low.0 >= Decimal::ZERO && high.0 <= Decimal::ONE);
            }
        }
    }

    #[test]
    fn bounds_enclose_the_estimate_of_kaplan_and_meier(
        set in prop::collection::vec((1_i64..200, any::<bool>()), 1..20),
    ) {
        let value = |(tenths, below): (i64, bool)| {
            let number = Number(Decimal::new(tenths, 1));
            if below { CensoredValue::Below(number) } else { CensoredValue::Known(number) }
        };
        let values: Vec<CensoredValue> = set.into_iter().map(value).collect();
        let bounds = substitution_bounds(&BoundsInput {
            values: values.clone(),
            convention: Default::default(),
        }).unwrap();
        prop_assert!(bounds.lower.mean <= bounds.middle.mean);
        prop_assert!(bounds.middle.mean <= bounds.upper.mean);
        let km = kaplan_meier(&KaplanMeierInput {
            values: values.clone(),
            remaining_mass: Default::default(),
        });
        if let Ok(km) = &km {
            let total = km.steps.iter().map(|step| step.mass.0).sum::<Decimal>() + km.remaining.0;
            prop_assert!(near(Number(total), Number(Decimal::ONE)));
        }
        if bounds.censored == 0 {
            prop_assert!(near(km.unwrap().mean, bounds.lower.mean));
        }
        // Refused or answered, never anything else.
        let _ = lognormal_likelihood(&CensoredInput { values: values.clone() });
        let _ = regression_on_order_statistics(&OrderStatisticsInput {
            values,
            plotting_constant: None,
            above_largest: Default::default(),
        });
    }

    #[test]
    fn sums_of_squares_add_up(level in prop::collection::vec(list(0, 5), 2..6)) {
        let study = PrecisionStudy { levels: vec![level.clone()], limit_factor: None };
        if let Ok(levels) = precision_study(&study) {
            let all: Vec<f64> = level.iter().flatten().map(|x| x.0.to_f64().unwrap()).collect();
            let mean = all.iter().sum::<f64>() / all.len().to_f64().unwrap();
            let total: f64 = all.iter().map(|x| (x - mean).powi(2)).sum();
            let parts = levels[0].ss_between.0 + levels[0].ss_within.0;
            prop_assert!((parts.to_f64().unwrap() - total).abs() < 1e-7 * (1.0 + total));
            prop_assert!(levels[0].s_reproducibility >= levels[0].s_r);
        }
    }

    #[test]
    fn whatever_is_entered_is_answered_or_refused((x, y) in pairs(), values in list(0, 12)) {
        let none = || vec![];
        let _ = line_fit(&LineInput {
            x: x.clone(),
            y: y.clone(),
            weights: PointWeights::Equal,
            origin: None,
            predict_at: vec![Number(Decimal::TEN)],
            readings: none_of(),
            confidence: None,
        });
        let _ = fit_logistic(&LogisticFitInput {
            x: x.iter().map(|x| Number(x.0.abs())).collect(),
            y: y.clone(),
            weights: none(),
            axis: CurveAxis::Logarithmic,
            fixed_lower: None,
            fixed_upper: None,
            effects_percent: none(),
            readings: none_of(),
            confidence: None,
            errors: Default::default(),
            turning_allowed_percent: None,
        });
        let _ = method_bias(&BiasInput {
            reference: x,
            test: y,
            kind: Default::default(),
            confidence: None,
        });
        let _ = grubbs(&GrubbsInput { values: values.clone(), sides: Sides::Two });
        let _ = robust_figures(&robust(values.clone()));
        let _ = individuals_chart(&IndividualsInput {
            values,
            baseline: None,
            span: None,
            factors: Default::default(),
        });
    }

    #[test]
    fn a_shifted_mean_only_ever_moves_the_sums_up(values in list(1, 30), shift in 0_i64..50) {
        let chart = |shift: i64| cusum_chart(&CusumInput {
            values: values.iter().map(|value| Number(value.0 + Decimal::from(shift))).collect(),
            target: Number(Decimal::ZERO),
            k: Number(Decimal::ONE),
            h: Number(Decimal::from(5)),
            unit: CusumUnit::OfValues,
            s: None,
            head_start: None,
        }).unwrap();
        let (plain, moved) = (chart(0), chart(shift));
        for (one, other) in plain.high.iter().zip(&moved.high) {
            prop_assert!(one <= other);
        }
    }

    #[test]
    fn rules_do_not_depend_on_the_side(values in list(1, 40)) {
        let said = |sign: Decimal| multirule(&MultiruleInput {
            values: values.iter().map(|value| Number(sign * value.0)).collect(),
            means: vec![Number(Decimal::ZERO)],
            standard_deviations: vec![Number(Decimal::TEN)],
            first_number: None,
            runs: vec![],
            rules: vec![],
            dated_at: Default::default(),
        }).unwrap();
        let (up, down) = (said(Decimal::ONE), said(Decimal::NEGATIVE_ONE));
        prop_assert_eq!(up.signals, down.signals);
    }
}

fn none_of<T>() -> Vec<T> {
    Vec::new()
}

#[test]
fn large_sets_of_pairs_have_the_ranks_of_their_slopes() {
    // Invented: a line with a coarse disturbance, so that many slopes are equal.
    let x: Vec<Number> = (0..400_i64)
        .map(|n| Number(Decimal::new(n * 7 % 311, 1)))
        .collect();
    let y: Vec<Number> = (0..400_i64)
        .map(|n| Number(Decimal::new(n * 7 % 311 + n * n % 17, 1)))
        .collect();
    let line = passing_bablok(&line_of(x.clone(), y.clone())).unwrap();
    let (all, below) = slopes(&x, &y);
    assert_eq!((line.slopes, line.offset), (all.len(), below));
    let at = |rank: usize| all[rank + below - 1];
    assert!((line.slope_interval[0].0.to_f64().unwrap() - at(line.ranks[0])).abs() < 1e-11);
    assert!((line.slope_interval[1].0.to_f64().unwrap() - at(line.ranks[1])).abs() < 1e-11);
}
