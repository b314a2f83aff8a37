//! What is handed out: the bundle, made of certificate, record, act and proof; and the PDF set
//! from it.
//!
//! Promises the same bytes each time, until a disclosure is erased: the proof is made once, under
//! the first checkpoint over the act, and kept. Hands out nothing before there is that checkpoint.

use super::{
    pdf::{RENDERER, render},
    store,
};
use crate::{
    app::App,
    error::{Answer, ApiError},
    identity::{LaboratoryKey, Permit},
    ledger::{self, Place},
};
use actix_web::web;
use diesel_async::AsyncPgConnection;
use domain::{id::LaboratoryId, ledger::bundle::Bundle};
use uuid::Uuid;

/// Where the trust file of a laboratory is served.
pub(super) fn trust_address(public_url: &str, laboratory: LaboratoryId) -> String {
    format!("{public_url}/log/{laboratory}/trust.json")
}

/// What is stored of a certificate.
pub(super) struct Stored {
    pub(super) id: Uuid,
    pub(super) number: String,
    /// The SD-JWT with the disclosures that are left.
    pub(super) certificate: String,
    /// Where its record stands.
    pub(super) place: Place,
    /// The kept proof.
    pub(super) proof: Option<String>,
    /// What made the kept PDF.
    pub(super) renderer: Option<String>,
    /// The kept PDF.
    pub(super) pdf: Option<Vec<u8>>,
}

impl Stored {
    /// The proof of its act: the kept one, or one made now; none before a checkpoint covers it.
    ///
    /// # Errors
    /// [`ApiError::Internal`] where the stored hashes don't lead from the act to the checkpoint.
    pub(super) async fn proof(
        &self,
        connection: &mut AsyncPgConnection,
        laboratory: &LaboratoryKey,
    ) -> Answer<Option<String>> {
        if self.proof.is_some() {
            return Ok(self.proof.clone());
        }
        let made = ledger::first_proof(connection, laboratory.number, &self.place.entry).await?;
        Ok(made.map(|proof| proof.file()))
    }

    /// What is handed out; nothing before a checkpoint covers the act.
    ///
    /// # Errors
    /// As [`Stored::proof`].
    pub(super) async fn handed_out(
        self,
        connection: &mut AsyncPgConnection,
        laboratory: &LaboratoryKey,
        public_url: &str,
    ) -> Answer<Option<HandedOut>> {
        let Some(proof) = self.proof(connection, laboratory).await? else {
            return Ok(None);
        };
        let made_now = self.proof.is_none();
        let bundle = Bundle {
            act: self.place.entry,
            act_path: self.place.path,
            certificate: self.certificate.clone(),
            position: self.place.position,
            proof: Some(proof.clone()),
            record: self.place.record,
            trust: trust_address(public_url, laboratory.id),
        };
        Ok(Some(HandedOut {
            id: self.id,
            number: self.number,
            certificate: self.certificate,
            bundle: bundle.to_bytes().map_err(ApiError::internal)?,
            // Another renderer's is made again.
            pdf: self
                .pdf
                .filter(|_| self.renderer.as_deref() == Some(RENDERER)),
            to_keep: made_now.then_some(proof),
        }))
    }
}

/// A certificate's bundle, and its PDF where one is kept.
pub(super) struct HandedOut {
    id: Uuid,
    pub(super) number: String,
    certificate: String,
    pub(super) bundle: Vec<u8>,
    pdf: Option<Vec<u8>>,
    to_keep: Option<String>,
}

impl HandedOut {
    /// Keeps the proof, where it was made just now. Where it cannot be kept it is made again, the
    /// same: whoever asks gets it all the same.
    pub(super) async fn keep_proof(&self, app: &App, permit: &Permit) {
        let Some(proof) = &self.to_keep else {
            return;
        };
        let kept = app
            .db
            .write(permit, async |tx| {
                // It follows from what is recorded: nothing to record.
                tx.draft.nothing_changed();
                store::keep_proof(tx, self.id, proof).await
            })
            .await;
        if let Err(fault) = kept {
            tracing::warn!(certificate = %self.id, %fault, "a proof was made and not kept");
        }
    }

    /// The PDF: the kept one, or one that is set now, away from the threads that serve, and kept.
    ///
    /// # Errors
    /// [`ApiError::Internal`] where it cannot be set.
    pub(super) async fn pdf(self, app: &App, permit: &Permit) -> Answer<Vec<u8>> {
        if let Some(pdf) = self.pdf {
            return Ok(pdf);
        }
        let bundle = self.bundle;
        let pdf = web::block(move || render(&bundle))
            .await
            .map_err(ApiError::internal)?
            .map_err(ApiError::internal)?;
        let kept = app
            .db
            .write(permit, async |tx| {
                // A copy that can be made again is nothing to record.
                tx.draft.nothing_changed();
                store::keep_pdf(tx, self.id, &self.certificate, RENDERER, &pdf).await
            })
            .await;
        if let Err(fault) = kept {
            tracing::warn!(certificate = %self.id, %fault, "a PDF was made and not kept");
        }
        Ok(pdf)
    }
}
