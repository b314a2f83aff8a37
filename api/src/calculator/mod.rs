//! The calculator: every computation that a result can rest on, for anybody's own numbers.
//!
//! Promises the figures on the way beside the last one, from the functions that compute the stored
//! results too; asks for a token of any role, and stores nothing. Refuses, naming the quantity,
//! what has no answer, and lists so long that one caller could keep the others waiting.
//!
//! Each topic is one table of computations; routes, the API document, the page and the tests come
//! from these tables.

#[macro_use]
mod table;
mod answer;
mod description;
mod layout;
pub(crate) mod pages;

mod budgets;
mod censored;
mod combination;
mod control;
mod decisions;
mod detection;
mod dilution;
mod lines;
mod logistic;
mod plots;
mod precision;
mod proficiency;
mod rounding;
mod sampling;
mod screening;

use table::{Calculator, Computation, Topic};

/// Every topic, in the order of the page.
static TOPICS: [&Topic; 15] = [
    &budgets::TOPIC,
    &dilution::TOPIC,
    &combination::TOPIC,
    &decisions::TOPIC,
    &rounding::TOPIC,
    &sampling::TOPIC,
    &screening::TOPIC,
    &precision::TOPIC,
    &control::TOPIC,
    &proficiency::TOPIC,
    &lines::TOPIC,
    &logistic::TOPIC,
    &detection::TOPIC,
    &censored::TOPIC,
    &plots::TOPIC,
];

/// Every computation, in the order of the page.
fn computations() -> impl Iterator<Item = &'static Computation> {
    TOPICS.iter().flat_map(|topic| topic.computations)
}

/// Routes of the slice.
pub fn routes(config: &mut utoipa_actix_web::service_config::ServiceConfig) {
    config.service(Calculator);
}
