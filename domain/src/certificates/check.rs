//! What keeps a certificate from being issued.
//!
//! Promises to refuse whatever ISO/IEC 17025:2017 7.8.2, 7.8.3, 7.8.5, 7.8.6 and 7.8.8 ask for and
//! is not there, results without a release by a second person, results of another lot, and
//! arithmetic that does not come out. It is asked before issue, with nothing erased yet.

mod result;

use super::{Certificate, CertifiedResult, Meaning, SamplingBy};
use crate::analytes::Analyte;
use crate::id::{ResultId, RunId};
use result::{check_decision, check_release, check_run, check_traceable, check_value};

/// Why a certificate cannot be issued.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum CertificateError {
    /// Something that the standard asks for is absent or blank.
    #[error("{pointer} is missing: ISO/IEC 17025 {clause} asks for it")]
    Missing {
        /// JSON pointer of the member.
        pointer: String,
        /// The clause.
        clause: &'static str,
    },
    /// A result that nobody released.
    #[error("result {result} ({}) has not been released", analyte.name())]
    Unreleased {
        /// The result.
        result: ResultId,
        /// Its analyte.
        analyte: Analyte,
    },
    /// Released by the person who ran it.
    #[error("result {result} was released by the analyst of run {run}")]
    ReleasedByAnalyst {
        /// The result.
        result: ResultId,
        /// The run.
        run: RunId,
    },
    /// A result or sample that belongs to another lot.
    #[error("{pointer} belongs to another lot than the certificate's")]
    AnotherLot {
        /// JSON pointer of the result or item.
        pointer: String,
    },
    /// A result names a sample or procedure that the certificate does not describe.
    #[error("{pointer} is not described in the certificate")]
    NotDescribed {
        /// JSON pointer of the name.
        pointer: String,
    },
    /// The volumes do not make the factor, or the reading and factor not the concentration.
    #[error("run {run}: {what}")]
    Arithmetic {
        /// The run.
        run: RunId,
        /// What does not come out, with the numbers.
        what: String,
    },
    /// Value, finding and runs of a result contradict each other.
    #[error("result {result}: {what}")]
    Contradiction {
        /// The result.
        result: ResultId,
        /// What contradicts what.
        what: String,
    },
    /// A date lies before one that it must follow.
    #[error("{later} lies before {earlier}")]
    OutOfOrder {
        /// JSON pointer of the date that should be first.
        earlier: String,
        /// JSON pointer of the date that should follow.
        later: String,
    },
}

impl Certificate {
    /// Whether it may be issued.
    ///
    /// # Errors
    /// The first [`CertificateError`] found.
    ///
    /// ```
    /// use domain::certificates::{Certificate, CertificateError};
    /// let text = include_str!("../../../tests/vectors/certificate_payload.json");
    /// let mut certificate: Certificate = serde_json::from_str(text)?;
    /// assert_eq!(certificate.check(), Ok(()));
    /// certificate.results.clear();
    /// assert!(matches!(certificate.check(), Err(CertificateError::Missing { .. })));
    /// # Ok::<(), serde_json::Error>(())
    /// ```
    pub fn check(&self) -> Result<(), CertificateError> {
        self.check_document()?;
        self.check_items()?;
        self.check_sampling()?;
        for (index, result) in self.results.iter().enumerate() {
            self.check_result(&format!("/results/{index}"), result)?;
        }
        self.check_amendment()
    }

    fn check_document(&self) -> Result<(), CertificateError> {
        let issuer = &self.issuer;
        present("/title", "7.8.2.1 a", Some(&self.title))?;
        present("/issuer/name", "7.8.2.1 b", issuer.name.as_deref())?;
        present("/issuer/address", "7.8.2.1 b", issuer.address.as_deref())?;
        present(
            "/issuer/site/name",
            "7.8.2.1 c",
            issuer.site.name.as_deref(),
        )?;
        present("/number", "7.8.2.1 d", Some(&self.number))?;
        present("/customer/name", "7.8.2.1 e", self.customer.name.as_deref())?;
        if self.customer.contact.is_none() {
            present(
                "/customer/address",
                "7.8.2.1 e",
                self.customer.address.as_deref(),
            )?;
        }
        present(
            "/lot/commodity/name",
            "7.8.2.1 g",
            Some(&self.lot.commodity.name),
        )?;
        present("/check_address", "7.8.2.1 d", Some(&self.check_address))?;
        some("/items", "7.8.2.1 g", &self.items)?;
        some("/procedures", "7.8.2.1 f", &self.procedures)?;
        some("/results", "7.8.2.1 m", &self.results)?;
        some("/statements", "7.8.2.1 l", &self.statements)?;
        let authorised = self.signatures.iter().any(|signature| {
            signature.meaning == Meaning::Issued && !blank(signature.by.name.as_deref())
        });
        if !authorised {
            return Err(missing("/signatures", "7.8.2.1 o"));
        }
        Ok(())
    }

    fn check_items(&self) -> Result<(), CertificateError> {
        for (index, item) in self.items.iter().enumerate() {
            let pointer = format!("/items/{index}");
            if item.lot != self.lot.id {
                return Err(CertificateError::AnotherLot { pointer });
            }
            present(&format!("{pointer}/code"), "7.8.2.1 g", Some(&item.code))?;
            let condition = item.condition.as_deref();
            present(&format!("{pointer}/condition"), "7.8.2.1 g", condition)?;
            if self
                .sampling
                .ended_at
                .is_some_and(|ended| ended > item.received_at)
            {
                return Err(out_of_order(
                    "/sampling/ended_at",
                    &format!("{pointer}/received_at"),
                ));
            }
        }
        Ok(())
    }

    fn check_sampling(&self) -> Result<(), CertificateError> {
        let sampling = &self.sampling;
        if let (Some(began), Some(ended)) = (sampling.began_at, sampling.ended_at)
            && began > ended
        {
            return Err(out_of_order("/sampling/began_at", "/sampling/ended_at"));
        }
        match sampling.taken_by {
            SamplingBy::Laboratory => {
                present("/sampling/plan", "7.8.5 d", sampling.plan.as_deref())?;
                present("/sampling/place", "7.8.5 c", sampling.place.as_deref())?;
                let by = sampling
                    .by
                    .as_ref()
                    .and_then(|person| person.name.as_deref());
                present("/sampling/by/name", "7.8.5", by)?;
                if sampling.began_at.is_none() {
                    return Err(missing("/sampling/began_at", "7.8.5 a"));
                }
                Ok(())
            }
            SamplingBy::Customer | SamplingBy::ThirdParty => Ok(()),
        }
    }

    fn check_result(
        &self,
        pointer: &str,
        result: &CertifiedResult,
    ) -> Result<(), CertificateError> {
        if result.lot != self.lot.id {
            return Err(CertificateError::AnotherLot {
                pointer: pointer.to_owned(),
            });
        }
        let not_described = |member: &str| CertificateError::NotDescribed {
            pointer: format!("{pointer}/{member}"),
        };
        let item = self.items.iter().find(|item| item.sample == result.sample);
        let item = item.ok_or_else(|| not_described("sample"))?;
        if !self
            .procedures
            .iter()
            .any(|procedure| procedure.id == result.procedure)
        {
            return Err(not_described("procedure"));
        }
        for (member, text) in [
            ("analyte_name", &result.analyte_name),
            ("reported", &result.reported),
            ("basis", &result.basis),
            ("rounding", &result.rounding),
        ] {
            present(&format!("{pointer}/{member}"), "7.8.2.1 m", Some(text))?;
        }
        some(&format!("{pointer}/ranges"), "7.8.3.1 a", &result.ranges)?;
        some(&format!("{pointer}/runs"), "7.8.2.1 m", &result.runs)?;
        self.check_order_of_work(pointer, result, item.received_at)?;
        check_release(result)?;
        for (index, run) in result.runs.iter().enumerate() {
            check_traceable(&format!("{pointer}/runs/{index}"), run)?;
            check_run(run)?;
        }
        check_value(result)?;
        for (index, decision) in result.decisions.iter().enumerate() {
            check_decision(&format!("{pointer}/decisions/{index}"), result, decision)?;
        }
        Ok(())
    }

    fn check_order_of_work(
        &self,
        pointer: &str,
        result: &CertifiedResult,
        received_at: crate::time::Moment,
    ) -> Result<(), CertificateError> {
        if result.began_at < received_at {
            return Err(out_of_order(
                "the sample's receipt",
                &format!("{pointer}/began_at"),
            ));
        }
        if result.ended_at < result.began_at {
            return Err(out_of_order(
                &format!("{pointer}/began_at"),
                &format!("{pointer}/ended_at"),
            ));
        }
        if result.ended_at.utc().timestamp() > self.iat {
            return Err(out_of_order(&format!("{pointer}/ended_at"), "/iat"));
        }
        Ok(())
    }

    fn check_amendment(&self) -> Result<(), CertificateError> {
        match (&self.replaces, &self.amendment) {
            (None, None) => Ok(()),
            (Some(_), None) => Err(missing("/amendment", "7.8.8.1")),
            (None, Some(_)) => Err(missing("/replaces", "7.8.8.3")),
            (Some(_), Some(amendment)) => {
                present("/amendment/reason", "7.8.8.1", amendment.reason.as_deref())?;
                some("/amendment/changes", "7.8.8.1", &amendment.changes)
            }
        }
    }
}

fn blank(text: Option<&str>) -> bool {
    text.is_none_or(|text| text.trim().is_empty())
}

fn missing(pointer: &str, clause: &'static str) -> CertificateError {
    CertificateError::Missing {
        pointer: pointer.to_owned(),
        clause,
    }
}

fn present(
    pointer: &str,
    clause: &'static str,
    text: Option<&str>,
) -> Result<(), CertificateError> {
    if blank(text) {
        Err(missing(pointer, clause))
    } else {
        Ok(())
    }
}

fn some<T>(pointer: &str, clause: &'static str, list: &[T]) -> Result<(), CertificateError> {
    if list.is_empty() {
        Err(missing(pointer, clause))
    } else {
        Ok(())
    }
}

fn out_of_order(earlier: &str, later: &str) -> CertificateError {
    CertificateError::OutOfOrder {
        earlier: earlier.to_owned(),
        later: later.to_owned(),
    }
}
