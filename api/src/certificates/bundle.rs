//! What is handed out: the bundle, made of certificate, record, act and proof; and the PDF set
//! from it.
//!
//! Promises the same bytes each time, until a disclosure is erased: the proof is made once, under
//! the first checkpoint over the act, and kept. Where witnesses are asked, it is kept once enough
//! of them cosigned a checkpoint; until then what is handed out has the proof without them. Hands
//! out nothing before there is a checkpoint.

use super::{
    pdf::{RENDERER, render},
    store,
};
use crate::{
    app::App,
    config::Config,
    error::{Answer, ApiError},
    identity::{LaboratoryKey, Permit},
    ledger::{self, Place},
};
use actix_web::web;
use diesel_async::AsyncPgConnection;
use domain::{
    id::LaboratoryId,
    ledger::{bundle::Bundle, witness::Policy},
};
use uuid::Uuid;

/// Where the trust file of a laboratory is served.
pub(super) fn trust_address(public_url: &str, laboratory: LaboratoryId) -> String {
    format!("{public_url}/log/{laboratory}/trust.json")
}

/// The proof of a certificate's act.
pub(super) struct Proof {
    pub(super) text: String,
    /// Whether it is the kept one.
    is_kept: bool,
    /// Whether no better one will come.
    is_final: bool,
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
        policy: Option<&Policy>,
    ) -> Answer<Option<Proof>> {
        if let Some(text) = self.proof.clone() {
            let kept = Proof {
                text,
                is_kept: true,
                is_final: true,
            };
            return Ok(Some(kept));
        }
        let (number, entry) = (laboratory.number, &self.place.entry);
        let made = ledger::first_proof(connection, number, entry, policy).await?;
        Ok(made.map(|made| Proof {
            text: made.proof.file(),
            is_kept: false,
            is_final: made.is_final,
        }))
    }

    /// What is handed out; nothing before a checkpoint covers the act.
    ///
    /// # Errors
    /// As [`Stored::proof`].
    pub(super) async fn handed_out(
        self,
        connection: &mut AsyncPgConnection,
        laboratory: &LaboratoryKey,
        config: &Config,
    ) -> Answer<Option<HandedOut>> {
        let policy = config.anchors.policy.as_ref();
        let Some(proof) = self.proof(connection, laboratory, policy).await? else {
            return Ok(None);
        };
        let bundle = Bundle {
            act: self.place.entry,
            act_path: self.place.path,
            certificate: self.certificate.clone(),
            position: self.place.position,
            proof: Some(proof.text.clone()),
            record: self.place.record,
            trust: trust_address(&config.public_url, laboratory.id),
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
            is_final: proof.is_final,
            to_keep: (proof.is_final && !proof.is_kept).then_some(proof.text),
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
    is_final: bool,
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
        if !self.is_final {
            return Ok(pdf);
        }
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
