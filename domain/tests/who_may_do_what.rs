//! What the table of roles and actions must never grant, whatever is added to it.

use domain::identity::{ACTIONS, Action, ROLES, Role, permits};

/// Reading and one's own password: what changes no fact of the laboratory.
fn changes_a_fact(action: Action) -> bool {
    !action.name().starts_with("read-") && action != Action::ChangePassword
}

fn granted(role: Role) -> Vec<&'static str> {
    ACTIONS
        .iter()
        .filter(|action| permits(role, **action) && changes_a_fact(**action))
        .map(|action| action.name())
        .collect()
}

#[test]
fn a_regulator_and_a_customer_write_nothing() {
    assert_eq!(granted(Role::Regulator), Vec::<&str>::new());
    assert_eq!(granted(Role::Customer), Vec::<&str>::new());
}

#[test]
fn a_customer_reads_only_what_can_be_cut_to_their_own() {
    let read: Vec<&str> = ACTIONS
        .iter()
        .filter(|action| permits(Role::Customer, **action) && !changes_a_fact(**action))
        .map(|action| action.name())
        .collect();
    for name in [
        "read-results",
        "read-runs",
        "read-records",
        "read-customers",
        "read-samples",
    ] {
        assert!(!read.contains(&name), "{name}");
    }
    assert!(read.contains(&"read-certificates") && read.contains(&"read-lots"));
}

#[test]
fn only_a_reviewer_releases_and_no_program_reviews_or_lifts_holds() {
    for role in ROLES {
        assert_eq!(
            permits(role, Action::ReleaseResults),
            role == Role::Reviewer,
            "{role:?}"
        );
    }
    for action in [
        Action::ReturnResults,
        Action::AcceptHold,
        Action::AdoptLimit,
        Action::IssueCertificate,
        Action::CorrectRun,
    ] {
        assert!(!permits(Role::Integrator, action), "{}", action.name());
    }
}

#[test]
fn an_administrator_touches_no_measurement() {
    for action in [
        Action::RecordRun,
        Action::CorrectRun,
        Action::ReleaseResults,
        Action::AcceptHold,
        Action::AdoptLimit,
        Action::ImportReadings,
    ] {
        assert!(!permits(Role::Administrator, action), "{}", action.name());
    }
}

#[test]
fn every_action_has_a_kebab_name_of_its_own_and_somebody_who_may_do_it() {
    let mut names: Vec<&str> = ACTIONS.iter().map(|action| action.name()).collect();
    for name in &names {
        let kebab = |c: char| c.is_ascii_lowercase() || c == '-';
        assert!(name.chars().all(kebab), "{name}");
    }
    assert!(ACTIONS.iter().all(|action| !action.roles().is_empty()));
    names.sort_unstable();
    let all = names.len();
    names.dedup();
    assert_eq!(names.len(), all);
}
