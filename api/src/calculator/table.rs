//! What a topic's table says of each computation.
//!
//! Promises that one entry makes the route, the description, the part of the page and the test.

use super::answer::{Given, calculate};
use crate::{error::Answer, identity::Actor, plots::Plot, request::Valid};
use actix_web::{
    HttpRequest,
    dev::{AppService, HttpServiceFactory},
    guard, web,
};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use utoipa::openapi::{RefOr, Schema};

/// Computations that belong together.
pub(super) struct Topic {
    /// The first part of their addresses.
    pub(super) word: &'static str,
    /// Its heading.
    pub(super) title: &'static str,
    /// Which questions they answer, in a sentence.
    pub(super) asks: &'static str,
    /// They.
    pub(super) computations: &'static [Computation],
}

/// Where a sample's numbers are from.
pub(super) enum Source {
    /// The worked example with this id.
    Example(&'static str),
    /// The numbers are the project's own, or of the source that is named.
    Own(&'static str),
}

/// One computation.
pub(super) struct Computation {
    /// Its address below `/v1/calculator/`.
    pub(super) path: &'static str,
    /// Its name.
    pub(super) title: &'static str,
    /// What it answers, in a sentence.
    pub(super) summary: &'static str,
    /// Where the sample is from.
    pub(super) source: Source,
    /// A body, as JSON.
    pub(super) sample: &'static str,
    /// Answers a body, as JSON.
    pub(super) compute: fn(&Value) -> Answer<String>,
    /// What bodies and answers look like.
    pub(super) shape: fn() -> Shape,
    /// Where the answer is a picture: it, with its table.
    pub(super) plot: Option<fn(&Value) -> Answer<Plot>>,
}

/// The schemas of a body and its answer.
pub(super) struct Shape {
    /// Name of the body's.
    pub(super) body: String,
    /// Name of the answer's; empty where it is a picture.
    pub(super) answer: String,
    /// Both, and all that they refer to.
    pub(super) schemas: Vec<(String, RefOr<Schema>)>,
}

impl Computation {
    /// The whole address.
    pub(super) fn address(&self) -> String {
        format!("/v1/calculator/{}", self.path)
    }

    /// What programs call it: the address in words.
    pub(super) fn operation(&self) -> String {
        format!("calculate_{}", self.path.replace(['/', '-'], "_"))
    }
}

/// Answers in the order of what was asked.
#[derive(Debug, Serialize, Deserialize)]
pub(super) struct InOrder<T> {
    /// One for each thing that was asked about, in its order.
    items: Vec<T>,
}

impl<T> From<Vec<T>> for InOrder<T> {
    fn from(items: Vec<T>) -> Self {
        Self { items }
    }
}

/// All computations as routes, in one scope, so that other addresses pass them by at once.
pub(super) struct Calculator;

impl HttpServiceFactory for Calculator {
    fn register(self, config: &mut AppService) {
        let mut scope = web::scope("/v1/calculator");
        for computation in super::computations() {
            let answer = move |_actor: Actor, body: Valid<Given>, request: HttpRequest| {
                calculate(computation, body.into_inner(), request)
            };
            let resource = web::resource(format!("/{}", computation.path));
            scope = scope.service(resource.guard(guard::Post()).to(answer));
        }
        scope.register(config);
    }
}

/// The table of a topic: for each computation its path, the function of the domain with what it
/// takes and gives (in brackets where it gives a list), and its words.
macro_rules! topic {
    (
        $word:literal, $title:literal, $asks:literal;
        $(
            $path:literal = $function:ident($input:ident) -> $output:tt {
                title: $name:literal,
                summary: $summary:literal,
                source: $source:expr,
                sample: $sample:literal,
            }
        )*
    ) => {
        /// What the topic computes.
        pub(super) const TOPIC: crate::calculator::table::Topic = crate::calculator::table::Topic {
            word: $word,
            title: $title,
            asks: $asks,
            computations: &[$(crate::calculator::table::Computation {
                path: concat!($word, "/", $path),
                title: $name,
                summary: $summary,
                source: $source,
                sample: $sample,
                compute: |given| {
                    crate::calculator::answer::computed::<$input, _, given_as!($output)>(
                        given, $function,
                    )
                },
                shape: crate::calculator::description::shape::<$input, given_as!($output)>,
                plot: None,
            }),*],
        };
    };
}

/// The type of an answer: what the function gives, or a list of it.
macro_rules! given_as {
    ([$item:ident]) => { crate::calculator::table::InOrder<$item> };
    ($plain:ident) => { $plain };
}
