//! Dilution factors and their uncertainty: QUAM A1 and A5, GUM H.1, limits of glass and balances.

use rust_decimal::Decimal;
use serde_json::json;

use domain::quantity::Number;
use domain::uncertainty::budget::{BudgetInputs, ComputedBudget};
use domain::uncertainty::product::ProductInputs;

use super::call::{balance, budget, cylinder, dilution, effective_freedom, pipette, product};
use super::case::{Answers, Case, Failure, given, written};

pub(crate) fn compute(case: &Case) -> Result<Answers, Failure> {
    match case.id.as_str() {
        "quam-a1-cadmium-standard" => cadmium_standard(case),
        "quam-a5-measuring-cylinder-volume" => cylinder_volume(case),
        "gum-h1-end-gauge" => end_gauge(case),
        "iso8655-2-2002-permissible-errors" => pipettes_of_2002(case),
        "iso8655-1000uL-at-lower-settings" => lower_settings(case),
        "iso8655-2-2022-classes" => pipettes_of_2022(case),
        id if id.starts_with("astm-e1272") => cylinders(case, "astm-e1272"),
        "iso4788-graduated-cylinder-50" => one_cylinder(case),
        id if id.starts_with("iso4788") => cylinders(case, "iso-4788"),
        "dilution-one-step-100-plus-500" => one_step(case),
        "oiml-r76-class-ii-balance" => of_balance(case, "II"),
        "oiml-r76-class-iii-balance" => of_balance(case, "III"),
        _ => Err(Failure::Unknown),
    }
}

fn half_width(half_width: Decimal, shape: &str) -> serde_json::Value {
    json!({"kind": "half-width", "half_width": half_width.to_string(), "shape": shape})
}

fn temperature(case: &Case) -> Result<serde_json::Value, Failure> {
    Ok(json!({
        "kind": "temperature",
        "half_width_degc": written(case, "temperature_halfwidth_degC")?,
        "expansion_per_degc": written(case, "water_expansion_per_degC")?,
        "shape": case.text("temperature_distribution")?,
    }))
}

/// The contribution of a line.
fn of(budget: &ComputedBudget, source: &str) -> Result<Number, Failure> {
    let line = budget.lines.iter().find(|line| line.source == source);
    line.map(|line| line.contribution)
        .ok_or_else(|| Failure::Because(format!("no line {source}")))
}

fn standard(budget: &ComputedBudget, source: &str) -> Result<Number, Failure> {
    let line = budget.lines.iter().find(|line| line.source == source);
    line.map(|line| line.standard_uncertainty)
        .ok_or_else(|| Failure::Because(format!("no line {source}")))
}

fn cadmium_standard(case: &Case) -> Result<Answers, Failure> {
    let inputs: ProductInputs = given(json!({
        "constant": "1000",
        "factors": [
            {"name": "m", "value": written(case, "m_mg")?, "doubts": [{"source": "m",
                "doubt": {"kind": "standard", "standard": written(case, "u_m_mg")?}}]},
            {"name": "P", "value": written(case, "P")?, "doubts": [{"source": "P",
                "doubt": half_width(case.number("P_halfwidth")?, case.text("P_distribution")?)}]},
            {"name": "V", "value": written(case, "V_mL")?, "power": -1, "doubts": [
                {"source": "VT", "doubt": temperature(case)?},
                {"source": "Vflask", "doubt": half_width(
                    case.number("V_flask_halfwidth_mL")?, case.text("V_flask_distribution")?)},
                {"source": "Vrep", "doubt": {"kind": "deviation",
                    "standard_deviation": written(case, "V_repeatability_sd_mL")?}}]}],
        "round_parts": {"to": "significant-figures", "of": 1, "tie": "half-even"},
    }))?;
    let found = product(&inputs)?;
    let lines = &found.budget;
    let volume = found.factors.iter().find(|factor| factor.name == "V");
    let volume = volume.ok_or_else(|| Failure::Because("no factor V".into()))?;
    let contributions = ["m", "VT", "Vflask", "Vrep", "P"]
        .iter()
        .map(|source| of(lines, source))
        .collect::<Result<Vec<_>, _>>()?;
    let rounded = found.from_rounded_parts;
    Ok(Answers::default()
        .put("c_mg_per_L", found.value)
        .put("u_P", standard(lines, "P")?)
        .put("u_V_flask_mL", standard(lines, "Vflask")?)
        .put("u_V_temperature_mL", standard(lines, "VT")?)
        .put("u_V_mL", volume.standard_uncertainty)
        .put("u_c_mg_per_L", lines.combined)
        .put("contributions_m_VT_Vflask_Vrep_P", contributions)
        .put(
            "u_c_from_rounded_components_mg_per_L",
            rounded.ok_or_else(|| Failure::Because("nothing was rounded".into()))?,
        ))
}

fn cylinder_volume(case: &Case) -> Result<Answers, Failure> {
    let relative = |width: &str, shape: &str| -> Result<_, Failure> {
        Ok(
            json!({"kind": "half-width", "half_width": written(case, width)?,
            "shape": case.text(shape)?, "relative": true}),
        )
    };
    let volume: ProductInputs = given(json!({"factors": [
        {"name": "volume read", "value": written(case, "leachate_mL")?, "doubts": [
            {"source": "cylinder", "doubt": half_width(
                case.number("cylinder_tolerance_mL")?, case.text("cylinder_distribution")?)},
            {"source": "temperature", "doubt": temperature(case)?},
            {"source": "reading",
                "doubt": relative("reading_halfwidth_rel", "reading_distribution")?}]},
        {"name": "filling", "value": written(case, "fill_factor")?, "doubts": [
            {"source": "filling", "doubt": half_width(
                case.number("fill_halfwidth_rel")?, case.text("fill_distribution")?)}]}]}))?;
    let volume = product(&volume)?;
    // a = π/4 · d² · shape
    let area: ProductInputs = given(json!({
        "constant": "0.785398163397448309615660846",
        "factors": [
            {"name": "diameter", "value": written(case, "diameter_dm")?, "power": 2, "doubts": [
                {"source": "diameter", "doubt": {"kind": "standard",
                    "standard": written(case, "u_diameter_dm")?}}]},
            {"name": "shape", "value": "1", "doubts": [
                {"source": "shape", "doubt": {"kind": "confidence", "level_percent": "95",
                    "half_width": written(case, "shape_95_percent_halfwidth_rel")?}}]}]}))?;
    let area = product(&area)?;
    Ok(Answers::default()
        .put("V_L", volume.value.0 / Decimal::ONE_THOUSAND)
        .put("u_V_mL", volume.budget.combined)
        .put("area_dm2", area.value)
        .put("u_area_diameter_dm2", of(&area.budget, "diameter")?)
        .put("u_area_shape_dm2", of(&area.budget, "shape")?)
        .put("u_area_dm2", area.budget.combined))
}

/// The difference of the gauges from its three components; the printed degrees of freedom, 25.6,
/// come from the printed u(d), 9.7 nm.
fn difference(case: &Case) -> Result<ComputedBudget, Failure> {
    let components = case.numbers("u_d_components_nm")?;
    let freedoms = case.numbers("nu_d_components")?;
    let lines: Vec<_> = components
        .iter()
        .zip(&freedoms)
        .map(|(component, freedom)| {
            json!({"source": "d", "degrees_of_freedom": freedom.to_string(),
                "doubt": {"kind": "standard", "standard": component.to_string()}})
        })
        .collect();
    let inputs: BudgetInputs = given(json!({"lines": lines,
        "round_combined": {"to": "places", "of": 1, "tie": "half-even"}}))?;
    Ok(budget(&inputs)?)
}

fn end_gauge(case: &Case) -> Result<Answers, Failure> {
    let number = |name: &str| case.number(name);
    let d = difference(case)?;
    let nothing = || Failure::Because("no degrees of freedom".into());
    let nu_d = d.effective_degrees_of_freedom.ok_or_else(nothing)?;
    let exact_d: BudgetInputs = given(json!({"lines": case.numbers("u_d_components_nm")?.iter()
        .map(|one| json!({"source": "d", "doubt": {"kind": "standard",
            "standard": one.to_string()}})).collect::<Vec<_>>()}))?;
    let u_d = budget(&exact_d)?.combined;
    let length = number("l_s_nm")?;
    let line = |source: &str, u: Decimal, sensitivity: Decimal, nu: Option<Decimal>| {
        let mut line = json!({"source": source, "sensitivity": sensitivity.to_string(),
            "doubt": {"kind": "standard", "standard": u.to_string()}});
        if let (Some(nu), Some(members)) = (nu, line.as_object_mut()) {
            members.insert("degrees_of_freedom".into(), json!(nu.to_string()));
        }
        line
    };
    let inputs: BudgetInputs = given(json!({
        "lines": [
            line("l_s", number("u_l_s_nm")?, Decimal::ONE, Some(number("nu_l_s")?)),
            line("d", u_d.0, Decimal::ONE, Some(nu_d.0)),
            line("d_alpha", number("u_d_alpha_per_degC")?, -length * number("theta_degC")?,
                Some(number("nu_d_alpha")?)),
            line("d_theta", number("u_d_theta_degC")?, -length * number("alpha_s_per_degC")?,
                Some(number("nu_d_theta")?)),
            line("alpha_s", number("u_alpha_s_per_degC")?, -length * number("d_theta_degC")?, None),
            line("theta", number("u_theta_degC")?, -length * number("d_alpha_per_degC")?, None)],
        "second_order": [
            {"source": "d_alpha and theta", "coefficient": length.to_string(),
                "first": written(case, "u_d_alpha_per_degC")?,
                "second": written(case, "u_theta_degC")?},
            {"source": "alpha_s and d_theta", "coefficient": length.to_string(),
                "first": written(case, "u_alpha_s_per_degC")?,
                "second": written(case, "u_d_theta_degC")?}],
    }))?;
    let found = budget(&inputs)?;
    // Unrounded, the formula of Welch and Satterthwaite gives 16.64. The guide's 16.7 comes from
    // what it prints on the way: 25, 9.7, 2.9 and 16.6 nm, and a combined variance of 1002 nm²
    // (JCGM 100:2008, H.1.6).
    let printed = effective_freedom(&given(json!({
        "combined": "31.654383582688825",
        "parts": [
            {"contribution": "25", "degrees_of_freedom": written(case, "nu_l_s")?},
            {"contribution": "9.7", "degrees_of_freedom": nu_d},
            {"contribution": "2.9", "degrees_of_freedom": written(case, "nu_d_alpha")?},
            {"contribution": "16.6", "degrees_of_freedom": written(case, "nu_d_theta")?}],
        "coverage": {"by": "level", "percent": "99"},
    }))?)?;
    let second = found.combined_with_second_order;
    Ok(Answers::default()
        .put("l_nm", length + number("d_nm")?)
        .put("u_d_nm", u_d)
        .put("nu_d", nu_d)
        .put("u_l_nm", found.combined)
        .put("u_l_unrounded_nm", found.combined)
        .put(
            "nu_eff",
            printed.effective_degrees_of_freedom.ok_or_else(nothing)?,
        )
        .put("t_99_nu16", printed.coverage.coverage_factor)
        .put(
            "U99_nm",
            printed.coverage.coverage_factor.0 * found.combined.0,
        )
        .put("u_l_second_order_nm", second.ok_or_else(nothing)?))
}

fn pipettes_of_2002(case: &Case) -> Result<Answers, Failure> {
    let mut found = Vec::new();
    for nominal in case.numbers("nominal_uL")? {
        let inputs = json!({"nominal_volume_ul": nominal.to_string()});
        found.push(pipette(&given(inputs)?)?);
    }
    let random = |figure: fn(&domain::uncertainty::tolerances::PipetteLimits) -> Option<Number>| {
        found.iter().filter_map(figure).collect::<Vec<_>>()
    };
    Ok(Answers::default()
        .put(
            "systematic_percent",
            found
                .iter()
                .map(|one| one.systematic_percent)
                .collect::<Vec<_>>(),
        )
        .put(
            "systematic_uL",
            found
                .iter()
                .map(|one| one.systematic_ul)
                .collect::<Vec<_>>(),
        )
        .put("random_percent", random(|one| one.random_percent))
        .put("random_uL", random(|one| one.random_ul)))
}

fn lower_settings(case: &Case) -> Result<Answers, Failure> {
    let (mut systematic, mut random) = (Vec::new(), Vec::new());
    for selected in case.numbers("selected_uL")? {
        let limits = pipette(&given(json!({
            "nominal_volume_ul": written(case, "nominal_uL")?,
            "selected_volume_ul": selected.to_string(),
        }))?)?;
        systematic.push(limits.systematic_percent);
        random.extend(limits.random_percent);
    }
    Ok(Answers::default()
        .put("systematic_percent", systematic)
        .put("random_percent", random))
}

fn pipettes_of_2022(case: &Case) -> Result<Answers, Failure> {
    let mut found = Vec::new();
    for nominal in case.numbers("nominal_uL")? {
        let inputs = json!({"nominal_volume_ul": nominal.to_string(),
            "standard": "iso-8655-2:2022"});
        found.push(pipette(&given(inputs)?)?.systematic_percent_at_nominal);
    }
    Ok(Answers::default().put("systematic_percent_at_nominal", found))
}

fn tolerance(capacity: Decimal, standard: &str, class: &str) -> Result<Number, Failure> {
    let inputs = json!({"capacity_ml": capacity.to_string(), "standard": standard, "class": class});
    Ok(cylinder(&given(inputs)?)?.tolerance_ml)
}

fn cylinders(case: &Case, standard: &str) -> Result<Answers, Failure> {
    let capacities = case.numbers("capacity_mL")?;
    let all = |class: &str| {
        capacities
            .iter()
            .map(|capacity| tolerance(*capacity, standard, class))
            .collect::<Result<Vec<_>, _>>()
    };
    Ok(Answers::default()
        .put("class_A_mL", all("A")?)
        .put("class_B_mL", all("B")?))
}

fn one_cylinder(case: &Case) -> Result<Answers, Failure> {
    let capacity = case.number("capacity_mL")?;
    Ok(Answers::default()
        .put("class_A_mL", tolerance(capacity, "iso-4788", "A")?)
        .put("class_B_mL", tolerance(capacity, "iso-4788", "B")?))
}

fn one_step(case: &Case) -> Result<Answers, Failure> {
    let doubts = |systematic: &str, random: &str| -> Result<_, Failure> {
        Ok(json!([
            {"source": "systematic", "doubt": {"kind": "half-width",
                "half_width": written(case, systematic)?}},
            {"source": "random", "doubt": {"kind": "deviation",
                "standard_deviation": written(case, random)?}}]))
    };
    let found = dilution(&given(json!({"steps": [{
        "sample": {"volume": written(case, "sample_uL")?,
            "doubts": doubts("sample_systematic_limit_uL", "sample_random_sd_uL")?},
        "with": {"kind": "diluent", "volume": written(case, "diluent_uL")?,
            "doubts": doubts("diluent_systematic_limit_uL", "diluent_random_sd_uL")?}}]}))?)?;
    let step = found.steps.first();
    let step = step.ok_or_else(|| Failure::Because("no step".into()))?;
    Ok(Answers::default()
        .put("factor", found.factor)
        .put("u_sample_uL", step.sample_standard_uncertainty)
        .put("u_diluent_uL", step.other_standard_uncertainty)
        .put("u_factor", found.standard_uncertainty)
        .put("relative_percent", found.relative_percent))
}

fn of_balance(case: &Case, class: &str) -> Result<Answers, Failure> {
    let found = balance(&given(json!({
        "class": class,
        "load_g": written(case, "load_g")?,
        "verification_interval_g": written(case, "e_g")?,
    }))?)?;
    let answers = Answers::default()
        .put("load_in_e", found.load_in_intervals)
        .put("mpe_verification_g", found.verification_g)
        .put("mpe_in_service_g", found.in_service_g);
    Ok(if case.expected.contains_key("u_verification_g") {
        answers.put(
            "u_verification_g",
            found.verification_standard_uncertainty_g,
        )
    } else {
        answers
    })
}
