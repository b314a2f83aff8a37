//! Who calls: sign-in, accounts, clients, and the permit without which nothing is written.
//!
//! Promises 401 for whoever is not signed in, 403 for whoever is not allowed, before anything else
//! is looked at. A permit is the only way to a transaction.

mod attempts;
mod change_password;
mod list_accounts;
mod list_clients;
mod pages;
mod passwords;
mod register_account;
mod register_client;
mod revise_account;
mod revise_client;
mod show_account;
mod show_client;
mod sign_in;
mod store;
pub mod tokens;

pub(crate) use attempts::confirm_password;
pub use domain::identity::{Action, Role};
pub(crate) use pages::{renewed, routes as page_routes};
pub(crate) use passwords::hash_password;
pub(crate) use store::{
    account,
    erased::{erase_account, erase_client, laboratory_by_id},
    insert_account, laboratory as find_laboratory, replay_accounts, replay_clients,
};

use crate::{
    error::{Answer, ApiError},
    request::Data,
};
use actix_web::{FromRequest, HttpRequest, dev::Payload, http::header};
use domain::{
    id::{AccountId, ClientId, CustomerId, LaboratoryId},
    ledger,
};
use futures_util::future::LocalBoxFuture;
use tokens::Claims;
use uuid::Uuid;

/// Routes of the slice.
pub fn routes(config: &mut utoipa_actix_web::service_config::ServiceConfig) {
    config
        .service(sign_in::sign_in)
        .service(change_password::change_password)
        .service(register_account::register_account)
        .service(list_accounts::list_accounts)
        .service(show_account::show_account)
        .service(revise_account::revise_account)
        .service(register_client::register_client)
        .service(list_clients::list_clients)
        .service(show_client::show_client)
        .service(revise_client::revise_client);
}

/// Name of the cookie that keeps a person signed in on the pages.
pub const COOKIE: &str = "assize";

/// What the service does without a caller where an older backup brought back what was erased.
pub(crate) const REPLAY_ERASURES: &str = "replay-erasures";

/// A laboratory, as rows, records and addresses name it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LaboratoryKey {
    /// The number that its rows carry.
    pub number: i32,
    /// The id in its records.
    pub id: LaboratoryId,
    /// The name in its addresses.
    pub slug: String,
}

/// The laboratory that an address names.
#[derive(Debug, Clone)]
pub struct Lab(String);

impl Lab {
    /// A laboratory that an address names otherwise than by its name.
    #[must_use]
    pub fn of(slug: String) -> Self {
        Self(slug)
    }

    /// The name in the address.
    #[must_use]
    pub fn slug(&self) -> &str {
        &self.0
    }
}

impl FromRequest for Lab {
    type Error = ApiError;
    type Future = std::future::Ready<Answer<Self>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let slug = request.match_info().get("lab").unwrap_or_default();
        std::future::ready(Ok(Self(slug.to_owned())))
    }
}

/// A thing in the laboratory that an address names.
#[derive(Debug, Clone)]
pub struct InLab<Id> {
    lab: Lab,
    id: Id,
}

impl<Id> InLab<Id> {
    /// The laboratory.
    pub fn lab(&self) -> &Lab {
        &self.lab
    }
}

impl<Id: Copy> InLab<Id> {
    /// A thing that a form names, in the laboratory of its address.
    pub(crate) fn of(lab: &Lab, id: Id) -> Self {
        Self {
            lab: lab.clone(),
            id,
        }
    }

    /// The id of the thing.
    pub fn id(&self) -> Id {
        self.id
    }
}

impl<Id: From<Uuid> + 'static> FromRequest for InLab<Id> {
    type Error = ApiError;
    type Future = std::future::Ready<Answer<Self>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let path = request.match_info();
        let text = path.get("id").unwrap_or_default();
        std::future::ready(match Uuid::parse_str(text) {
            Ok(id) => Ok(Self {
                lab: Lab(path.get("lab").unwrap_or_default().to_owned()),
                id: Id::from(id),
            }),
            Err(_unreadable) => Err(ApiError::NotFound(format!(
                "\"{text}\" is no id. Ids are UUIDs, as the lists give them."
            ))),
        })
    }
}

/// Whoever calls, signed in.
#[derive(Debug, Clone)]
pub struct Actor {
    claims: Claims,
    laboratory: LaboratoryKey,
}

impl FromRequest for Actor {
    type Error = ApiError;
    type Future = LocalBoxFuture<'static, Answer<Self>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let request = request.clone();
        Box::pin(async move {
            let token = bearer(&request)?;
            actor(&request, &token).await
        })
    }
}

/// Whoever looks at a page, signed in by cookie.
#[derive(Debug, Clone)]
pub struct Visitor(pub Actor);

impl FromRequest for Visitor {
    type Error = ApiError;
    type Future = LocalBoxFuture<'static, Answer<Self>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let request = request.clone();
        Box::pin(async move {
            let cookie = request.cookie(COOKIE).ok_or_else(not_signed_in)?;
            actor(&request, cookie.value()).await.map(Self)
        })
    }
}

fn not_signed_in() -> ApiError {
    ApiError::Unauthenticated("Sign in first.".into())
}

fn bearer(request: &HttpRequest) -> Answer<String> {
    request
        .headers()
        .get(header::AUTHORIZATION)
        .and_then(|value| value.to_str().ok())
        .and_then(|text| text.strip_prefix("Bearer "))
        .map(|token| token.trim().to_owned())
        .ok_or_else(|| {
            ApiError::Unauthenticated(
                "Send a token: POST login and password to …/tokens, then the header \
                 Authorization: Bearer <token>."
                    .into(),
            )
        })
}

async fn actor(request: &HttpRequest, token: &str) -> Answer<Actor> {
    let app = request
        .app_data::<Data>()
        .ok_or_else(|| ApiError::internal("the service has no state"))?;
    let claims = app.tokens.read(token, app.clock.now())?;
    let laboratory = app
        .laboratory(&claims.slug)
        .await?
        .filter(|laboratory| laboratory.id.0 == claims.laboratory)
        .ok_or_else(not_signed_in)?;
    Ok(Actor { claims, laboratory })
}

impl Actor {
    /// The laboratory of the caller.
    #[must_use]
    pub fn laboratory(&self) -> &LaboratoryKey {
        &self.laboratory
    }

    /// The caller's account, where it is a person.
    #[must_use]
    pub fn account(&self) -> Option<AccountId> {
        (!self.claims.client).then_some(AccountId(self.claims.sub))
    }

    /// Permits an action in a laboratory, or refuses.
    ///
    /// # Errors
    /// [`ApiError::Forbidden`], with who may.
    pub fn permit(&self, action: Action, lab: &Lab) -> Answer<Permit> {
        if lab.slug() != self.laboratory.slug {
            return Err(ApiError::Forbidden(format!(
                "You belong to the laboratory \"{}\", not to \"{}\". Sign in there.",
                self.laboratory.slug,
                lab.slug()
            )));
        }
        let role = action
            .roles()
            .iter()
            .copied()
            .find(|role| self.claims.roles.contains(role));
        let Some(role) = role else {
            let may: Vec<&str> = action.roles().iter().map(|role| role.name()).collect();
            return Err(ApiError::Forbidden(format!(
                "To {} takes the role {}. Ask the administrator.",
                action.name().replace('-', " "),
                may.join(" or ")
            )));
        };
        Ok(Permit {
            laboratory: self.laboratory.clone(),
            who: if self.claims.client {
                Who::Client(ClientId(self.claims.sub))
            } else {
                Who::Account(AccountId(self.claims.sub))
            },
            role: Some(role),
            customer: self.claims.customer.map(CustomerId),
            action: action.name(),
        })
    }
}

#[derive(Debug, Clone)]
enum Who {
    Account(AccountId),
    Client(ClientId),
    Process(&'static str),
}

/// That somebody may do something now: the way to a transaction.
#[derive(Debug, Clone)]
pub struct Permit {
    laboratory: LaboratoryKey,
    who: Who,
    role: Option<Role>,
    customer: Option<CustomerId>,
    action: &'static str,
}

impl Permit {
    /// The permit of the service itself, for what it does without a caller.
    #[must_use]
    pub fn process(laboratory: LaboratoryKey, process: &'static str, action: &'static str) -> Self {
        Self {
            laboratory,
            who: Who::Process(process),
            role: None,
            customer: None,
            action,
        }
    }

    /// The laboratory.
    #[must_use]
    pub fn laboratory(&self) -> &LaboratoryKey {
        &self.laboratory
    }

    /// The name that the act carries.
    #[must_use]
    pub fn action_name(&self) -> &str {
        self.action
    }

    /// Whether it is done even where the log may not go on: what begins the next one, and the
    /// erasures that an older backup has due.
    #[must_use]
    pub fn is_for_a_suspended_log(&self) -> bool {
        self.action == Action::BeginLog.name() || self.action == REPLAY_ERASURES
    }

    /// The role that it is done in; none for the service itself.
    #[must_use]
    pub fn role(&self) -> Option<Role> {
        self.role
    }

    /// The account, where a person acts.
    #[must_use]
    pub fn account(&self) -> Option<AccountId> {
        match self.who {
            Who::Account(account) => Some(account),
            Who::Client(_) | Who::Process(_) => None,
        }
    }

    /// The customer whose things alone may be seen, where the role is customer.
    #[must_use]
    pub fn only_customer(&self) -> Option<CustomerId> {
        self.customer
    }

    /// Account or client, for idempotency keys; nil for the service itself.
    #[must_use]
    pub fn caller(&self) -> Uuid {
        match self.who {
            Who::Account(account) => account.0,
            Who::Client(client) => client.0,
            Who::Process(_) => Uuid::nil(),
        }
    }

    /// Who acts, as the act says it.
    #[must_use]
    pub fn actor(&self) -> ledger::Actor {
        let role = self.role.map(Role::name).unwrap_or_default().to_owned();
        match self.who {
            Who::Account(account) => ledger::Actor::Account { account, role },
            Who::Client(client) => ledger::Actor::Client {
                client,
                on_behalf_of: None,
                role,
            },
            Who::Process(process) => ledger::Actor::Process {
                process: process.to_owned(),
            },
        }
    }
}
