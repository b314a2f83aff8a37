//! The shipped limits against their sources, and adoption.
#![expect(clippy::unwrap_used, clippy::indexing_slicing, reason = "tests may")]
use super::*;
use crate::commodities::Vocabulary;

fn limit(id: &str) -> Limit {
    shipped_limits()
        .unwrap()
        .into_iter()
        .find(|limit| limit.id == id)
        .unwrap()
}

fn day(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

fn adoption(on: &str) -> Adoption {
    Adoption {
        on: day(on),
        by: "019ca869-5003-7d46-b59c-6cf85cca57e4".parse().unwrap(),
        reading: "read in the consolidated text".into(),
    }
}

#[test]
fn the_shipped_limits_parse_and_name_only_known_goods_and_uses() {
    let vocabulary = Vocabulary::shipped().unwrap();
    let limits = shipped_limits().unwrap();
    assert_eq!(limits.len(), 233);
    for limit in &limits {
        limit.check(&vocabulary).unwrap();
        assert!(
            !matches!(limit.basis, Basis::Other(_)),
            "{}: {}",
            limit.id,
            limit.basis
        );
    }
    let from_memory = limits.iter().filter(|limit| limit.is_unverified()).count();
    assert_eq!(from_memory, 38, "a recalled value is shown as unverified");
}

#[test]
fn a_limit_comes_back_from_its_record_as_it_was() {
    for limit in shipped_limits().unwrap() {
        let json = serde_json::to_string(&limit).unwrap();
        assert!(!json.contains("null"), "{json}");
        assert_eq!(serde_json::from_str::<Limit>(&json).unwrap(), limit);
    }
}

#[test]
fn a_limit_is_adopted_once_then_retired_once() {
    let today = day("2026-03-02");
    let adopted = limit("eu-food-cereals-afb1")
        .adopt(adoption("2026-03-01"), today)
        .unwrap();
    assert!(!adopted.is_unverified());
    let again = adopted.clone().adopt(adoption("2026-03-01"), today);
    assert_eq!(again, Err(LimitError::NotProposed(LimitState::Adopted)));
    let early = adopted.clone().retire(day("2026-02-28"), today);
    assert!(matches!(
        early,
        Err(LimitError::RetiredBeforeAdopted { .. })
    ));
    let retired = adopted.retire(today, today).unwrap();
    assert_eq!(retired.retired_on, Some(today));
    let twice = retired.retire(today, today);
    assert_eq!(twice, Err(LimitError::NotAdopted(LimitState::Retired)));
}

#[test]
fn nobody_adopts_tomorrow() {
    let refusal = limit("eu-food-cereals-afb1").adopt(adoption("2026-03-03"), day("2026-03-02"));
    assert!(matches!(refusal, Err(LimitError::DayToCome { .. })));
}

#[test]
fn what_cannot_be_a_limit_is_refused() {
    let vocabulary = Vocabulary::shipped().unwrap();
    let good = limit("eu-food-cereals-afb1");
    let check = |change: &dyn Fn(&mut Limit)| {
        let mut bad = good.clone();
        change(&mut bad);
        bad.check(&vocabulary).unwrap_err()
    };
    assert!(matches!(
        check(&|l| l.id = "EU 1".into()),
        LimitError::NotASlug(_)
    ));
    assert!(matches!(
        check(&|l| l.value = Concentration::from_ug_per_kg(rust_decimal::Decimal::NEGATIVE_ONE)),
        LimitError::BelowZero(_)
    ));
    assert!(matches!(
        check(&|l| l.effective_to = Some("2001".parse().unwrap())),
        LimitError::EndsBeforeItBegins { .. }
    ));
    assert!(matches!(
        check(&|l| l.scopes[0].uses = vec!["fodder".into()]),
        LimitError::UnknownUse(_)
    ));
    assert!(matches!(
        check(&|l| l.scopes[0].commodities_except = vec!["corn".into()]),
        LimitError::UnknownCommodity(_)
    ));
    assert!(matches!(
        check(&|l| l.authority = Authority::Contract {
            parties: vec![],
            rule: None
        }),
        LimitError::NoParties
    ));
}

#[test]
fn a_contract_binds_only_lots_of_all_its_parties() {
    let vocabulary = Vocabulary::shipped().unwrap();
    let seller: CustomerId = "019ca869-5003-7d46-b59c-6cf85cca57e4".parse().unwrap();
    let buyer: CustomerId = "019ca869-5003-7d46-b59c-6cf85cca57e5".parse().unwrap();
    let mut contract = limit("eu-food-cereals-afb1");
    contract.authority = Authority::Contract {
        parties: vec![seller, buyer],
        rule: None,
    };
    let limits = [contract];
    let mut query = OwnQuery {
        parties: vec![buyer, seller],
        site: None,
        analyte: Analyte::AflatoxinB1,
        commodity: "wheat-grain".into(),
        intended_use: "food-first-stage".into(),
        date: day("2026-03-01"),
    };
    assert_eq!(
        applicable_own(&limits, &vocabulary, &query).unwrap().len(),
        1
    );
    query.parties.pop();
    assert_eq!(
        applicable_own(&limits, &vocabulary, &query).unwrap(),
        vec![]
    );
}

#[test]
fn an_intake_level_of_one_site_stays_there() {
    let vocabulary = Vocabulary::shipped().unwrap();
    let here: SiteId = "019ca869-5003-7d46-b59c-6cf85cca57e4".parse().unwrap();
    let mut level = limit("eu-food-cereals-afb1");
    level.authority = Authority::Intake { site: Some(here) };
    let limits = [level];
    let mut query = OwnQuery {
        parties: vec![],
        site: Some(here),
        analyte: Analyte::AflatoxinTotal,
        commodity: "wheat-grain".into(),
        intended_use: "food-first-stage".into(),
        date: day("2026-03-01"),
    };
    assert_eq!(
        applicable_own(&limits, &vocabulary, &query).unwrap().len(),
        1
    );
    query.site = None;
    assert_eq!(
        applicable_own(&limits, &vocabulary, &query).unwrap(),
        vec![]
    );
}

#[test]
fn a_conditional_limit_asks_for_its_fact() {
    let vocabulary = Vocabulary::shipped().unwrap();
    let limits = shipped_limits().unwrap();
    let query = Query {
        jurisdiction: "US".parse().unwrap(),
        analyte: Analyte::Deoxynivalenol,
        commodity: "maize-grain".into(),
        intended_use: "feed-finishing-swine".into(),
        date: day("2026-03-01"),
    };
    let applied = applicable(&limits, &vocabulary, &query).unwrap();
    assert_eq!(applied.len(), 1);
    let condition = "share-of-diet-at-most-20-percent".to_owned();
    assert_eq!(applied[0].condition.as_ref(), Some(&condition));
    let mut facts = ConditionFacts::new();
    assert_eq!(
        applied[0].condition_state(&facts),
        ConditionState::Unknown(condition.clone())
    );
    facts.insert(applied[0].limit.id.clone(), true);
    assert_eq!(
        applied[0].condition_state(&facts),
        ConditionState::Met(condition.clone())
    );
    facts.insert(applied[0].limit.id.clone(), false);
    assert_eq!(
        applied[0].condition_state(&facts),
        ConditionState::NotMet(condition)
    );
}
