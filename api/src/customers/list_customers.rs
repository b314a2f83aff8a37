//! Lists customers, newest first.

use super::{store, wire::CustomerView};
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, Lab},
    request::{Data, Listed, Page, listed},
};
use actix_web::{HttpRequest, HttpResponse, get, web};
use domain::customers::CustomerState;

/// Which customers are asked for.
#[derive(Debug, serde::Deserialize, utoipa::IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct CustomerFilter {
    /// Only those in this state.
    pub state: Option<CustomerState>,
}

/// List customers
#[utoipa::path(tag = "customers",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"), Page, CustomerFilter),
    responses((status = 200, body = Listed<CustomerView>), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/customers")]
pub(super) async fn list_customers(
    actor: Actor,
    lab: Lab,
    page: web::Query<Page>,
    filter: web::Query<CustomerFilter>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadCustomers, &lab)?;
    let state = filter.state.map(|state| match state {
        CustomerState::Active => "active",
        CustomerState::Inactive => "inactive",
    });
    let found = app
        .db
        .read(&permit, async |tx| store::list(tx, &page, state).await)
        .await?;
    let views: Vec<CustomerView> = found.into_iter().map(CustomerView::from).collect();
    Ok(listed(&request, &page, views, |view| view.id))
}
