//! How sure a number is, line by line.

use super::table::Source::{Example, Own};
use domain::uncertainty::{
    budget::{BudgetInputs, ComputedBudget, budget},
    coverage::{EffectiveFreedom, EffectiveFreedomInputs, effective_freedom},
    of_result::{ResultBudget, ResultBudgetInputs, result_budget},
    product::{ComputedProduct, ProductInputs, product},
};

topic! {
    "budgets", "Uncertainty budgets",
    "How sure is a number, and what makes it unsure?";

    "result" = result_budget(ResultBudgetInputs) -> ResultBudget {
        title: "Budget of a result",
        summary: "The budget of one result in µg/kg, as the service keeps it with a result: \
            precision, bias from control material, dilution, mass, liquid, recovery and, \
            where asked, sampling and preparation.",
        source: Own("invented numbers, the dilution that of worked example \
            dilution-one-step-100-plus-500"),
        sample: r#"{"found_ug_per_kg":"276","dilution_factor":"6","determinations":2,
            "precision":{"constant_ug_per_kg":"0.6","proportional":"0.08"},
            "repeatability":{"constant_ug_per_kg":"0.4","proportional":"0.05"},
            "bias":{"mean_found":"19.2","standard_deviation":"1.4","determinations":10,
            "assigned_value":"20","assigned_standard_uncertainty":"0.6"},
            "dilution":[{"sample":{"volume":"100.0","doubts":[{"source":"systematic",
            "doubt":{"kind":"half-width","half_width":"0.8","shape":"rectangular",
            "relative":false}},{"source":"random","doubt":{"kind":"deviation",
            "standard_deviation":"0.3","observations":1,"relative":false}}]},
            "with":{"kind":"diluent","volume":"500.0","doubts":[{"source":"systematic",
            "doubt":{"kind":"half-width","half_width":"8.0","shape":"rectangular",
            "relative":false}},{"source":"random","doubt":{"kind":"deviation",
            "standard_deviation":"3.0","observations":1,"relative":false}}]}}],
            "coverage":{"by":"factor","factor":"2"}}"#,
    }

    "lines" = budget(BudgetInputs) -> ComputedBudget {
        title: "Budget of named lines",
        summary: "Standard uncertainties with their sensitivities, combined by the root of the sum \
            of squares, with effective degrees of freedom and, where given, terms of the \
            second order (JCGM 100:2008).",
        source: Example("gum-h1-end-gauge"),
        sample: r#"{"lines":[{"source":"l_s","value":"1","doubt":{"kind":"standard","standard":"25.0",
            "relative":false},"sensitivity":"1","degrees_of_freedom":"18"},{"source":"d",
            "value":"1","doubt":{"kind":"standard","standard":"9.68194195397","relative":false},
            "sensitivity":"1","degrees_of_freedom":"25.6376319398"},{"source":"d_alpha",
            "value":"1","doubt":{"kind":"standard","standard":"0.00000058","relative":false},
            "sensitivity":"5000062.30","degrees_of_freedom":"50"},{"source":"d_theta",
            "value":"1","doubt":{"kind":"standard","standard":"0.029","relative":false},
            "sensitivity":"-575.00716450","degrees_of_freedom":"2"},{"source":"alpha_s",
            "value":"1","doubt":{"kind":"standard","standard":"0.0000012","relative":false},
            "sensitivity":"0"},{"source":"theta","value":"1","doubt":{"kind":"standard",
            "standard":"0.41","relative":false},"sensitivity":"0"}],
            "second_order":[{"source":"d_alpha and theta","coefficient":"50000623.0",
            "first":"0.00000058","second":"0.41"},{"source":"alpha_s and d_theta",
            "coefficient":"50000623.0","first":"0.0000012","second":"0.029"}],
            "coverage":{"by":"factor","factor":"2"}}"#,
    }

    "product" = product(ProductInputs) -> ComputedProduct {
        title: "Budget of a product",
        summary: "The value of a product of powers, such as mass · purity / volume, and its \
            uncertainty from the doubts about each factor (QUAM:2012, 8.2.6).",
        source: Example("quam-a1-cadmium-standard"),
        sample: r#"{"constant":"1000","factors":[{"name":"m","value":"100.28","power":1,
            "doubts":[{"source":"m","doubt":{"kind":"standard","standard":"0.05",
            "relative":false}}]},{"name":"P","value":"0.9999","power":1,"doubts":[{"source":"P",
            "doubt":{"kind":"half-width","half_width":"0.0001","shape":"rectangular",
            "relative":false}}]},{"name":"V","value":"100.0","power":-1,
            "doubts":[{"source":"VT","doubt":{"kind":"temperature","half_width_degc":"4.0",
            "expansion_per_degc":"0.00021","shape":"rectangular"}},{"source":"Vflask",
            "doubt":{"kind":"half-width","half_width":"0.1","shape":"triangular",
            "relative":false}},{"source":"Vrep","doubt":{"kind":"deviation",
            "standard_deviation":"0.02","observations":1,"relative":false}}]}],
            "coverage":{"by":"factor","factor":"2"},"round_parts":{"to":"significant-figures",
            "of":1,"tie":"half-even"}}"#,
    }

    "effective-degrees-of-freedom" = effective_freedom(EffectiveFreedomInputs) -> EffectiveFreedom {
        title: "Effective degrees of freedom",
        summary: "The formula of Welch and Satterthwaite, and the coverage factor that follows \
            from it (JCGM 100:2008, G.4).",
        source: Example("gum-h1-end-gauge"),
        sample: r#"{"combined":"31.654383582688825","parts":[{"contribution":"25",
            "degrees_of_freedom":"18"},{"contribution":"9.7",
            "degrees_of_freedom":"25.6376319398"},{"contribution":"2.9",
            "degrees_of_freedom":"50"},{"contribution":"16.6","degrees_of_freedom":"2"}],
            "coverage":{"by":"level","percent":"99"}}"#,
    }
}
