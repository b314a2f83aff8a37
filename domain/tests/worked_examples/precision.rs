//! Precision and trueness: `03_precision.toml`.

use super::call::{
    critical_differences, critical_range_of, group_variation, mandel_limits, outlier_critical,
    precision_limits, precision_study, predicted_precision, quoted_result,
};
use super::case::{Answers, Case, Failure, Value};
use super::gather::{Gather, share_in, times};
use domain::quantity::Number;
use domain::results::Statistic;
use domain::statistics::precision::{
    CriticalDifference, CriticalRangeInput, GroupSummaries, MandelInput, OutlierCriticalInput,
    OutlierTest, PrecisionLimitsInput, PrecisionStudy, Predictor, PredictorInput, QuotedInput,
    Sides,
};
use rust_decimal::Decimal;

pub(crate) fn compute(case: &Case) -> Result<Answers, Failure> {
    if case.has("series") {
        return quoted(case);
    }
    if !case.tables()?.is_empty() {
        return study(case);
    }
    if case.expects("h_crit") {
        return mandel(case);
    }
    if case.expects("crit_5_percent") {
        return outliers(case);
    }
    if case.has("daily_mean_V") {
        return days(case);
    }
    if case.expects("C_r_percent") || (case.has("s_r") && case.has("s_R")) {
        return limits(case);
    }
    if case.expects("quantile") || case.expects("f") {
        return ranges(case);
    }
    if case.has("n1") {
        return differences(case);
    }
    if case.has("c") {
        return predicted(case);
    }
    Err(Failure::Unknown)
}

fn study(case: &Case) -> Result<Answers, Failure> {
    let study = PrecisionStudy {
        levels: case.tables()?,
        limit_factor: None,
    };
    let levels = precision_study(&study)?;
    let each = |take: fn(&domain::statistics::precision::PrecisionLevel) -> Number| {
        levels.iter().map(take).collect::<Vec<Number>>()
    };
    let f: Vec<Number> = levels.iter().filter_map(|level| level.f).collect();
    Ok(Gather::of(case)
        .put_each("mean", each(|level| level.mean))
        .put_each("s_xbar", each(|level| level.s_of_means))
        .put_each("s_r", each(|level| level.s_r))
        .put_each("s_R", each(|level| level.s_reproducibility))
        .put_each("s_L", each(|level| level.s_l))
        .put_each("r", each(|level| level.r))
        .put_each("R", each(|level| level.reproducibility_limit))
        .put_each("ss_between", each(|level| level.ss_between))
        .put_each("ss_within", each(|level| level.ss_within))
        .put_each("ms_between", each(|level| level.ms_between))
        .put_each("ms_within", each(|level| level.ms_within))
        .put_each("s_L_squared", each(|level| level.between_variance))
        .put_each("F", f)
        .done())
}

fn outliers(case: &Case) -> Result<Answers, Failure> {
    let at = |percent: i64| -> Result<Vec<Number>, Failure> {
        let significance = Number(Decimal::new(percent, 2));
        let critical = |of: OutlierTest| {
            Ok(outlier_critical(&OutlierCriticalInput { of, significance })?.critical)
        };
        let sizes = case.wholes("n")?;
        if !case.has("p") {
            let sides = Sides::Two;
            let grubbs = sizes
                .into_iter()
                .map(|values| OutlierTest::Grubbs { values, sides });
            return grubbs.map(critical).collect();
        }
        let pairs = case.wholes("p")?.into_iter().zip(sizes);
        pairs
            .map(|(laboratories, replicates)| OutlierTest::Cochran {
                laboratories,
                replicates,
            })
            .map(critical)
            .collect()
    };
    Ok(Gather::of(case)
        .put("crit_5_percent", at(5)?)
        .put("crit_1_percent", at(1)?)
        .done())
}

fn mandel(case: &Case) -> Result<Answers, Failure> {
    let percent = case.number("significance_percent")?;
    let significance = Number(percent / Decimal::ONE_HUNDRED);
    let limits = mandel_limits(&MandelInput {
        significance,
        laboratories: case.whole("p")?,
        replicates: case.whole("n")?,
    })?;
    Ok(Gather::of(case)
        .put("h_crit", limits.h)
        .put("k_crit", limits.k)
        .done())
}

fn days(case: &Case) -> Result<Answers, Failure> {
    // The means are in volts, their standard deviations in microvolts.
    let million = Decimal::from(1_000_000);
    let in_volts = |s: Number| Number(s.0 / million);
    let named: Vec<(&String, Number)> = case
        .expected
        .keys()
        .filter(|name| name.starts_with("F_crit_"))
        .filter_map(|name| Some((name, share_in(name)?)))
        .collect();
    let said = group_variation(&GroupSummaries {
        means: case.many("daily_mean_V")?,
        standard_deviations: case.many("daily_s_uV")?.into_iter().map(in_volts).collect(),
        observations: case.whole("K")?,
        probabilities: named.iter().map(|(_, share)| *share).collect(),
    })?;
    let micro = |number: Number| times(number, 1_000_000);
    let mut answers = Gather::of(case)
        .put("mean_V", said.mean)
        .put("s_of_means_uV", micro(said.s_of_means))
        .put("s_a_uV", micro(said.s_between_estimate))
        .put("s_b_uV", micro(said.s_within))
        .put_some("F", said.f)
        .put("s_between_uV", micro(said.s_between))
        .put("u_mean_uV", micro(said.u_mean));
    for ((name, _), critical) in named.iter().zip(said.f_critical) {
        answers = answers.put(name, critical);
    }
    Ok(answers.done())
}

fn limits(case: &Case) -> Result<Answers, Failure> {
    let all = precision_limits(&PrecisionLimitsInput {
        means: case.many("mean")?,
        s_r: case.many("s_r")?,
        s_reproducibility: case.many("s_R")?,
        limit_factor: None,
    })?;
    let list = |take: fn(&domain::statistics::precision::PrecisionLimits) -> Number| {
        all.iter().map(take).collect::<Vec<Number>>()
    };
    Ok(Gather::of(case)
        .put_each("r", list(|limits| limits.r))
        .put_each("R", list(|limits| limits.reproducibility_limit))
        .put_each("C_r_percent", list(|limits| limits.cv_r_percent))
        .put_each(
            "C_R_percent",
            list(|limits| limits.cv_reproducibility_percent),
        )
        .done())
}

fn ranges(case: &Case) -> Result<Answers, Failure> {
    let ranges = case
        .wholes("n")?
        .into_iter()
        .map(|determinations| critical_range_of(&CriticalRangeInput { determinations }))
        .collect::<Result<Vec<_>, _>>()?;
    let factors: Vec<Number> = ranges.iter().filter_map(|range| range.factor).collect();
    Ok(Gather::of(case)
        .put("f", factors)
        .put(
            "quantile",
            ranges
                .iter()
                .map(|range| range.quantile)
                .collect::<Vec<_>>(),
        )
        .done())
}

fn quoted(case: &Case) -> Result<Answers, Failure> {
    let series = case.rows("series")?;
    let (mut values, mut counts, mut statistics) = (vec![], vec![], vec![]);
    for determinations in series {
        let said = quoted_result(&QuotedInput {
            determinations: determinations.into_iter().map(Number).collect(),
            sigma_r: case.one("sigma_r")?,
            further: domain::statistics::precision::FurtherResults::Two,
        })?;
        values.push(said.value);
        counts.push(said.determinations);
        statistics.push(match said.statistic {
            Statistic::Single => "single",
            Statistic::Mean => "mean",
            Statistic::Median => "median",
        });
    }
    Ok(Gather::of(case)
        .put("final", values)
        .put("n", counts)
        .put("statistic", Value::from(statistics))
        .done())
}

fn differences(case: &Case) -> Result<Answers, Failure> {
    let said = critical_differences(&CriticalDifference {
        sigma_r: case.one("sigma_r")?,
        sigma_reproducibility: case.one("sigma_R")?,
        first: case.whole("n1")?,
        second: case.whole("n2")?,
        limit_factor: None,
    })?;
    Ok(Gather::of(case)
        .put("within_one_laboratory", said.within_one_laboratory)
        .put("between_two_laboratories", said.between_two_laboratories)
        .done())
}

fn predicted(case: &Case) -> Result<Answers, Failure> {
    let found = if case.has("rsd_R_found_percent") {
        case.many("rsd_R_found_percent")?
    } else {
        vec![]
    };
    let with = |predictor: Predictor| {
        predicted_precision(&PredictorInput {
            mass_fractions: case.many("c")?,
            found_percent: found.clone(),
            predictor,
        })
        .map_err(Failure::from)
    };
    let percents = |predictor: Predictor| -> Result<Vec<Number>, Failure> {
        let said = with(predictor)?;
        Ok(said
            .expected
            .iter()
            .map(|one| one.relative_percent)
            .collect())
    };
    let ratios = with(Predictor::Thompson)?;
    let ratios: Vec<Number> = ratios
        .expected
        .iter()
        .filter_map(|one| one.horrat)
        .collect();
    Ok(Gather::of(case)
        .put("prsd_R_percent", percents(Predictor::Horwitz)?)
        .put("sigma_rel_percent", percents(Predictor::Thompson)?)
        .put("horrat", ratios)
        .done())
}
