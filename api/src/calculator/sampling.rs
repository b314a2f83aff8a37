//! What a plan asks of a lot, and how likely it decides rightly.

use super::table::Source::Own;
use domain::{
    sampling_plans::{
        PlanForLot, ProbeInputs, ProbePattern, SamplingPlanInputs, TakenCheck, TakenCheckInputs,
        check_sampling, plan_for, probe_pattern,
    },
    sampling_variance::{
        ChanceInputs, CharacteristicInputs, LotChance, LotVariance, OperatingCharacteristic,
        VarianceInputs, chance_above, characteristic, variance,
    },
};

topic! {
    "sampling", "Sampling of lots",
    "What has to be taken from a lot, and how much does that decide?";

    "plan" = plan_for(SamplingPlanInputs) -> PlanForLot {
        title: "Sampling plan of a lot",
        summary: "How many sublots and increments, which masses and how many laboratory samples a \
            plan asks of a lot of this mass; a plan for another commodity or another day \
            declines.",
        source: Own("Implementing Regulation (EU) 2023/2782, for a lot made up for this page"),
        sample: r#"{"family":"eu-2023-cereal","lot_mass_t":"250","commodity":"wheat-grain"}"#,
    }

    "taken" = check_sampling(TakenCheckInputs) -> TakenCheck {
        title: "What was taken, against the plan",
        summary: "Each thing that was taken from a sublot and is less than its plan asks for, or \
            was not recorded.",
        source: Own("invented numbers"),
        sample: r#"{"plan":{"family":"eu-2023-cereal","lot_mass_t":"15"},"taken":{"increments":40,
            "increment_mass_g":"100","aggregate_mass_kg":"4","laboratory_samples":1,
            "laboratory_sample_mass_kg":"6"}}"#,
    }

    "probes" = probe_pattern(ProbeInputs) -> ProbePattern {
        title: "Where to probe a carrier",
        summary: "How many probes a truck, hopper car or barge takes, and where (the grain \
            inspection handbook of the United States).",
        source: Own("a barge of 195 ft"),
        sample: r#"{"of":{"carrier":"barge","length_ft":"195"}}"#,
    }

    "variance" = variance(VarianceInputs) -> LotVariance {
        title: "Variance of a result on a lot",
        summary: "How much of it is sampling, preparation and analysis, by a published model; \
            outside the model's range it declines.",
        source: Own("Johansson's thesis, NC State University: 214.0 + 56.3 + 4.6 = 274.9"),
        sample: r#"{"concentration_ug_per_kg":"20","plan":{"model":{"model":"aflatoxin-shelled-corn"},
            "sample_mass_kg":"1.13","test_portion_g":"50"}}"#,
    }

    "operating-characteristic" = characteristic(CharacteristicInputs) -> OperatingCharacteristic {
        title: "Operating characteristic of a plan",
        summary: "How likely a plan accepts lots of each concentration, with the seller's risk \
            below the limit and the buyer's above it.",
        source: Own("the model's paper, as for the variance"),
        sample: r#"{"plan":{"model":{"model":"aflatoxin-shelled-corn"},"sample_mass_kg":"1.13",
            "test_portion_g":"50"},"accept_limit_ug_per_kg":"20",
            "concentrations":{"kind":"listed","values":["5","10","15","20","30","40","60",
            "80"]}}"#,
    }

    "chance-above-limit" = chance_above(ChanceInputs) -> LotChance {
        title: "Chance that a lot is over a limit",
        summary: "How likely a lot with this result is really above the limit, given what was \
            known of lots before.",
        source: Own("a result made up for this page"),
        sample: r#"{"plan":{"model":{"model":"aflatoxin-shelled-corn"},"sample_mass_kg":"4.54",
            "test_portion_g":"50"},"seen":{"kind":"value","of":"12"},"limit_ug_per_kg":"20",
            "before":{"prior":"flat","largest":"300"}}"#,
    }
}
