//! A result against a limit, by a stated rule, with the probability that it conforms.

use super::table::Source::{Example, Own};
use domain::decisions::{
    calculated::{DecidedFinding, DecisionInputs, decide_findings},
    conformity::{
        Conformity, ConformityInputs, GuardBand, GuardBandInputs, conformity, guard_band,
    },
    official_control::{
        CounterResult, CounterResultInputs, OfficialControlInputs, OfficialDecision,
        counter_result, official_control,
    },
};

topic! {
    "decisions", "Decisions against a limit",
    "Is it over the limit, and how likely is it really?";

    "findings" = decide_findings(DecisionInputs) -> [DecidedFinding] {
        title: "Decision by a rule",
        summary: "Findings decided by a rule: simple, rounded (ASTM E29), guarded acceptance or \
            rejection, or the four statements of ILAC-G8:09/2019, with the zones in which \
            the statement changes.",
        source: Example("ilac-g8-non-binary-statements"),
        sample: r#"{"limit":"20.0","comparison":"exceeds","rule":{"rule":"non-binary",
            "guard_factor":"1"},"findings":[{"finding":{"kind":"quantified","value":"16.9"},
            "uncertainty":{"expanded":"3.0","coverage_factor":"2"}},
            {"finding":{"kind":"quantified","value":"17.1"},"uncertainty":{"expanded":"3.0",
            "coverage_factor":"2"}},{"finding":{"kind":"quantified","value":"19.9"},
            "uncertainty":{"expanded":"3.0","coverage_factor":"2"}},
            {"finding":{"kind":"quantified","value":"20.1"},"uncertainty":{"expanded":"3.0",
            "coverage_factor":"2"}},{"finding":{"kind":"quantified","value":"22.9"},
            "uncertainty":{"expanded":"3.0","coverage_factor":"2"}},
            {"finding":{"kind":"quantified","value":"23.1"},"uncertainty":{"expanded":"3.0",
            "coverage_factor":"2"}}]}"#,
    }

    "conformity" = conformity(ConformityInputs) -> [Conformity] {
        title: "Probability of conformity",
        summary: "How likely the true value lies within one or two limits, given the measured \
            value and its standard uncertainty (JCGM 106:2012, 7).",
        source: Example("jcgm106-two-sided-limits"),
        sample: r#"{"values":["13.6"],"standard_uncertainty":"1.8","lower_limit":"12.5",
            "upper_limit":"16.3"}"#,
    }

    "guard-band" = guard_band(GuardBandInputs) -> GuardBand {
        title: "Guard band",
        summary: "The acceptance limit that a guard band leaves, by a multiple of the expanded \
            uncertainty or by a level of confidence, and the risk at that limit.",
        source: Example("one-sided-guard-band-k"),
        sample: r#"{"upper_limit":"20.0","standard_uncertainty":"0.8","relative":false,
            "guarded":"acceptance","width":{"by":"confidence","percent":"95"}}"#,
    }

    "official-control" = official_control(OfficialControlInputs) -> OfficialDecision {
        title: "Official control in the European Union",
        summary: "Whether laboratory samples exceed a maximum level beyond reasonable doubt, \
            corrected for recovery and less the expanded uncertainty (Implementing \
            Regulation (EU) 2023/2782).",
        source: Example("eu-2023-2782-beyond-reasonable-doubt"),
        sample: r#"{"maximum_level":"5.0","samples":[{"toxins":[{"found":"6.0"}],
            "uncertainty":{"by":"expanded","expanded":"1.2"}}],"purpose":"final-use",
            "correction":{"when":"outside-window","lowest":"0.9","highest":"1.1"}}"#,
    }

    "counter-result" = counter_result(CounterResultInputs) -> CounterResult {
        title: "Counter-analysis against the official result",
        summary: "Whether the result of a defence or referee sample may take the place of an \
            official one that is beyond doubt (Implementing Regulation (EU) 2023/2782, Annex \
            I, II.A).",
        source: Own("invented numbers"),
        sample: r#"{"maximum_level":"1500","official_result":"1900","official_expanded":"380",
            "other_result":"1800","other_expanded":"450"}"#,
    }
}
