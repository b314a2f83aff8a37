//! The API document: title, tags, security. Its operations are collected from the routes.

use utoipa::{
    Modify, OpenApi,
    openapi::{
        RefOr, Schema,
        security::{HttpAuthScheme, HttpBuilder, SecurityScheme},
    },
};

struct BearerToken;

impl Modify for BearerToken {
    fn modify(&self, document: &mut utoipa::openapi::OpenApi) {
        let components = document.components.get_or_insert_default();
        components.add_security_scheme(
            "token",
            SecurityScheme::Http(
                HttpBuilder::new()
                    .scheme(HttpAuthScheme::Bearer)
                    .bearer_format("JWT")
                    .description(Some("POST login and password to …/tokens for one."))
                    .build(),
            ),
        );
    }
}

/// Leaves out of the descriptions of types what is for programmers of the service alone: the
/// examples, which are code.
pub fn without_code(document: &mut utoipa::openapi::OpenApi) {
    let Some(components) = &mut document.components else {
        return;
    };
    for schema in components.schemas.values_mut() {
        let RefOr::T(schema) = schema else {
            continue;
        };
        let description = match schema {
            Schema::Object(object) => &mut object.description,
            Schema::OneOf(one_of) => &mut one_of.description,
            Schema::AllOf(all_of) => &mut all_of.description,
            Schema::AnyOf(any_of) => &mut any_of.description,
            Schema::Array(array) => &mut array.description,
            // A kind of schema that is new to the library keeps what it says.
            _ => continue,
        };
        if let Some(text) = description
            && let Some((words, _code)) = text.split_once("```")
        {
            *text = words.trim_end().to_owned();
        }
    }
}

/// The document before the routes add their operations.
#[derive(OpenApi)]
#[openapi(
    info(
        title = "Assize",
        description = "The record of quantitative strip tests for mycotoxins in grain: from the \
            reader's number to a reviewed result, a decision against a limit, and a certificate \
            that anybody can verify.\n\nA POST that recorded something answers with a receipt in \
            headers: `Assize-Entry`, the act as it was signed; `Assize-Records`, the hashes of its \
            records in order, where there are 16 or fewer; `Assize-Proof`, where the proof will be \
            that the log has it, about a second later. Keep them to be able to show that it was \
            recorded.\n\nThe operations under `calculator` store nothing: they compute \
            from your numbers what the service computes from readings. `/calculator` shows each \
            with a sample and its answer."
    ),
    modifiers(&BearerToken),
    security(("token" = []))
)]
pub struct Document;
