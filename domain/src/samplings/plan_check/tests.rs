//! Samplings against published plans, and those that no plan speaks of.
#![expect(clippy::unwrap_used, reason = "tests may unwrap")]

use proptest::prelude::*;
use serde_json::{Value, json};

use super::*;

fn sampling(more: &Value) -> Sampling {
    let mut content = json!({"lot": "019ca869-5003-7d46-b59c-6cf85cca57e4",
        "taken_at": "2026-03-01T08:00:00Z", "plan": "eu-2023-cereal"});
    let members = content.as_object_mut().unwrap();
    members.extend(more.as_object().unwrap().clone());
    serde_json::from_value(content).unwrap()
}

fn lot(commodity: &str, mass_kg: Option<&str>) -> Lot {
    let mut content = json!({"code": "L-1", "commodity": commodity, "arrived_on": "2026-03-01"});
    if let Some(mass) = mass_kg {
        let members = content.as_object_mut().unwrap();
        members.insert("mass_kg".into(), mass.into());
    }
    serde_json::from_value(content).unwrap()
}

fn sample(mass_g: Option<&str>) -> Sample {
    let mut content = json!({"code": "S-1", "purpose": "customer", "commodity": "wheat-grain",
        "lot": "019ca869-5003-7d46-b59c-6cf85cca57e4", "received_at": "2026-03-01T09:00:00Z"});
    if let Some(mass) = mass_g {
        let members = content.as_object_mut().unwrap();
        members.insert("mass_g".into(), mass.into());
    }
    serde_json::from_value(content).unwrap()
}

fn departing(check: &PlanCheck) -> Vec<&str> {
    let departures = check.departures.iter();
    departures.map(|one| one.quantity.as_str()).collect()
}

#[test]
fn what_a_published_row_asks_for_is_held_against_what_was_taken() {
    // Implementing Regulation (EU) 2023/2782, Annex I, part II.A, table 2: a lot above 20 t takes
    // 100 increments of about 100 g, an aggregate and a laboratory sample of 10 kg.
    let wheat = lot("wheat-grain", Some("24800"));
    let whole = json!({"increments": 100, "increment_mass_g": "100", "aggregate_mass_kg": "10"});
    let check = plan_check(
        &sampling(&whole),
        Some(&wheat),
        Some(&sample(Some("10000"))),
    );
    assert_eq!(check.standing, PlanStanding::AsAsked, "{}", check.detail);
    assert_eq!(check.asked.unwrap().plan, "eu-2023-cereal-20-100");

    let less = json!({"increments": 9, "increment_mass_g": "350", "aggregate_mass_kg": "3.15"});
    let check = plan_check(&sampling(&less), Some(&wheat), Some(&sample(Some("1000"))));
    assert_eq!(check.standing, PlanStanding::Departs);
    assert_eq!(
        departing(&check),
        [
            "increments",
            "aggregate_mass_kg",
            "laboratory_sample_mass_kg"
        ]
    );
    assert!(
        check.detail.starts_with(
            "departs from eu-2023-cereal-20-100 for 24.8 t of wheat-grain: 9 taken, at least 100 \
             increments asked for; "
        ),
        "{}",
        check.detail
    );
    // Without a sample, what is made of the aggregate is not known yet.
    let check = plan_check(&sampling(&less), Some(&wheat), None);
    assert_eq!(departing(&check), ["increments", "aggregate_mass_kg"]);
}

#[test]
fn what_was_not_recorded_departs() {
    let check = plan_check(
        &sampling(&json!({})),
        Some(&lot("wheat-grain", Some("15000"))),
        Some(&sample(None)),
    );
    assert_eq!(
        departing(&check),
        [
            "increments",
            "increment_mass_g",
            "aggregate_mass_kg",
            "laboratory_sample_mass_kg"
        ]
    );
    assert!(check.departures.iter().all(|one| one.taken.is_none()));
}

#[test]
fn two_laboratory_samples_have_to_be_stated() {
    // Implementing Regulation (EU) 2023/2782, Annex I, part II.D, table 2: 10 to 15 t of nuts take
    // 100 increments of 200 g, 20 kg, in two laboratory samples of 10 kg.
    let nuts = lot("groundnut-kernel", Some("12000"));
    let taken = json!({"plan": "eu-2023-nuts", "increments": 100, "increment_mass_g": "200",
        "aggregate_mass_kg": "20"});
    let made = sample(Some("10000"));
    let check = plan_check(&sampling(&taken), Some(&nuts), Some(&made));
    assert_eq!(departing(&check), ["laboratory_samples"]);
    let mut stated = sampling(&taken);
    stated.laboratory_samples = Some(2);
    let check = plan_check(&stated, Some(&nuts), Some(&made));
    assert_eq!(check.standing, PlanStanding::AsAsked, "{}", check.detail);
}

#[test]
fn a_lot_that_is_to_be_divided_is_not_sampled_as_one() {
    // The same regulation, table 1: 300 t of cereals are split into sublots of 100 t.
    let wheat = lot("wheat-grain", Some("300000"));
    let taken = json!({"increments": 100, "increment_mass_g": "100", "aggregate_mass_kg": "10"});
    let check = plan_check(&sampling(&taken), Some(&wheat), None);
    assert_eq!(departing(&check), ["sublots"]);
    let mut whole = sampling(&taken);
    whole.separable = Some(false);
    let check = plan_check(&whole, Some(&wheat), None);
    assert_eq!(check.standing, PlanStanding::AsAsked, "{}", check.detail);
}

#[test]
fn a_plan_that_does_not_speak_of_the_lot_says_why() {
    let enough = json!({"increments": 100, "increment_mass_g": "200", "aggregate_mass_kg": "20"});
    for (plan, lot, why) in [
        (
            "eu-2023-cereal",
            lot("groundnut-kernel", Some("9000")),
            "commodity",
        ),
        (
            "eu-2023-cereal",
            lot("wheat-grain", None),
            "mass of the lot is not recorded",
        ),
        (
            "eu-2006-cereal",
            lot("wheat-grain", Some("9000")),
            "day of sampling",
        ),
        (
            "eu-2023-nut-products",
            lot("groundnut-paste", Some("60000")),
            "lot mass",
        ),
    ] {
        let mut taken = sampling(&enough);
        taken.plan = Some(plan.to_owned());
        let check = plan_check(&taken, Some(&lot), None);
        assert_eq!(check.standing, PlanStanding::NotApplicable, "{plan}");
        assert!(check.detail.contains(why), "{}", check.detail);
        assert!(check.asked.is_none() && check.departures.is_empty());
    }
}

#[test]
fn the_row_for_large_lots_is_a_published_plan_too() {
    // Implementing Regulation (EU) 2023/2782, Annex I, part II.N: above 500 t, 100 + √t increments
    // of about 100 g; a lot of cereals below 1500 t that can be divided is split all the same.
    let taken = json!({"plan": "eu-2023-large-lot", "increments": 60, "increment_mass_g": "100"});
    let wheat = lot("wheat-grain", Some("2500000"));
    let check = plan_check(&sampling(&taken), Some(&wheat), None);
    assert_eq!(check.asked.as_ref().unwrap().plan, "eu-2023-large-lot");
    assert_eq!(departing(&check), ["increments"], "{}", check.detail);
    let wheat = lot("wheat-grain", Some("900000"));
    let check = plan_check(&sampling(&taken), Some(&wheat), None);
    assert!(departing(&check).contains(&"sublots"), "{}", check.detail);
    let milk = lot("milk", Some("900000"));
    let check = plan_check(&sampling(&taken), Some(&milk), None);
    assert_eq!(check.standing, PlanStanding::NotApplicable);
}

#[test]
fn without_a_published_plan_there_is_nothing_to_check() {
    let wheat = lot("wheat-grain", Some("9000"));
    for (plan, standing) in [
        (None, PlanStanding::NoPlan),
        (Some("SP-2, edition 4".to_owned()), PlanStanding::OwnPlan),
        // A row for probes is no plan for a lot.
        (Some("us-probe-barge".to_owned()), PlanStanding::OwnPlan),
    ] {
        let taken = Sampling {
            plan,
            ..sampling(&json!({}))
        };
        assert_eq!(plan_check(&taken, Some(&wheat), None).standing, standing);
    }
}

#[test]
fn plans_that_state_words_ask_for_the_mass_alone() {
    // FGIS Mycotoxin Handbook, minimum sample sizes: 908 g from a truck.
    let maize = lot("maize-grain", Some("24800"));
    let taken = sampling(&json!({"plan": "us-fgis-aflatoxin-truck"}));
    let check = plan_check(&taken, Some(&maize), Some(&sample(Some("908"))));
    assert_eq!(check.standing, PlanStanding::AsAsked, "{}", check.detail);
    let check = plan_check(&taken, Some(&maize), Some(&sample(Some("907.9"))));
    assert_eq!(departing(&check), ["laboratory_sample_mass_kg"]);
}

proptest! {
    /// Taking more never departs more, and what departs is always less than what is asked for.
    #[test]
    fn more_never_departs_more(
        increments in 1_u32..200,
        more in 0_u32..200,
        mass_kg in 1_u32..99_000,
    ) {
        let wheat = lot("wheat-grain", Some(&mass_kg.to_string()));
        let taken = |count: u32| sampling(&json!({"increments": count, "increment_mass_g": "100",
            "aggregate_mass_kg": Number(Decimal::new(count.into(), 1))}));
        let fewer = plan_check(&taken(increments), Some(&wheat), None);
        let many = plan_check(&taken(increments + more), Some(&wheat), None);
        prop_assert!(many.departures.len() <= fewer.departures.len());
        for one in fewer.departures.iter().chain(&many.departures) {
            prop_assert!(one.taken.is_some_and(|taken| taken < one.asked));
        }
        prop_assert_eq!(fewer.standing == PlanStanding::AsAsked, fewer.departures.is_empty());
    }
}
