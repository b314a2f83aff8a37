//! The computations in the API document, from the same tables as their routes.

use super::{
    answer::MOST_MEMBERS,
    computations,
    table::{Calculator, Computation, InOrder, Shape, Source},
};
use crate::error::Problem;
use serde_json::Value;
use std::borrow::Cow;
use utoipa::{
    PartialSchema, ToSchema,
    openapi::{
        ArrayBuilder, ContentBuilder, HttpMethod, ObjectBuilder, PathItem, Paths, PathsBuilder,
        Ref, RefOr, Required, ResponseBuilder, Schema, Type,
        path::{Operation, OperationBuilder},
        request_body::{RequestBody, RequestBodyBuilder},
    },
};
use utoipa_actix_web::OpenApiFactory;

impl<T: ToSchema> PartialSchema for InOrder<T> {
    fn schema() -> RefOr<Schema> {
        let items = ArrayBuilder::new().items(Ref::from_schema_name(T::name()));
        ObjectBuilder::new()
            .description(Some("Answers in the order of what was asked."))
            .property("items", items)
            .required("items")
            .into()
    }
}

impl<T: ToSchema> ToSchema for InOrder<T> {
    fn name() -> Cow<'static, str> {
        format!("InOrder_{}", T::name()).into()
    }

    fn schemas(schemas: &mut Vec<(String, RefOr<Schema>)>) {
        schemas.push((T::name().into(), T::schema()));
        T::schemas(schemas);
    }
}

/// What bodies of one type and answers of another look like.
pub(super) fn shape<I: ToSchema, O: ToSchema>() -> Shape {
    let mut schemas = vec![
        (I::name().into(), I::schema()),
        (O::name().into(), O::schema()),
        (Problem::name().into(), Problem::schema()),
    ];
    I::schemas(&mut schemas);
    O::schemas(&mut schemas);
    Problem::schemas(&mut schemas);
    Shape {
        body: I::name().into(),
        answer: O::name().into(),
        schemas,
    }
}

/// What bodies look like whose answer is a picture.
pub(super) fn picture<I: ToSchema>() -> Shape {
    let mut schemas = vec![
        (I::name().into(), I::schema()),
        (Problem::name().into(), Problem::schema()),
    ];
    I::schemas(&mut schemas);
    Problem::schemas(&mut schemas);
    Shape {
        body: I::name().into(),
        answer: String::new(),
        schemas,
    }
}

impl Source {
    /// In words.
    pub(super) fn words(&self) -> String {
        match self {
            Self::Example(id) => format!("worked example {id}"),
            Self::Own(words) => (*words).to_owned(),
        }
    }
}

impl Computation {
    /// The sample as it is sent. A test excludes that it is no JSON.
    pub(super) fn body(&self) -> Value {
        serde_json::from_str(self.sample).unwrap_or_default()
    }

    fn request(&self, shape: &Shape) -> RequestBody {
        let content = ContentBuilder::new()
            .schema(Some(Ref::from_schema_name(&shape.body)))
            .example(Some(self.body()))
            .build();
        RequestBodyBuilder::new()
            .content("application/json", content)
            .required(Some(Required::True))
            .build()
    }

    fn described(&self) -> Operation {
        let shape = (self.shape)();
        let answered = |name: &str| {
            let content = ContentBuilder::new().schema(Some(Ref::from_schema_name(name)));
            ResponseBuilder::new()
                .content("application/json", content.build())
                .build()
        };
        let answer = if self.plot.is_some() {
            let text = ObjectBuilder::new().schema_type(Type::String);
            let content = ContentBuilder::new().schema(Some(text)).build();
            ResponseBuilder::new()
                .content("image/svg+xml", content.clone())
                .content("text/html", content)
                .build()
        } else {
            answered(&shape.answer)
        };
        let words = format!(
            "{}\n\nNothing is stored. A list may have {MOST_MEMBERS} members at the most. The \
             example: {}.",
            self.summary,
            self.source.words()
        );
        OperationBuilder::new()
            .tag("calculator")
            .operation_id(Some(self.operation()))
            .summary(Some(self.title))
            .description(Some(words))
            .request_body(Some(self.request(&shape)))
            .response("200", answer)
            .response("4XX", answered("Problem"))
            .build()
    }
}

impl OpenApiFactory for Calculator {
    fn paths(&self) -> Paths {
        let described = |paths: PathsBuilder, computation: &Computation| {
            let item = PathItem::new(HttpMethod::Post, computation.described());
            paths.path(computation.address(), item)
        };
        computations().fold(PathsBuilder::new(), described).build()
    }

    fn schemas(&self, schemas: &mut Vec<(String, RefOr<Schema>)>) {
        schemas.extend(computations().flat_map(|computation| (computation.shape)().schemas));
    }
}
