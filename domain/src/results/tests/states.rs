//! The states of a result.

use super::Bench;
use crate::results::{ResultError, ResultState, ResultVersion};

fn ready() -> ResultVersion {
    ResultVersion::first(Bench::new().run(0, "12").result(), false)
}

#[test]
fn a_result_starts_by_what_stands_in_its_way() {
    let whole = Bench::new().run(0, "12").result();
    assert_eq!(
        ResultVersion::first(whole.clone(), false).state,
        ResultState::Ready
    );
    assert_eq!(ResultVersion::first(whole, true).state, ResultState::Held);
    let open = Bench::new().run(0, ">50").result();
    assert_eq!(
        ResultVersion::first(open, true).state,
        ResultState::NeedsARun
    );
}

#[test]
fn only_a_ready_result_is_released_and_never_under_a_hold() {
    let result = ready();
    assert_eq!(result.release(true), Err(ResultError::Held));
    let released = result.release(false).unwrap();
    assert_eq!(released.state, ResultState::Released);
    for refused in [
        released.release(false),
        released.cancel(),
        released.give_back(),
    ] {
        assert!(matches!(refused, Err(ResultError::Not { .. })));
    }
    let held = result.with_holds(true).unwrap();
    assert_eq!(held.release(false), Err(ResultError::Held), "lift it first");
    assert_eq!(held.with_holds(false).unwrap().state, ResultState::Ready);
    assert_eq!(held.with_holds(true), None);
}

#[test]
fn a_released_result_that_differs_is_due_for_amendment() {
    let released = ready().release(false).unwrap();
    let same = Bench::new().run(0, "12").result();
    assert_eq!(released.computed_again(same, false), Ok(None));
    let other = Bench::new().run(0, "12").run(0, "13").result();
    let next = released.computed_again(other, false).unwrap().unwrap();
    assert!(next.amendment_due);
    assert_eq!(next.state, ResultState::Ready);
    let again = next.release(false).unwrap();
    assert!(again.amendment_due, "until its certificate is amended");
    assert!(!again.amended().unwrap().amendment_due);
    assert!(ready().amended().is_err());
}

#[test]
fn a_returned_result_stays_so_until_it_is_put_forward_or_says_something_else() {
    let returned = ready().give_back().unwrap();
    assert_eq!(returned.with_holds(true), None);
    let same = Bench::new().run(0, "12").result();
    assert_eq!(returned.computed_again(same, true), Ok(None));
    assert_eq!(
        returned.put_forward(false).unwrap().state,
        ResultState::Ready
    );
    let other = Bench::new().run(0, "13").result();
    let next = returned.computed_again(other, true).unwrap().unwrap();
    assert_eq!((next.state, next.amendment_due), (ResultState::Held, false));
}

#[test]
fn a_result_that_was_ended_is_computed_no_more() {
    for ended in [ready().cancel().unwrap(), ready().supersede().unwrap()] {
        let again = Bench::new().run(0, "13").result();
        assert!(ended.computed_again(again, false).is_err());
        assert!(ended.supersede().is_err());
        assert!(ended.put_forward(false).is_err());
    }
}

#[test]
fn the_record_has_one_level() {
    let value = serde_json::to_value(ready()).unwrap();
    assert_eq!(value.get("state").unwrap(), "ready");
    assert_eq!(value.get("reported").unwrap(), "12.0");
    assert_eq!(value.get("rules").unwrap(), 2);
    assert!(value.get("amendment_due").is_none());
    let back: ResultVersion = serde_json::from_value(value).unwrap();
    assert_eq!(back, ready());
}
