//! Lists certificates, newest first; a customer sees those of its own lots.

use super::{store, wire::CertificateView};
use crate::{
    error::{Answer, Problem},
    identity::{Action, Actor, Lab},
    request::{Data, Listed, Page, listed},
};
use actix_web::{HttpRequest, HttpResponse, get, web};
use domain::certificates::CertificateState;
use uuid::Uuid;

/// Which certificates are asked for.
#[derive(Debug, serde::Deserialize, utoipa::IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct CertificateFilter {
    /// Only those of this lot.
    pub lot: Option<Uuid>,
    /// Only those of lots of this customer.
    pub customer: Option<Uuid>,
    /// Only those that state this result.
    pub result: Option<Uuid>,
    /// Only those in this state.
    pub state: Option<CertificateState>,
    /// Only the one with this number.
    pub number: Option<String>,
}

/// List certificates
#[utoipa::path(tag = "certificates",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"), Page, CertificateFilter),
    responses((status = 200, body = Listed<CertificateView>), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/certificates")]
pub(super) async fn list_certificates(
    actor: Actor,
    lab: Lab,
    page: web::Query<Page>,
    filter: web::Query<CertificateFilter>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadCertificates, &lab)?;
    let customer = permit.only_customer();
    let found = app
        .db
        .read(&permit, async |tx| {
            store::list(tx, &page, &filter, customer).await
        })
        .await?;
    let views: Vec<CertificateView> = found
        .into_iter()
        .map(|kept| CertificateView::of(kept, permit.laboratory()))
        .collect();
    Ok(listed(&request, &page, views, |view| view.id))
}
