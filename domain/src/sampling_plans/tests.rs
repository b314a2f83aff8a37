//! Plans at, between and around the bounds of the published tables.
#![expect(clippy::unwrap_used, clippy::indexing_slicing, reason = "tests may")]

use super::*;
use crate::commodities;

fn plan(family: &str, mass: &str, separable: bool) -> Answer<PlanForLot> {
    plan_for(&SamplingPlanInputs {
        family: family.into(),
        lot_mass_t: mass.parse().unwrap(),
        separable,
        commodity: None,
        on: None,
    })
}

#[test]
fn eu_cereal_lots_have_the_increments_and_masses_of_the_regulation() {
    // Implementing Regulation (EU) 2023/2782, Annex I, part II.A, tables 1 and 2.
    for (mass, sublots, increments, aggregate) in [
        ("0.05", 1, 3, "1"),
        ("0.06", 1, 5, "1"),
        ("0.5", 1, 5, "1"),
        ("1", 1, 10, "1"),
        ("3", 1, 20, "2"),
        ("10", 1, 40, "4"),
        ("20", 1, 60, "6"),
        ("20.001", 1, 100, "10"),
        ("100", 1, 100, "10"),
        ("120", 1, 100, "10"),
        ("121", 2, 100, "10"),
        ("300", 3, 100, "10"),
        ("301", 3, 100, "10"),
        ("1499", 3, 100, "10"),
    ] {
        let found = plan("eu-2023-cereal", mass, true).unwrap();
        assert_eq!(
            (found.sublots, found.increments),
            (sublots, Some(increments)),
            "{mass} t"
        );
        assert_eq!(
            found.aggregate_mass_kg.unwrap().to_string(),
            aggregate,
            "{mass} t"
        );
    }
}

#[test]
fn large_lots_that_are_not_divided_take_a_hundred_and_the_root_of_their_mass() {
    // Implementing Regulation (EU) 2023/2782, Annex I, part II.N.
    for (mass, separable, increments) in [
        ("600", false, 125),
        ("1500", true, 139),
        ("2500", true, 150),
        ("400", false, 100),
    ] {
        let found = plan("eu-2023-cereal", mass, separable).unwrap();
        assert_eq!(
            (found.sublots, found.increments),
            (1, Some(increments)),
            "{mass} t"
        );
    }
}

#[test]
fn feed_takes_two_and_a_half_times_the_increments_for_uniform_substances() {
    // Regulation (EC) No 152/2009, Annex I, points 5 and 6; the product is rounded up.
    for (mass, increments) in [
        ("2.5", 18),
        ("2.6", 20),
        ("10", 38),
        ("20", 50),
        ("79", 100),
        ("80", 100),
        ("500", 100),
        ("900", 130),
    ] {
        assert_eq!(
            plan("eu-feed", mass, true).unwrap().increments,
            Some(increments),
            "{mass} t"
        );
    }
}

#[test]
fn nuts_are_split_into_sublots_with_two_laboratory_samples() {
    // Implementing Regulation (EU) 2023/2782, Annex I, part II.D, tables 1 and 2.
    let found = plan("eu-2023-nuts", "125", true).unwrap();
    assert_eq!((found.sublots, found.increments_of_lot), (5, Some(500)));
    assert_eq!(found.laboratory_samples, Some(2));
    assert_eq!(plan("eu-2023-nuts", "126", true).unwrap().sublots, 5);
    assert_eq!(plan("eu-2023-nuts", "500", true).unwrap().sublots, 5);
    assert_eq!(
        plan("eu-2023-nuts", "2", true).unwrap().laboratory_samples,
        Some(1)
    );
}

#[test]
fn codex_plans_borrow_increments_by_mass() {
    assert_eq!(
        plan("codex-cereal-don", "15", true).unwrap().increments,
        Some(60)
    );
    assert_eq!(
        plan("codex-peanuts", "7", true).unwrap().increments,
        Some(60)
    );
    assert_eq!(
        plan("codex-peanuts-inshell", "7", true).unwrap().increments,
        Some(60)
    );
    let words = plan("us-fgis-aflatoxin-truck", "25", true).unwrap();
    assert_eq!(words.increments_words.as_deref(), Some("per probe pattern"));
    assert_eq!(
        words.laboratory_sample_mass_kg.unwrap().to_string(),
        "0.908"
    );
    assert_eq!(plan("codex-nuts-rte", "60", true).unwrap().sublots, 2);
}

#[test]
fn a_plan_for_another_commodity_time_or_mass_is_refused() {
    let inputs = |family: &str, commodity: &str, on: &str, mass: &str| SamplingPlanInputs {
        family: family.into(),
        lot_mass_t: mass.parse().unwrap(),
        separable: true,
        commodity: Some(commodity.into()),
        on: on.parse().ok(),
    };
    for (given, quantity) in [
        (
            inputs("eu-2023-cereal", "groundnut-kernel", "2026-01-01", "10"),
            "commodity",
        ),
        (
            inputs("eu-2023-cereal", "unheard-of", "2026-01-01", "10"),
            "commodity",
        ),
        (
            inputs("eu-2006-cereal", "wheat-grain", "2026-01-01", "10"),
            "day of sampling",
        ),
        (
            inputs("eu-2023-cereal", "wheat-grain", "2024-03-31", "10"),
            "day of sampling",
        ),
        (
            inputs("eu-2006-cereal", "wheat-grain", "2020-01-01", "1500"),
            "lot mass",
        ),
        (
            inputs(
                "eu-2023-nut-products",
                "groundnut-paste",
                "2026-01-01",
                "60",
            ),
            "lot mass",
        ),
        (
            inputs("eu-2023-cereal", "wheat-grain", "2026-01-01", "0"),
            "lot mass",
        ),
        (
            inputs("nowhere", "wheat-grain", "2026-01-01", "10"),
            "plan family",
        ),
    ] {
        assert_eq!(
            plan_for(&given).unwrap_err().quantity(),
            quantity,
            "{given:?}"
        );
    }
}

#[test]
fn every_family_and_every_row_is_read() {
    let rows = shipped_plans().unwrap();
    assert_eq!(rows.len(), 81);
    for family in FAMILIES {
        let own = rows
            .iter()
            .any(|row| row.plan_id == family.id || row.is_range_of(family.id));
        assert!(own, "{} has no row", family.id);
    }
    let vocabulary = commodities::shipped().unwrap();
    for id in FAMILIES
        .iter()
        .flat_map(|family| family.commodities.iter().chain(family.except))
    {
        assert!(vocabulary.commodities.entry(id).is_some(), "{id}");
    }
}

#[test]
fn probes_follow_the_handbook() {
    let probes = |text: &str| probe_pattern(&serde_json::from_str(text).unwrap()).unwrap();
    assert_eq!(
        probes(r#"{"of":{"carrier":"flat-truck","depth_ft":"4"}}"#).probes,
        7
    );
    assert_eq!(
        probes(r#"{"of":{"carrier":"flat-truck","depth_ft":"3.9"}}"#).probes,
        9
    );
    let barge = probes(r#"{"of":{"carrier":"barge","length_ft":"37"}}"#);
    let at: Vec<_> = barge.pairs_at_ft.iter().map(Number::to_string).collect();
    assert_eq!((barge.probes, at[2].as_str()), (6, "34"));
}

#[test]
fn what_was_not_recorded_is_a_departure() {
    let plan = plan("eu-2023-cereal", "15", true).unwrap();
    let departures = check_taken(&plan, &TakenSample::default());
    assert_eq!(departures.len(), 5);
    assert!(departures.iter().all(|one| one.taken.is_none()));
}
