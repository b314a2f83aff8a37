//! Who visits a page, and how a page is read for them.

use super::{
    PageError,
    frame::{self, Frame, Lead},
};
use crate::{
    db::Tx,
    error::{Answer, ApiError},
    identity::{self, Action, Actor, Lab, Permit, Visitor},
    laboratories,
    request::Data,
};
use actix_web::{FromRequest, HttpRequest, HttpResponse, dev::Payload, http::StatusCode};
use askama::Template;
use chrono_tz::Tz;
use domain::accounts::Account;
use futures_util::future::LocalBoxFuture;

/// The words of the thin line, with what one must be allowed in order to go there; in addresses a
/// blank is a hyphen.
const WORDS: [(&str, Action); 11] = [
    ("lots", Action::ReadLots),
    ("samples", Action::ReadSamples),
    ("runs", Action::ReadRuns),
    ("review", Action::ReadReviews),
    ("certificates", Action::ReadCertificates),
    ("imports", Action::ReadImports),
    ("limits", Action::ReadLimits),
    ("screening validations", Action::ReadScreeningValidations),
    ("kit lots", Action::ReadKitLots),
    ("equipment", Action::ReadEquipment),
    ("control charts", Action::ReadControlCharts),
];

/// Somebody who looks at a page of their laboratory, signed in by cookie.
pub(crate) struct Visit {
    /// Who it is.
    pub actor: Actor,
    /// The laboratory of the address.
    pub lab: Lab,
    /// The service.
    pub app: Data,
}

impl FromRequest for Visit {
    type Error = PageError;
    type Future = LocalBoxFuture<'static, Result<Self, PageError>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let request = request.clone();
        Box::pin(async move {
            let lab = Lab::from_request(&request, &mut Payload::None).await?;
            let app = request
                .app_data::<Data>()
                .cloned()
                .ok_or_else(|| ApiError::internal("the service has no state"))?;
            match Visitor::from_request(&request, &mut Payload::None).await {
                Ok(Visitor(actor)) if actor.laboratory().slug == lab.slug() => {
                    Ok(Self { actor, lab, app })
                }
                Ok(_) | Err(ApiError::Unauthenticated(_)) => Err(PageError::SignIn {
                    location: sign_in_for(&request, &lab),
                }),
                Err(error) => Err(error.into()),
            }
        })
    }
}

/// Where sign-in is, with the way back to the page that was asked for; a form's own address is
/// none, so that leads back to the page it stands on.
fn sign_in_for(request: &HttpRequest, lab: &Lab) -> String {
    let asked = request
        .uri()
        .path_and_query()
        .map_or_else(|| request.path(), |whole| whole.as_str());
    match frame::way_back(lab.slug(), asked) {
        Some(back) => {
            let back = serde_urlencoded::to_string([("back", back)]).unwrap_or_default();
            format!("/{}/sign-in?{back}", lab.slug())
        }
        None => format!("/{}/sign-in", lab.slug()),
    }
}

impl Visit {
    /// Permits an action here, or refuses.
    ///
    /// # Errors
    /// [`ApiError::Forbidden`].
    pub(crate) fn permit(&self, action: Action) -> Answer<Permit> {
        self.actor.permit(action, &self.lab)
    }

    /// Whether the visitor may do something.
    pub(crate) fn may(&self, action: Action) -> bool {
        self.permit(action).is_ok()
    }

    /// Reads a page in one consistent state of the laboratory, and shows it.
    ///
    /// # Errors
    /// What the reading refuses with.
    pub(crate) async fn show<P: Template>(
        &self,
        action: Action,
        word: &str,
        status: StatusCode,
        work: impl AsyncFnOnce(&mut Tx, Frame) -> Answer<P>,
    ) -> Result<HttpResponse, PageError> {
        let permit = self.permit(action)?;
        let (page, account) = self
            .app
            .db
            .read(&permit, async |tx| {
                let account = match self.actor.account() {
                    Some(id) => Some(identity::account(tx, id).await?.content),
                    None => None,
                };
                let frame = self.frame(tx, word, account.as_ref()).await?;
                Ok((work(tx, frame).await?, account))
            })
            .await?;
        let mut response = frame::html(status, &page);
        if let Some(cookie) = identity::renewed(&self.app, &self.actor, account)? {
            response.add_cookie(&cookie).map_err(ApiError::internal)?;
        }
        Ok(response)
    }

    async fn frame(&self, tx: &mut Tx, word: &str, account: Option<&Account>) -> Answer<Frame> {
        let laboratory = laboratories::store::find(tx).await?.content;
        let slug = self.lab.slug();
        Ok(Frame {
            zone: laboratory.time_zone.parse().unwrap_or(Tz::UTC),
            laboratory: laboratory.name,
            slug: slug.to_owned(),
            person: account
                .map(|account| account.printed_name.clone())
                .unwrap_or_default(),
            leads: WORDS
                .iter()
                .filter(|(_, action)| self.may(*action))
                .map(|(lead, _)| Lead {
                    word: lead,
                    href: format!("/{slug}/{}", lead.replace(' ', "-")),
                    here: *lead == word,
                })
                .collect(),
        })
    }
}
