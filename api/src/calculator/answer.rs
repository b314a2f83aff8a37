//! Answers one body: read strictly, computed beside the workers, few at a time.
//!
//! Refuses lists longer than [`MOST_MEMBERS`], and says of a computation without an answer which
//! quantity it was and where in the body that stands, as far as this is known.

use super::{pages, table::Computation};
use crate::{
    error::{Answer, ApiError},
    request::{Entered, typed},
};
use actix_web::{HttpRequest, HttpResponse, web};
use domain::{faults::Faults, statistics::StatisticsError};
use serde::{Deserialize, Serialize, de::DeserializeOwned};
use serde_json::Value;
use std::sync::{Arc, LazyLock};
use tokio::sync::Semaphore;

/// Most members of a list in a body.
pub(super) const MOST_MEMBERS: usize = 5_000;

/// How many bodies are computed at once: half of the processors, so that the laboratories' own
/// work goes on beside the longest of them.
static TURNS: LazyLock<Arc<Semaphore>> = LazyLock::new(|| {
    let processors = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
    Arc::new(Semaphore::new(processors.div_ceil(2)))
});

/// A body as it was sent.
#[derive(Debug, Deserialize)]
#[serde(transparent)]
pub(super) struct Given(Value);

impl Entered for Given {
    fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        if !self.0.is_object() {
            faults.add(
                "",
                "The body must be an object with the members of the example.",
            );
        }
        count_members(&self.0, &mut String::new(), &mut faults);
        faults.into_result()
    }
}

/// Refuses each list that is too long.
fn count_members(value: &Value, path: &mut String, faults: &mut Faults) {
    each_below(value, path, &mut |value, path| {
        let members = value.as_array().map_or(0, Vec::len);
        if members > MOST_MEMBERS {
            faults.add(
                path,
                format!(
                    "The list has {members} members, {MOST_MEMBERS} are the most that are taken at \
                     once. Send a part of it."
                ),
            );
        }
    });
}

/// Looks at a value and everything in it, each with its JSON pointer.
fn each_below(value: &Value, path: &mut String, look: &mut impl FnMut(&Value, &str)) {
    look(value, path);
    let length = path.len();
    match value {
        Value::Array(items) => {
            for (index, item) in items.iter().enumerate() {
                path.push_str(&format!("/{index}"));
                each_below(item, path, look);
                path.truncate(length);
            }
        }
        Value::Object(members) => {
            for (name, member) in members {
                path.push('/');
                path.push_str(&name.replace('~', "~0").replace('/', "~1"));
                each_below(member, path, look);
                path.truncate(length);
            }
        }
        Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_) => {}
    }
}

/// Endings of names that say the unit.
const UNITS: &[&str] = &[
    "_ug_per_kg",
    "_kg",
    "_g",
    "_t",
    "_ul",
    "_ml",
    "_ft",
    "_percent",
];

/// Where the quantity of a refusal stands in the body: at the one member that has its name.
fn pointer_to(given: &Value, quantity: &str) -> Option<String> {
    let sought = quantity.to_lowercase().replace(' ', "_");
    let mut found = Vec::new();
    each_below(given, &mut String::new(), &mut |_value, path| {
        let name = path.rsplit('/').next().unwrap_or_default();
        let bare = UNITS.iter().find_map(|unit| name.strip_suffix(unit));
        if name == sought || bare == Some(sought.as_str()) {
            found.push(path.to_owned());
        }
    });
    match found.as_slice() {
        [only] => Some(only.clone()),
        _ => None,
    }
}

/// Why a body has no answer.
pub(super) fn refused(given: &Value, fault: StatisticsError) -> ApiError {
    ApiError::NotComputed {
        pointer: pointer_to(given, fault.quantity()),
        fault,
    }
}

/// Computes an answer to a body.
///
/// # Errors
/// [`ApiError::Invalid`] for a body of another shape, [`ApiError::NotComputed`].
pub(super) fn computed<I, R, O>(
    given: &Value,
    by: fn(&I) -> Result<R, StatisticsError>,
) -> Answer<String>
where
    I: DeserializeOwned,
    R: Into<O>,
    O: Serialize,
{
    let inputs: I = typed(given)?;
    let outputs: O = by(&inputs).map_err(|fault| refused(given, fault))?.into();
    serde_json::to_string(&outputs).map_err(ApiError::internal)
}

/// Computes once it has its turn. The turn is the computation's, not the caller's: who hangs up
/// and asks again does not have two computed at once.
async fn in_turn<T: Send + 'static>(
    compute: impl FnOnce() -> Answer<T> + Send + 'static,
) -> Answer<T> {
    let turn = Arc::clone(&TURNS).acquire_owned().await;
    let turn = turn.map_err(ApiError::internal)?;
    web::block(move || {
        let answer = compute();
        drop(turn);
        answer
    })
    .await
    .map_err(ApiError::internal)?
}

/// Answers a request.
pub(super) async fn calculate(
    computation: &'static Computation,
    given: Given,
    request: HttpRequest,
) -> Answer<HttpResponse> {
    if let Some(plot) = computation.plot {
        let plot = in_turn(move || plot(&given.0)).await?;
        return Ok(pages::picture(computation.title, plot, &request));
    }
    let answer = in_turn(move || (computation.compute)(&given.0)).await?;
    Ok(HttpResponse::Ok()
        .content_type("application/json")
        .body(answer))
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn a_quantity_is_found_where_one_member_has_its_name() {
        let given = json!({"values": ["1"], "plan": {"sample_mass_kg": "3"},
            "lists": [{"s": "1"}, {"s": "2"}]});
        assert_eq!(pointer_to(&given, "values").as_deref(), Some("/values"));
        let mass = pointer_to(&given, "sample mass");
        assert_eq!(mass.as_deref(), Some("/plan/sample_mass_kg"));
        assert_eq!(pointer_to(&given, "s"), None, "there are two of them");
        assert_eq!(pointer_to(&given, "quantile"), None);
    }

    #[test]
    fn a_list_that_is_too_long_is_refused_where_it_stands() {
        let long = json!({"a": {"values": vec!["1"; MOST_MEMBERS + 1]}});
        let faults = Given(long)
            .check()
            .map_or_else(|faults| faults.0, |()| vec![]);
        let pointers: Vec<_> = faults.iter().map(|fault| fault.pointer.as_str()).collect();
        assert_eq!(pointers, ["/a/values"]);
        assert!(
            Given(json!({"values": vec!["1"; MOST_MEMBERS]}))
                .check()
                .is_ok()
        );
        assert!(Given(json!([])).check().is_err());
    }
}
