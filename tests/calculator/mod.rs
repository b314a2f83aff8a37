//! The calculator: every worked example over HTTP, its samples, its refusals and its page.

mod call;
mod page;
mod plots;
mod refuse;
mod reproduce;
mod samples;

// How an example becomes the inputs of a computation is told once, for the domain and for HTTP.
#[path = "../../domain/tests/worked_examples/calibration.rs"]
mod calibration;
#[path = "../../domain/tests/worked_examples/case.rs"]
mod case;
#[path = "../../domain/tests/worked_examples/censored.rs"]
mod censored;
#[path = "../../domain/tests/worked_examples/control.rs"]
mod control;
#[path = "../../domain/tests/worked_examples/decision_rules.rs"]
mod decision_rules;
#[path = "../../domain/tests/worked_examples/detection.rs"]
mod detection;
#[path = "../../domain/tests/worked_examples/dilution_uncertainty.rs"]
mod dilution_uncertainty;
#[path = "../../domain/tests/worked_examples/gather.rs"]
mod gather;
#[path = "../../domain/tests/worked_examples/logistic.rs"]
mod logistic;
#[path = "../../domain/tests/worked_examples/precision.rs"]
mod precision;
#[path = "../../domain/tests/worked_examples/proficiency.rs"]
mod proficiency;
#[path = "../../domain/tests/worked_examples/recovery_combination.rs"]
mod recovery_combination;
#[path = "../../domain/tests/worked_examples/rounding.rs"]
mod rounding;
#[path = "../../domain/tests/worked_examples/screening.rs"]
mod screening;
#[path = "../../domain/tests/worked_examples/topics.rs"]
mod topics;
