//! Decision rules: JCGM 106 probabilities, guard bands and statements of ILAC-G8, the EU rule.

use rust_decimal::Decimal;
use serde_json::json;

use domain::decisions::conformity::{Conformity, GuardBand};

use super::call::{conformity, decide_findings, guard_band, official_control};
use super::case::{Answers, Case, Failure, given, written};

pub(crate) fn compute(case: &Case) -> Result<Answers, Failure> {
    match case.id.as_str() {
        "jcgm106-one-sided-upper-limit" => {
            let found = within(
                &[case.number("y_V")?],
                case.number("u_V")?,
                None,
                case.number("T_U_V")?,
            )?;
            let one = first(&found)?;
            Ok(Answers::default()
                .put("z", number(one.upper_z)?)
                .put("p_c", one.probability_of_conformity))
        }
        "jcgm106-two-sided-limits" => {
            let found = within(
                &[case.number("y_mm2_per_s")?],
                case.number("u_mm2_per_s")?,
                Some(case.number("T_L")?),
                case.number("T_U")?,
            )?;
            let one = first(&found)?;
            Ok(Answers::default()
                .put("phi_upper", number(one.below_upper)?)
                .put("phi_lower", number(one.below_lower)?)
                .put("p_c", one.probability_of_conformity))
        }
        "ilac-g8-guard-band-risk-table" => risks(case),
        "ilac-g8-non-binary-statements" => statements(case),
        "eu-2023-2782-beyond-reasonable-doubt" => beyond_doubt(case),
        "one-sided-guard-band-k" => one_sided(case),
        "conformity-probability-table" => {
            let found = within(
                &case.numbers("y")?,
                case.number("u")?,
                None,
                case.number("T_U")?,
            )?;
            let all: Vec<_> = found
                .iter()
                .map(|one| one.probability_of_conformity)
                .collect();
            Ok(Answers::default().put("p_c", all))
        }
        _ => Err(Failure::Unknown),
    }
}

fn within(
    values: &[Decimal],
    standard: Decimal,
    lower: Option<Decimal>,
    upper: Decimal,
) -> Result<Vec<Conformity>, Failure> {
    let values: Vec<String> = values.iter().map(Decimal::to_string).collect();
    let inputs = json!({"values": values, "standard_uncertainty": standard.to_string(),
        "lower_limit": lower.map(|limit| limit.to_string()), "upper_limit": upper.to_string()});
    Ok(conformity(&given(inputs)?)?)
}

fn first(found: &[Conformity]) -> Result<&Conformity, Failure> {
    found
        .first()
        .ok_or_else(|| Failure::Because("nothing was found".into()))
}

fn number<T>(found: Option<T>) -> Result<T, Failure> {
    found.ok_or_else(|| Failure::Because("a figure is missing".into()))
}

/// The risk at the acceptance limit does not depend on limit and uncertainty.
fn risks(case: &Case) -> Result<Answers, Failure> {
    let mut found = Vec::new();
    for r in case.numbers("r")? {
        let band = guard_band(&given(
            json!({"upper_limit": "20", "standard_uncertainty": "1",
            "guarded": "acceptance",
            "width": {"by": "of-expanded", "guard_factor": r.to_string()}}),
        )?)?;
        found.push(band.risk_at_limit);
    }
    Ok(Answers::default()
        .put("exact", found.clone())
        .put_bounded("published_bound", found))
}

fn statements(case: &Case) -> Result<Answers, Failure> {
    let uncertainty = json!({"expanded": written(case, "U")?, "coverage_factor": "2"});
    let findings: Vec<_> = case
        .numbers("y")?
        .iter()
        .map(|y| {
            json!({"finding": {"kind": "quantified", "value": y.to_string()},
            "uncertainty": uncertainty})
        })
        .collect();
    let decided = decide_findings(&given(json!({"limit": written(case, "T_U")?,
        "rule": {"rule": "non-binary"}, "findings": findings}))?)?;
    let likely = decided
        .iter()
        .map(|one| number(one.probability_of_conformity))
        .collect::<Result<Vec<_>, _>>()?;
    Ok(Answers::default()
        .put(
            "statement",
            decided
                .iter()
                .map(|one| one.statement.clone())
                .collect::<Vec<_>>(),
        )
        .put("p_c", likely))
}

fn beyond_doubt(case: &Case) -> Result<Answers, Failure> {
    let (mut rejected, mut rest) = (Vec::new(), Vec::new());
    for pair in case.rows("x_U")? {
        let [x, u] = pair.as_slice() else {
            return Err(Failure::Because("a pair is not two numbers".into()));
        };
        let decided = official_control(&given(json!({"maximum_level": written(case, "ML")?,
            "samples": [{"toxins": [{"found": x.to_string()}],
                "uncertainty": {"by": "expanded", "expanded": u.to_string()}}]}))?)?;
        rejected.push(decided.rejected);
        rest.extend(
            decided
                .samples
                .first()
                .map(|sample| sample.less_uncertainty),
        );
    }
    Ok(Answers::default()
        .put("reject", rejected)
        .put("x_minus_U", rest))
}

fn one_sided(case: &Case) -> Result<Answers, Failure> {
    let band = |freedom: Option<String>| -> Result<GuardBand, Failure> {
        Ok(guard_band(&given(
            json!({"upper_limit": written(case, "T_U")?,
            "standard_uncertainty": written(case, "u")?, "guarded": "acceptance",
            "width": {"by": "confidence", "percent": "95", "degrees_of_freedom": freedom}}),
        )?)?)
    };
    let (normal, student) = (
        band(None)?,
        band(Some(written(case, "degrees_of_freedom")?))?,
    );
    Ok(Answers::default()
        .put("k_normal", normal.factor)
        .put("A_U_normal", normal.acceptance_limit)
        .put("k_t", student.factor)
        .put("A_U_t", student.acceptance_limit))
}
