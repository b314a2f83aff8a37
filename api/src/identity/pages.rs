//! Sign-in and sign-out for people who look at pages: the token in a cookie.
//!
//! Promises a cookie that no script can read and no other site can send; refuses to lead anywhere
//! but to the laboratory's own pages.

use super::{
    Actor, COOKIE, Lab, Role, sign_in,
    tokens::{Subject, TOKEN_LIFE_S},
};
use crate::{
    app::{App, nothing_here},
    config::Config,
    error::{Answer, ApiError},
    pages::{Form, Frame, Page, PageError, Visit, html, way_back},
    request::{Data, read_json},
};
use actix_web::{
    HttpRequest, HttpResponse,
    cookie::{Cookie, SameSite, time::Duration},
    get,
    http::{StatusCode, header},
    post, web,
};
use askama::Template;
use domain::accounts::{Account, AccountState};
use serde::Deserialize;

/// Pages of the slice.
pub(crate) fn routes(config: &mut web::ServiceConfig) {
    config
        .service(choose_laboratory)
        .service(go_to_laboratory)
        .service(show_sign_in)
        .service(post_sign_in)
        .service(show_sign_out)
        .service(post_sign_out)
        // Last: every other address of one word is taken before it.
        .service(front_page);
}

#[derive(Template)]
#[template(path = "identity/laboratory.html")]
struct LaboratoryPage {
    frame: Frame,
    fault: String,
    typed: String,
}

#[derive(Template)]
#[template(path = "identity/sign_in.html")]
struct SignInPage {
    frame: Frame,
    slug: String,
    back: String,
    login: String,
    fault: String,
}

#[derive(Template)]
#[template(path = "identity/sign_out.html")]
struct SignOutPage {
    frame: Frame,
    slug: String,
}

/// Asks for the laboratory's name.
#[get("/")]
async fn choose_laboratory() -> HttpResponse {
    html(
        StatusCode::OK,
        &laboratory_page(String::new(), String::new()),
    )
}

fn laboratory_page(typed: String, fault: String) -> LaboratoryPage {
    LaboratoryPage {
        frame: Frame::bare(),
        fault,
        typed,
    }
}

#[derive(Deserialize)]
struct Chosen {
    #[serde(default)]
    laboratory: String,
}

/// Leads to the sign-in of the laboratory that was named.
#[get("/sign-in")]
async fn go_to_laboratory(chosen: web::Query<Chosen>) -> HttpResponse {
    let typed: String = chosen.laboratory.trim().chars().take(60).collect();
    let slug = typed.to_lowercase();
    let well_formed = (2..=40).contains(&slug.len())
        && slug
            .chars()
            .all(|letter| letter.is_ascii_lowercase() || letter.is_ascii_digit() || letter == '-');
    if well_formed {
        return see_other(&format!("/{slug}/sign-in"));
    }
    let fault = if typed.is_empty() {
        "Type the laboratory's name in addresses, such as quay.".to_owned()
    } else {
        format!(
            "\"{typed}\" is no name of a laboratory in addresses: those have 2 to 40 letters, \
             digits and hyphens, such as quay."
        )
    };
    html(
        StatusCode::UNPROCESSABLE_ENTITY,
        &laboratory_page(typed, fault),
    )
}

#[derive(Deserialize)]
struct Back {
    #[serde(default)]
    back: String,
}

/// Shows the form.
#[get("/{lab}/sign-in")]
async fn show_sign_in(lab: Lab, asked: web::Query<Back>) -> HttpResponse {
    let back = way_back(lab.slug(), &asked.back).unwrap_or_default();
    html(
        StatusCode::OK,
        &sign_in_page(&lab, back, String::new(), String::new()),
    )
}

fn sign_in_page(lab: &Lab, back: String, login: String, fault: String) -> SignInPage {
    SignInPage {
        frame: Frame::bare(),
        slug: lab.slug().to_owned(),
        back,
        login,
        fault,
    }
}

/// Signs in, and leads back.
#[post("/{lab}/sign-in")]
async fn post_sign_in(lab: Lab, form: Form, app: Data) -> Page {
    let login = form.text("login").unwrap_or_default().to_owned();
    let back = way_back(lab.slug(), form.text("back").unwrap_or_default());
    let typed = serde_json::json!({
        "login": login,
        "password": form.exact("password").unwrap_or_default(),
    });
    let typed = serde_json::to_vec(&typed).map_err(ApiError::internal)?;
    // Read as the API reads it, so that the same password is the same text.
    let given: sign_in::SignIn = read_json(&typed)?;
    match sign_in::token_for(&app, lab.slug(), &given).await {
        Ok(token) => {
            let claims = app.tokens.read(&token, app.clock.now())?;
            let location = back.unwrap_or_else(|| first_page(&lab, &claims.roles));
            let mut response = see_other(&location);
            response
                .add_cookie(&cookie(&app.config, token))
                .map_err(ApiError::internal)?;
            Ok(response)
        }
        Err(ApiError::Unauthenticated(fault)) => Ok(html(
            StatusCode::UNAUTHORIZED,
            &sign_in_page(&lab, back.unwrap_or_default(), login, fault),
        )),
        Err(error) => Err(PageError::from(error)),
    }
}

/// The laboratory's own address leads to what its visitor most likely came for, or to sign-in.
#[get("/{lab}")]
async fn front_page(
    lab: Lab,
    visit: Result<Visit, PageError>,
    request: HttpRequest,
    app: Data,
) -> Page {
    if app.laboratory(lab.slug()).await?.is_none() {
        return nothing_here(request).await;
    }
    let visit = visit?;
    Ok(see_other(&first_page(&lab, &visit.actor.claims.roles)))
}

/// What somebody most likely came for.
fn first_page(lab: &Lab, roles: &[Role]) -> String {
    let word = if roles.contains(&Role::Reviewer) {
        "review"
    } else if roles
        .iter()
        .all(|role| matches!(role, Role::Customer | Role::Regulator))
    {
        "certificates"
    } else {
        "samples"
    };
    format!("/{}/{word}", lab.slug())
}

/// Shows the button that signs out.
#[get("/{lab}/sign-out")]
async fn show_sign_out(lab: Lab) -> HttpResponse {
    let page = SignOutPage {
        frame: Frame::bare(),
        slug: lab.slug().to_owned(),
    };
    html(StatusCode::OK, &page)
}

/// Signs out.
#[post("/{lab}/sign-out")]
async fn post_sign_out(lab: Lab, _form: Form, app: Data) -> Page {
    let mut gone = cookie(&app.config, String::new());
    gone.make_removal();
    let mut response = see_other(&format!("/{}/sign-in", lab.slug()));
    response.add_cookie(&gone).map_err(ApiError::internal)?;
    Ok(response)
}

fn see_other(location: &str) -> HttpResponse {
    HttpResponse::SeeOther()
        .insert_header((header::LOCATION, location))
        .insert_header((header::CACHE_CONTROL, "no-store"))
        .finish()
}

fn cookie(config: &Config, token: String) -> Cookie<'static> {
    Cookie::build(COOKIE, token)
        .path("/")
        .http_only(true)
        .same_site(SameSite::Strict)
        .secure(config.public_url.starts_with("https://"))
        .max_age(Duration::seconds(TOKEN_LIFE_S))
        .finish()
}

/// A fresh cookie for whoever keeps looking at pages, once a third of their token's life is over.
/// It carries the roles that the account has now.
///
/// # Errors
/// [`ApiError::Unauthenticated`] where the account was closed meanwhile.
pub(crate) fn renewed(
    app: &App,
    actor: &Actor,
    account: Option<Account>,
) -> Answer<Option<Cookie<'static>>> {
    let Some(account) = account else {
        return Ok(None);
    };
    if account.state != AccountState::Active {
        return Err(ApiError::Unauthenticated(
            "The account was closed. Ask the administrator.".into(),
        ));
    }
    let now = app.clock.now();
    let age_s = now.utc().timestamp().saturating_sub(actor.claims.iat);
    if age_s < TOKEN_LIFE_S / 3 {
        return Ok(None);
    }
    let token = app.tokens.issue(
        Subject {
            id: actor.claims.sub,
            laboratory: actor.claims.laboratory,
            slug: actor.claims.slug.clone(),
            client: false,
            customer: account.customer.map(|customer| customer.0),
            roles: account.roles,
        },
        now,
    )?;
    Ok(Some(cookie(&app.config, token)))
}
